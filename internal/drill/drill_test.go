package drill_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"text/tabwriter"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/drill/drilltest"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

// full reports whether drills run at their full size.
var full = drilltest.Full()

// times gives the size of a drill.
func times(short, long int) int { return drilltest.Times(short, long) }

// workerEnv makes this binary a worker on the database it names, not a test.
const workerEnv = "RIBDESK_DRILL_WORKER"

func TestMain(m *testing.M) {
	if url := os.Getenv(workerEnv); url != "" {
		if err := worker(context.Background(), url); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	code := m.Run()
	figures.print()
	if dir := built.dir; dir != "" {
		_ = os.RemoveAll(dir)
	}
	os.Exit(code)
}

// figures are what the drills found, for the table at the end.
var figures report

type report struct {
	mu   sync.Mutex
	rows [][3]string
}

// add notes a figure beside what it should be.
func (r *report) add(drill, bar, format string, args ...any) {
	r.mu.Lock()
	defer r.mu.Unlock()
	found := fmt.Sprintf(format, args...)
	r.rows = append(r.rows, [3]string{drill, found, bar})
	if err := drilltest.Keep(drill, found, bar); err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
}

func (r *report) print() {
	if len(r.rows) == 0 || !full && !testing.Verbose() {
		return
	}
	w := tabwriter.NewWriter(os.Stdout, 0, 4, 2, ' ', 0)
	fmt.Fprintln(w, "DRILL\tFOUND\tBAR")
	for _, row := range r.rows {
		fmt.Fprintln(w, strings.Join(row[:], "\t"))
	}
	_ = w.Flush()
}

// built is the program under drill, built once.
var built struct {
	once sync.Once
	dir  string
	err  error
}

func program(t testing.TB) string {
	t.Helper()
	built.once.Do(func() {
		if built.dir, built.err = os.MkdirTemp("", "drill"); built.err != nil {
			return
		}
		out, err := exec.Command("go", "build", "-o", filepath.Join(built.dir, "ribdesk"), "ribdesk/cmd/ribdesk").CombinedOutput()
		if err != nil {
			built.err = fmt.Errorf("%w: %s", err, out)
		}
	})
	if built.err != nil {
		t.Fatal(built.err)
	}
	return filepath.Join(built.dir, "ribdesk")
}

// furnished is the database of a furnished shop that opened a week ago.
var furnished = sync.OnceValues(func() (image []byte, err error) {
	dir, err := os.MkdirTemp("", "drill")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	path := filepath.Join(dir, "shop.db")
	if err := furnish(context.Background(), path); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

func furnish(ctx context.Context, url string) error {
	s, err := store.Open(ctx, url)
	if err != nil {
		return err
	}
	opening := demo.At(time.Now().AddDate(0, 0, -7))
	clock := demo.NewClock(opening)
	_, err = demo.Furnish(ctx, desk.New(s, desk.Options{Now: clock.Now, Random: demo.Random()}), clock, opening)
	return errors.Join(err, s.Close())
}

// sqliteShop gives the file of a furnished shop in a folder.
func sqliteShop(t testing.TB, dir string) string {
	t.Helper()
	image, err := furnished()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "shop.db")
	if err := os.WriteFile(path, image, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// postgresShop gives the URL of a furnished shop.
func postgresShop(t testing.TB) string {
	t.Helper()
	url := storetest.PostgresURL(t)
	if err := furnish(t.Context(), url); err != nil {
		t.Fatal(err)
	}
	return url
}

// onBoth runs a drill on both databases.
func onBoth(t *testing.T, drill func(t *testing.T, kind, url string)) {
	t.Run("sqlite", func(t *testing.T) { drill(t, "sqlite", sqliteShop(t, t.TempDir())) })
	t.Run("postgres", func(t *testing.T) { drill(t, "postgres", postgresShop(t)) })
}

// open gives a desk on a database.
func open(t testing.TB, url string, o desk.Options) (*desk.Desk, *store.Store) {
	t.Helper()
	s, err := store.Open(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return desk.New(s, o), s
}

// verify checks every invariant of a database.
func verify(t testing.TB, url string) {
	t.Helper()
	s, err := store.Open(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	err = desk.New(s, desk.Options{}).Verify(t.Context(), func(c desk.Checked) {
		for _, w := range c.Wrong {
			t.Errorf("%s: %s", c.Name, w)
		}
	})
	if err != nil {
		t.Error(err)
	}
}

// settings is the environment without what only drills know, which the program
// would refuse.
func settings() []string {
	return slices.DeleteFunc(os.Environ(), func(variable string) bool {
		name, _, _ := strings.Cut(variable, "=")
		return slices.Contains([]string{"RIBDESK_DRILL", "RIBDESK_SOAK", "RIBDESK_SEED", "RIBDESK_GUIDE", drilltest.FiguresEnv}, name)
	})
}

// server is a running `ribdesk serve`.
type server struct {
	t    testing.TB
	cmd  *exec.Cmd
	url  string
	log  *lockedBuffer
	done chan error
}

// serve starts a server and waits until it is ready; before, if not empty, is the
// command that it runs under.
func serve(t testing.TB, db string, port int, before ...string) *server {
	t.Helper()
	args := append(before, program(t), "serve", "--db", db, "--addr", fmt.Sprintf("127.0.0.1:%d", port), "--log-level", "warn")
	s := &server{t: t, cmd: exec.Command(args[0], args[1:]...), url: fmt.Sprintf("http://127.0.0.1:%d", port), log: &lockedBuffer{}, done: make(chan error, 1)}
	s.cmd.Stdout, s.cmd.Stderr, s.cmd.Env = s.log, s.log, settings()
	s.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() { s.done <- s.cmd.Wait() }()
	t.Cleanup(func() { s.kill() })
	s.await()
	return s
}

// await waits until the server says that it is ready.
func (s *server) await() {
	s.t.Helper()
	c := newClient(s.url)
	for deadline := time.Now().Add(20 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		if status, err := c.status("/readyz"); err == nil && status == 200 {
			return
		}
		if time.Now().After(deadline) {
			s.t.Fatalf("not ready: %s", s.log)
		}
	}
}

// kill ends the server and all below it as a power switch would, and waits.
func (s *server) kill() {
	_ = syscall.Kill(-s.cmd.Process.Pid, syscall.SIGKILL)
	s.wait()
}

func (s *server) wait() {
	err := <-s.done
	s.done <- err
}

type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}
