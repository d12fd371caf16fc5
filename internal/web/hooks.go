package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"ribdesk/internal/desk"
)

const (
	hookPause = 3 * time.Second // between looks for something to tell
	hookWait  = 10 * time.Second
)

// hookClient follows no redirect: what is told is for the address that the owner
// gave.
var hookClient = &http.Client{Timeout: hookWait, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}

// TellHooks tells the owner's addresses of what happens, until ctx ends. Any
// number of processes may do this on one database.
func (s *Server) TellHooks(ctx context.Context) {
	tick := time.NewTicker(hookPause)
	defer tick.Stop()
	for {
		if err := s.desk.TellHooks(ctx, sendHook); err != nil && ctx.Err() == nil {
			s.log.Error("telling hooks failed", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// sendHook sends one message with the headers of Standard Webhooks (from memory);
// any status of class 2xx takes it.
func sendHook(ctx context.Context, m desk.HookMessage) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, m.URL, bytes.NewReader(m.Body))
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("User-Agent", "Ribdesk")
	r.Header.Set("webhook-id", m.ID)
	r.Header.Set("webhook-timestamp", m.Timestamp)
	r.Header.Set("webhook-signature", m.Signature)
	answer, err := hookClient.Do(r)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, 64<<10)) // so that the connection serves again
	if answer.StatusCode/100 != 2 {
		return fmt.Errorf("answered %d", answer.StatusCode)
	}
	return nil
}

// hookFields are the form for one more address.
type hookFields struct {
	URL   Field
	Kinds []*Field // one for each kind of event
}

func newHookFields() hookFields {
	f := hookFields{URL: Field{Name: "url", Label: "Address", Kind: "url", Auto: "off", Help: "It begins with https://."}}
	for _, kind := range desk.HookKinds() {
		f.Kinds = append(f.Kinds, &Field{Name: "tell." + strings.ReplaceAll(kind, ".", "-"), Label: kind, Kind: "checkbox", Optional: true})
	}
	return f
}

func doAddHook(v *visit) error {
	p, err := v.newProgramsPage()
	if err != nil {
		return err
	}
	address := v.text(&p.Hook.URL)
	var kinds []string
	for _, f := range p.Hook.Kinds {
		if v.yes(f) {
			kinds = append(kinds, f.Label)
		}
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	secret, err := v.desk.AddHook(v.ctx(), v.actor, address, kinds)
	if err != nil {
		return v.again(p, err)
	}
	fresh, err := v.newProgramsPage()
	if err != nil {
		return err
	}
	fresh.Secret, fresh.Of = secret, address
	return v.show(fresh)
}

func doTurnHookOff(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	if err := v.desk.TurnHookOff(v.ctx(), v.actor, id); err != nil {
		return err
	}
	return v.redirectSaying("/shop/programs", "It is told nothing any more.")
}
