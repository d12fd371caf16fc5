package drill_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// The people of the drills.
var (
	boss   = party.Actor{PersonID: 1, Name: "Demo Owner", Role: party.Owner}
	clerk  = party.Actor{PersonID: 2, Name: "Demo Counter", Role: party.Counter}
	keeper = party.Actor{PersonID: 5, Name: "Demo Bookkeeper", Role: party.Bookkeeper}
	yes    = desk.Yes{Name: "Wren Sparrow", Title: "owner", Consent: true, Method: "counter"}
)

// firm is a customer of the furnished shop.
const firm = 1

func shelfOrder() order.Order {
	return order.Order{CustomerID: firm, Fulfil: order.PickUp, Contact: order.Contact{Name: "Wren Sparrow"},
		Lines: []order.Line{{Kind: order.Accessory, Code: "SEALANT", Count: 1}}}
}

// sell takes an order of shelf goods from the counter to the money in the till,
// and tells of each record once it is kept.
func sell(ctx context.Context, d *desk.Desk, kept func(kind, number string)) error {
	o, err := d.TakeOrder(ctx, clerk, shelfOrder())
	if err != nil {
		return err
	}
	kept("order", o.Number)
	q, err := d.QuoteOrder(ctx, clerk, o.ID, o.Version, nil)
	if err != nil {
		return err
	}
	if o, err = d.AcceptOrder(ctx, clerk, o.ID, q.Order.Version, yes); err != nil {
		return err
	}
	if _, err = d.PickFromShelf(ctx, clerk, o.ID); err != nil {
		return err
	}
	if err := checkOff(ctx, d, o.ID); err != nil {
		return err
	}
	if _, err = d.PickUp(ctx, clerk, o.ID, desk.HandOver{Key: "k" + o.Number, Receiver: "Wren"}); err != nil {
		return err
	}
	bill, err := d.IssueInvoice(ctx, keeper, desk.InvoiceAsk{OrderID: o.ID})
	if err != nil {
		return err
	}
	kept("invoice", bill.Invoice.Number)
	paid, err := d.RecordPayment(ctx, keeper, desk.MoneyIn{CustomerID: firm, Amount: bill.Invoice.AmountDue, Method: books.ByCheck, Reference: o.Number})
	if err != nil {
		return err
	}
	kept("payment", paid.Payment.Payment.Number)
	return nil
}

func checkOff(ctx context.Context, d *desk.Desk, id int64) error {
	f, err := d.OrderFile(ctx, boss, id)
	if err != nil {
		return err
	}
	for _, b := range f.Bundles {
		if _, err := d.CheckOff(ctx, clerk, id, b.Code); err != nil {
			return err
		}
	}
	return nil
}

// worker sells until it is killed, and says on standard output what is kept.
func worker(ctx context.Context, url string) error {
	s, err := store.Open(ctx, url)
	if err != nil {
		return err
	}
	defer s.Close()
	d := desk.New(s, desk.Options{})
	for {
		err := sell(ctx, d, func(kind, number string) { fmt.Printf("%s %s\n", kind, number) })
		if err != nil && !fault.Is(err, fault.Busy) {
			return err
		}
	}
}

// process is a worker of its own, and what it said was kept.
type process struct {
	cmd  *exec.Cmd
	errs *lockedBuffer
	mu   sync.Mutex
	said []string
	done chan struct{}
}

func startWorker(t testing.TB, url string) *process {
	t.Helper()
	p := &process{cmd: exec.Command(os.Args[0]), errs: &lockedBuffer{}, done: make(chan struct{})}
	p.cmd.Env = append(os.Environ(), workerEnv+"="+url)
	p.cmd.Stderr = p.errs
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		defer close(p.done)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			p.mu.Lock()
			p.said = append(p.said, lines.Text())
			p.mu.Unlock()
		}
	}()
	return p
}

// await waits until the worker has said that a record of a kind is kept.
func (p *process) await(t testing.TB, kind string) {
	t.Helper()
	for deadline := time.Now().Add(20 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		p.mu.Lock()
		said := slices.ContainsFunc(p.said, func(line string) bool { return strings.HasPrefix(line, kind+" ") })
		p.mu.Unlock()
		switch {
		case said:
			return
		case time.Now().After(deadline):
			t.Fatalf("the worker kept no %s: %s", kind, p.errs)
		}
	}
}

// kill ends the worker in the middle of whatever it does and gives what it had
// said until then.
func (p *process) kill(t testing.TB) []string {
	t.Helper()
	if err := p.cmd.Process.Kill(); err != nil && !errors.Is(err, os.ErrProcessDone) {
		t.Fatal(err)
	}
	<-p.done
	_ = p.cmd.Wait()
	if said := p.errs.String(); said != "" {
		t.Errorf("the worker gave up: %s", strings.TrimSpace(said))
	}
	return p.said
}
