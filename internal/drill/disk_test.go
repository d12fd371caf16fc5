package drill_test

import (
	"errors"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// F2: under load each acknowledged write was synced to the disk. A killed process
// can't show this; the count of system calls does.
func TestSyncs(t *testing.T) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		missing(t, "strace isn't installed: syncs aren't counted")
	}
	dir := t.TempDir()
	trace := filepath.Join(dir, "syncs")
	s := serve(t, sqliteShop(t, dir), freePort(t), strace, "-f", "-qq", "--signal=none", "-e", "trace=fsync,fdatasync", "-o", trace)
	c := signIn(t, s.url, party.Counter)
	before := syncs(t, trace)
	kept := 0
	for end := time.Now().Add(time.Duration(times(500, 5000)) * time.Millisecond); time.Now().Before(end); kept++ {
		if _, err := c.takeOrder(""); err != nil {
			t.Fatal(err)
		}
	}
	s.kill()
	if n := syncs(t, trace) - before; n < kept {
		t.Errorf("%d syncs for %d acknowledged orders", n, kept)
	} else {
		figures.add("F2 syncs", "at least one a write", "%d syncs for %d acknowledged orders", n, kept)
	}
}

func syncs(t *testing.T, trace string) int {
	t.Helper()
	text, err := os.ReadFile(trace)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Count(string(text), "sync(") // begun; resumed lines name it otherwise
}

// missing skips a drill where the machine can't do it; CI must be able to.
func missing(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("CI") != "" && full {
		t.Fatal(why)
	}
	t.Skip(why)
}

// F3: the disk fills up under load. Nothing is said to be kept that isn't, pages
// still open, and when there is room again the desk goes on by itself.
func TestDiskFull(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=12m"); err != nil {
		missing(t, "a small disk can't be mounted here (that takes root): "+err.Error())
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	db := sqliteShop(t, dir)
	s := serve(t, db, freePort(t))
	c := signIn(t, s.url, party.Counter)
	first, err := c.takeOrder("")
	if err != nil {
		t.Fatal(err)
	}
	ballast := filepath.Join(dir, "ballast")
	fill(t, ballast)
	kept, refused := []int64{first}, 0
	for range times(200, 2000) {
		a, err := c.post("/counter", asking("keep"))
		if err != nil {
			t.Fatal(err)
		}
		switch a.status {
		case http.StatusSeeOther:
			kept = append(kept, 0)
		case http.StatusServiceUnavailable, http.StatusInsufficientStorage:
			refused++
		default:
			t.Fatalf("on a full disk: %d %.300s", a.status, a.body)
		}
		if refused >= 20 {
			break
		}
	}
	if refused == 0 {
		t.Fatal("the disk never got full: the drill shows nothing")
	}
	if status, err := c.status("/orders"); err != nil || status != 200 {
		t.Errorf("reading on a full disk: %d, %v", status, err)
	}
	time.Sleep(readyHolds)
	if status, err := c.status("/readyz"); err != nil || status != http.StatusServiceUnavailable {
		t.Errorf("on a full disk the server says of itself: %d, %v", status, err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	time.Sleep(readyHolds)
	if status, err := c.status("/readyz"); err != nil || status != http.StatusOK {
		t.Errorf("ready again with room: %d, %v", status, err)
	}
	if _, err := c.takeOrder(""); err != nil {
		t.Errorf("with room again: %v", err)
	}
	s.kill()
	if err := store.CheckFile(t.Context(), db); err != nil {
		t.Error(err)
	}
	verify(t, db)
	figures.add("F3 disk full", "refused, reads go on, 0 corrupt", "%d kept, then %d refused with 503; reads 200, not ready; ready and kept again with room; verify clean", len(kept)+1, refused)
}

// readyHolds is how long the server may go on saying what it found last.
const readyHolds = 1100 * time.Millisecond

// fill writes until the disk is full.
func fill(t *testing.T, path string) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for size := 1 << 20; size >= 4096; {
		if _, err := f.Write(make([]byte, size)); errors.Is(err, syscall.ENOSPC) {
			size /= 2
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// F3: a file that can't be written any more.
func TestReadOnly(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=32m"); err != nil {
		missing(t, "a disk can't be mounted read-only here (that takes root): "+err.Error())
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	db := sqliteShop(t, dir)
	d, s := open(t, db, desk.Options{})
	if _, err := d.TakeOrder(t.Context(), clerk, shelfOrder()); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("", dir, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		missing(t, "the disk can't be made read-only: "+err.Error())
	}
	out, err := ribdesk(t, "serve", "--db", db, "--addr", "127.0.0.1:0").CombinedOutput()
	if err == nil || strings.Count(strings.TrimSpace(string(out)), "\n") > 0 || !strings.Contains(string(out), "RIBDESK_DB") {
		t.Errorf("serving from a read-only disk: %v, %s", err, out)
	}
	figures.add("F3 read-only", "clear refusal", "refused to start: %s", strings.TrimSpace(string(out)))
}

// F5: each order is sent three times, two of them at once, with the server killed
// in between: each is there once, and all three answers are the same.
func TestResends(t *testing.T) {
	url, port := sqliteShop(t, t.TempDir()), freePort(t)
	s := serve(t, url, port)
	c := signIn(t, s.url, party.Counter)
	n, kills := times(20, 1000), 0
	made := map[int64]bool{}
	for i := range n {
		k := key()
		var ids [2]int64
		var pair sync.WaitGroup
		for j := range ids {
			pair.Go(func() { ids[j], _ = c.takeOrder(k) })
		}
		if i%10 == 5 {
			time.Sleep(time.Duration(i%7) * time.Millisecond)
			s.kill()
			kills++
		}
		pair.Wait()
		if i%10 == 5 {
			s = serve(t, url, port)
		}
		last, err := c.takeOrder(k)
		if err != nil {
			t.Fatal(err)
		}
		for _, id := range ids {
			if id != 0 && id != last {
				t.Errorf("one order was answered as %d and as %d", id, last)
			}
		}
		if made[last] {
			t.Errorf("two orders are %d", last)
		}
		made[last] = true
	}
	d, _ := open(t, url, desk.Options{})
	counts, err := d.CountOrders(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	there := 0
	for _, count := range counts {
		there += count
	}
	if there != n {
		t.Errorf("%d orders, %d were sent three times each", there, n)
	}
	figures.add("F5 resends", "each exactly once", "%d orders sent 3 times with %d kills: %d there, equal answers", n, kills, there)
}

// F13: copies taken under load restore, hold everything acknowledged before they
// began, and keep every invariant.
func TestBackups(t *testing.T) {
	dir := t.TempDir()
	db := sqliteShop(t, dir)
	s := serve(t, db, freePort(t))
	c := signIn(t, s.url, party.Counter)
	l := &ledger{}
	stop := make(chan struct{})
	var load sync.WaitGroup
	load.Go(func() {
		for {
			select {
			case <-stop:
				return
			default:
				if id, err := c.takeOrder(""); err == nil {
					l.order(id)
				}
			}
		}
	})
	n := times(2, 50)
	var slowest time.Duration
	for i := range n {
		time.Sleep(50 * time.Millisecond)
		before := l.snapshot()
		copied, restored := filepath.Join(dir, "copy.db"), filepath.Join(dir, "restored.db")
		command(t, "backup", "--db", db, copied)
		start := time.Now()
		command(t, "restore", "--unverified", "--db", restored, copied)
		held := &ledger{orders: before}
		held.check(t, "sqlite", restored)
		slowest = max(slowest, time.Since(start))
		if i == n-1 {
			command(t, "verify", "--db", restored)
		}
		for _, pattern := range []string{"copy.db*", "restored.db*"} {
			files, _ := filepath.Glob(filepath.Join(dir, pattern))
			for _, f := range files {
				_ = os.Remove(f)
			}
		}
	}
	close(stop)
	load.Wait()
	figures.add("F13 backups under load", "each restores, holds all before it", "%d backups while %d orders came in: 0 missing, restored and checked in %d ms at most", n, len(l.orders), slowest.Milliseconds())
}

// ribdesk is the program, to be run.
func ribdesk(t *testing.T, args ...string) *exec.Cmd {
	cmd := exec.Command(program(t), args...)
	cmd.Env = settings()
	return cmd
}

func command(t *testing.T, args ...string) {
	t.Helper()
	if out, err := ribdesk(t, args...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %v, %s", args, err, out)
	}
}

// F14: a signal to stop under load: everything that was begun is answered, all
// that was acknowledged is there, and the process ends in ten seconds.
func TestStopUnderLoad(t *testing.T) {
	for range times(1, 10) {
		db := sqliteShop(t, t.TempDir())
		s := serve(t, db, freePort(t))
		c := signIn(t, s.url, party.Counter)
		l := &ledger{}
		var broken atomic.Int64
		var load sync.WaitGroup
		for range 8 {
			load.Go(func() {
				for {
					id, err := c.takeOrder("")
					switch {
					case err == nil:
						l.order(id)
					case errors.Is(err, syscall.ECONNREFUSED):
						return
					case errors.Is(err, errRefused):
						t.Error(err)
						return
					default: // an idle connection closed under it: nothing was accepted
						broken.Add(1)
						return
					}
				}
			})
		}
		time.Sleep(300 * time.Millisecond)
		start := time.Now()
		if err := s.cmd.Process.Signal(syscall.SIGTERM); err != nil {
			t.Fatal(err)
		}
		s.wait()
		took := time.Since(start)
		load.Wait()
		if took > 10*time.Second || s.cmd.ProcessState.ExitCode() != 0 {
			t.Errorf("ended after %s with %d: %s", took, s.cmd.ProcessState.ExitCode(), s.log)
		}
		d, _ := open(t, db, desk.Options{})
		counts, err := d.CountOrders(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		there := 0
		for _, n := range counts {
			there += n
		}
		if there != len(l.orders) {
			t.Errorf("%d orders are there, %d were acknowledged: a request that was accepted got no answer", there, len(l.orders))
		}
		l.check(t, "sqlite", db)
		figures.add("F14 stop under load", "0 accepted dropped, 10 s", "%d orders acknowledged, %d there, %d connections closed before they were accepted, ended in %d ms", len(l.orders), there, broken.Load(), took.Milliseconds())
	}
}
