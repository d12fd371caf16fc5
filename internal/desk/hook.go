package desk

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Hooks are addresses that are told of events, signed as the open specification
// Standard Webhooks gives it (from memory). The log is the outbox: what is told
// was done, and what was done is told, at least once, in the log's order as far
// as tries succeed. Any number of processes may send; each claims what it sends.

// Hook is one such address.
type Hook struct {
	ID        int64
	URL       string
	Kinds     []string
	Off       bool
	CreatedAt time.Time
	Latest    []store.HookDelivery // the newest first
}

// HookKinds lists what hooks can be told of.
func HookKinds() []string { return slices.Sorted(maps.Values(hookKinds)) }

// hookKinds names events as hooks know them.
var hookKinds = map[store.Happened]string{
	{Action: string(order.Quoted), SubjectKind: "order"}:    "order.quoted",
	{Action: string(order.Accepted), SubjectKind: "order"}:  "order.accepted",
	{Action: string(order.Cut), SubjectKind: "order"}:       "order.cut",
	{Action: string(order.Delivered), SubjectKind: "order"}: "order.delivered",
	{Action: string(order.Cancelled), SubjectKind: "order"}: "order.cancelled",
	{Action: "invoiced", SubjectKind: "invoice"}:            "invoice.issued",
	{Action: "received payment", SubjectKind: "payment"}:    "payment.received",
}

const (
	hookPrefix  = "whsec_"
	mostHooks   = 20
	hookBatch   = 500 // events handed out at once
	hookLatest  = 5
	hookLongest = 500
)

// AddHook tells an address of kinds of events from now on. The secret that signs
// what is sent comes back, to be read once.
func (d *Desk) AddHook(ctx context.Context, actor party.Actor, address string, kinds []string) (secret string, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return "", err
	}
	if err := checkHook(address, kinds); err != nil {
		return "", err
	}
	secret = hookPrefix + base64.StdEncoding.EncodeToString(d.bytes(32))
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		all, err := tx.Hooks()
		if err != nil {
			return err
		}
		if len(all) >= mostHooks {
			return fault.Conflictf("there are %d addresses already", len(all))
		}
		h := store.Hook{URL: address, Secret: secret, Kinds: strings.Join(kinds, " ")}
		if err := tx.AddHook(&h); err != nil {
			return err
		}
		return tx.Log(actor, "added", "hook", h.ID, map[string]any{"url": address, "kinds": kinds})
	})
	return secret, err
}

func checkHook(address string, kinds []string) error {
	var l fault.List
	u, err := url.Parse(address)
	switch {
	case err != nil || u.Host == "" || u.User != nil || len(address) > hookLongest:
		l.Addf("url", "give the whole address, such as https://books.example.com/told")
	case u.Scheme != "https" && !(u.Scheme == "http" && isLoopback(u.Hostname())):
		l.Addf("url", "the address must begin with https://, or anybody on the way could read it")
	}
	if len(kinds) == 0 {
		l.Addf("kinds", "choose what it is told of")
	}
	for _, k := range kinds {
		if !slices.Contains(HookKinds(), k) {
			l.Addf("kinds", "there is no event %q", k)
		}
	}
	return l.Err()
}

func isLoopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Hooks gives all addresses with their newest deliveries. Owners see that.
func (d *Desk) Hooks(ctx context.Context, actor party.Actor) (list []Hook, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		rows, err := tx.Hooks()
		if err != nil {
			return err
		}
		list = nil
		for _, r := range rows {
			h := Hook{ID: r.ID, URL: r.URL, Kinds: strings.Fields(r.Kinds), Off: r.Off, CreatedAt: r.CreatedAt}
			if h.Latest, err = tx.HookDeliveries(r.ID, hookLatest); err != nil {
				return err
			}
			list = append(list, h)
		}
		return nil
	})
	return list, err
}

// TurnHookOff tells an address nothing any more.
func (d *Desk) TurnHookOff(ctx context.Context, actor party.Actor, id int64) error {
	if err := allow(actor, party.Owner); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		h, err := tx.Hook(id)
		if err != nil {
			return err
		}
		if h.Off {
			return fault.Conflictf("it is off already")
		}
		if err := tx.TurnHookOff(id); err != nil {
			return err
		}
		return tx.Log(actor, "turned off", "hook", id, nil)
	})
}

// HookMessage is what is sent to an address.
type HookMessage struct {
	URL       string
	ID        string // the same each time it is sent
	Timestamp string // seconds, as signed
	Signature string
	Body      []byte
}

// TellHooks sends what is due, as workOff does: to all addresses side by side, so
// that one which doesn't answer holds nobody else up for longer than one try.
func (d *Desk) TellHooks(ctx context.Context, send func(context.Context, HookMessage) error) error {
	if err := d.handOutEvents(ctx); err != nil {
		return err
	}
	var hooks []store.Hook
	err := d.store.Read(ctx, func(tx *store.Tx) (err error) {
		hooks, err = tx.Hooks()
		return err
	})
	if err != nil {
		return err
	}
	errs := make([]error, len(hooks))
	var all sync.WaitGroup
	for i, h := range hooks {
		if !h.Off {
			all.Go(func() { errs[i] = workOff(ctx, d, boxOf(h), send) })
		}
	}
	all.Wait()
	return errors.Join(errs...)
}

// boxOf is the outbox of one address.
func boxOf(h store.Hook) outbox[store.HookDelivery, HookMessage] {
	return outbox[store.HookDelivery, HookMessage]{
		due:     func(tx *store.Tx) (store.HookDelivery, bool, error) { return tx.DueHookDelivery(h.ID) },
		fresh:   func(tx *store.Tx, d store.HookDelivery) (store.HookDelivery, error) { return tx.HookDelivery(d.ID) },
		compose: composeHook,
		state:   func(d *store.HookDelivery) *store.Sending { return &d.Sending },
		save:    (*store.Tx).SaveHookDelivery,
		over:    func(error) bool { return false },
		ended:   func(*store.HookDelivery) {},
		oneWay:  true,
	}
}

func composeHook(tx *store.Tx, d store.HookDelivery) (m HookMessage, err error) {
	h, err := tx.Hook(d.HookID)
	if err != nil {
		return m, err
	}
	e, err := tx.Event(d.EventID)
	if err != nil {
		return m, err
	}
	return message(h, d, e, tx.Now())
}

// handOutEvents turns the events since the last time into deliveries. Writes run
// one at a time, so no two processes hand out the same.
func (d *Desk) handOutEvents(ctx context.Context) error {
	behind := false
	err := d.store.Read(ctx, func(tx *store.Tx) error {
		stamp, err := tx.Stamp()
		if err != nil {
			return err
		}
		hooks, err := tx.Hooks()
		behind = slices.ContainsFunc(hooks, func(h store.Hook) bool { return !h.Off && h.After < stamp })
		return err
	})
	if err != nil || !behind {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		hooks, err := tx.Hooks()
		if err != nil {
			return err
		}
		for _, h := range hooks {
			if h.Off {
				continue
			}
			if err := handOut(tx, h); err != nil {
				return err
			}
		}
		return nil
	})
}

func handOut(tx *store.Tx, h store.Hook) error {
	events, err := tx.EventsAfter(h.After, hookBatch)
	if err != nil || len(events) == 0 {
		return err
	}
	wanted := strings.Fields(h.Kinds)
	for _, e := range events {
		kind := hookKinds[store.Happened{Action: e.Action, SubjectKind: e.SubjectKind}]
		if !slices.Contains(wanted, kind) {
			continue
		}
		err := tx.AddHookDelivery(store.HookDelivery{
			HookID: h.ID, EventID: e.ID, Kind: kind, Sending: store.Sending{State: store.SendWaiting, NextAt: tx.Now()},
		})
		if err != nil {
			return err
		}
	}
	return tx.HandedOut(h.ID, events[len(events)-1].ID)
}

// hookKey gives the bytes that sign what an address is told.
func hookKey(h store.Hook) ([]byte, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(h.Secret, hookPrefix))
	if err != nil || len(key) == 0 {
		return nil, fmt.Errorf("the secret of hook %d can't be read", h.ID)
	}
	return key, nil
}

// message writes and signs what an address is told: which record, and where to
// read it; nothing private is in it.
func message(h store.Hook, d store.HookDelivery, e store.Event, now time.Time) (m HookMessage, err error) {
	secret, err := hookKey(h)
	if err != nil {
		return m, err
	}
	data := map[string]any{"kind": e.SubjectKind, "id": e.SubjectID}
	if e.SubjectKind == "order" {
		data["path"] = "/api/v1/orders/" + strconv.FormatInt(e.SubjectID, 10)
	}
	m.URL = h.URL
	// With the event's hash: a restored backup counts on from an earlier event, and
	// what comes then must not be taken for what was told before.
	m.ID = fmt.Sprintf("event-%d-%d-%.8s", e.ID, h.ID, e.Hash)
	m.Timestamp = strconv.FormatInt(now.Unix(), 10)
	if m.Body, err = json.Marshal(map[string]any{"type": d.Kind, "timestamp": e.At.Format(time.RFC3339Nano), "data": data}); err != nil {
		return m, err
	}
	m.Signature = signHook(secret, m.ID, m.Timestamp, m.Body)
	return m, nil
}

func signHook(secret []byte, id, timestamp string, body []byte) string {
	mac := hmac.New(sha256.New, secret)
	fmt.Fprintf(mac, "%s.%s.%s", id, timestamp, body)
	return "v1," + base64.StdEncoding.EncodeToString(mac.Sum(nil))
}
