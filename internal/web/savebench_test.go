package web_test

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/web/webtest"
)

// BenchmarkOrderSave: a clerk's form of the counter with 12 lines, kept as an
// order over HTTP on loopback, with 10,000 orders on file; and, in turn with it
// so that both meet the same machine, a bare gin and gorm program that is sent
// the same form and inserts the same rows into a copy of the same database, as
// durably, with nothing looked up, computed or checked. The bar is half its
// rate: of-bare at least 0.5. The page's script prices while one types, so each
// form was priced a moment before it is kept, outside the time that counts; what
// is kept without scripts is priced on the way, and measured too.
func BenchmarkOrderSave(b *testing.B) {
	path := filepath.Join(b.TempDir(), "desk.db")
	s, err := store.Open(b.Context(), path)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.Close() })
	site := livedOn(b, s)
	desk := newSaver(b, site)
	desk.count.Store(1)
	if err := desk.send(1); err != nil {
		b.Fatal(err)
	}
	bare := newBare(b, s)
	for _, run := range []struct {
		name    string
		clients int
		priced  bool
	}{{"one clerk", 1, true}, {"eight clerks", 8, true}, {"one clerk without scripts", 1, false}, {"eight clerks without scripts", 8, false}} {
		b.Run(run.name, func(b *testing.B) { inTurn(b, run.clients, desk, bare, run.priced) })
	}
}

// inTurn sends rounds of eight saves to one and to the other.
func inTurn(b *testing.B, clients int, desk, bare *saver, priced bool) {
	const round = 8
	var took [2]time.Duration
	waits := make([]time.Duration, 0, b.N)
	for from := 0; from < b.N; from += round {
		n := min(round, b.N-from)
		for i := range n {
			if err := desk.price(int(desk.count.Load())+i+1, priced); err != nil {
				b.Fatal(err)
			}
		}
		order := []*saver{desk, bare}
		if from/round%2 == 1 { // the one that goes first cleans up after the pricing
			slices.Reverse(order)
		}
		for _, to := range order {
			start := time.Now()
			each := atOnce(b, clients, n, to)
			if to == bare {
				took[1] += time.Since(start)
				continue
			}
			took[0] += time.Since(start)
			waits = append(waits, each...)
		}
	}
	report(b, waits, took[0])
	b.ReportMetric(float64(b.N)/took[1].Seconds(), "bare-req/s")
	b.ReportMetric(took[1].Seconds()/took[0].Seconds(), "of-bare")
}

// atOnce sends n saves by so many clients and gives how long each took.
func atOnce(b *testing.B, clients, n int, to *saver) []time.Duration {
	waits := make([]time.Duration, n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range clients {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				at := time.Now()
				if err := to.send(int(to.count.Add(1))); err != nil {
					b.Error(err)
				}
				waits[i] = time.Since(at)
			}
		})
	}
	wg.Wait()
	return waits
}

// saver posts one form again and again, each time as a new one.
type saver struct {
	client *http.Client
	url    string
	body   []byte
	count  atomic.Int64
}

// mark and someQty stand in the form where each save has something of its own:
// its key, and how many pieces of the first length.
const mark, someQty = "0000000mark", "1pieces1"

func (s *saver) send(i int) error { return s.post(i, "", http.StatusSeeOther) }

// price asks for the price of the form that is sent next, as the page's script
// does.
func (s *saver) price(i int, yes bool) error {
	if !yes {
		return nil
	}
	return s.post(i, "/price", http.StatusOK)
}

func (s *saver) post(i int, path string, want int) error {
	body := bytes.Replace(s.body, []byte(mark), fmt.Appendf(nil, "%011d", i), 1)
	body = bytes.Replace(body, []byte(someQty), fmt.Appendf(nil, "%d", 10+i), 1)
	r, err := http.NewRequestWithContext(context.Background(), http.MethodPost, s.url+path, bytes.NewReader(body))
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if path != "" {
		r.Header.Set("X-Part", "part-live")
	}
	answer, err := s.client.Do(r)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode != want {
		err = fmt.Errorf("%s: %s: %s", s.url, answer.Status, text)
	}
	return err
}

func newClient(jar http.CookieJar) *http.Client {
	return &http.Client{Jar: jar, Transport: &http.Transport{MaxIdleConnsPerHost: 64}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// newSaver signs a clerk in and fills the counter's form: four kinds of panel,
// four of trim, a downspout and three things from the shelf.
func newSaver(b *testing.B, site *webtest.Site) *saver {
	b.Helper()
	browser := site.As(b, party.Counter)
	page := browser.Get("/counter").Want(http.StatusOK)
	form := url.Values{
		"rows": {"12"}, "fulfil": {"pick-up"}, "customer": {webtest.Attr(page.One("#customer-names option"), "value")}, "job": {"Barn"}, "po": {"4711"}, "do": {"keep"},
		"form_token": {webtest.Attr(page.One("#ask [name=form_token]"), "value")}, "form_key": {mark},
	}
	for i, l := range [][3]string{
		{seam, charcoal, someQty + " @ 18'"}, {seam, "AZ50|24 ga|WHT", "12 @ 9'"}, {seam, "AZ50|24 ga|BRZ", "8 @ 22'"}, {rib, "AZ50|29 ga|WHT", "16 @ 14'"},
		{"trim:RIDGE", charcoal, "6 @ 10'"}, {"trim:RIDGE", "AZ50|24 ga|WHT", "3 @ 10'"}, {"trim:RIDGE", "AZ50|24 ga|BRZ", "4 @ 10'"}, {"trim:EAVE", charcoal, "8 @ 10'"},
		{"accessory:CLIP-FIX", "", "12"}, {"accessory:SCREW-PAN", "", "12"}, {"accessory:BUTYL", "", "12"}, {"accessory:SEALANT", "", "3"},
	} {
		pre, what := fmt.Sprintf("lines.%d.", i), "cuts"
		if strings.HasPrefix(l[0], "accessory:") {
			what = "count"
		}
		form.Set(pre+"make", l[0])
		form.Set(pre+"metal", l[1])
		form.Set(pre+what, l[2])
	}
	return &saver{client: newClient(browser.Client.Jar), url: site.URL + "/counter", body: []byte(form.Encode())}
}

// The rows of a save as a bare program declares them, in the same tables.
type (
	bareOrder struct {
		ID                                                                                     int64
		Number, State, Customer, Contact, Job, Po, Fulfil, ShipTo, SiteNotes, WantBy, Discount string
		Note, Alone, Shared, Currency, ValidTo, Exempt, PriceInputs, TokenHash                 string
		Accepted, Reason, Why, Search, CreatedBy                                               string
		Revision, CustomerID, MilesTenths, Total, Version, Follows                             int64
		Rush, Sharing                                                                          bool
		Promise                                                                                *time.Time
		CreatedAt, UpdatedAt                                                                   time.Time
	}
	bareLine struct {
		ID, OrderID, Pos, Girth, Strip, Count, Minutes, Unit, Amount              int64
		Kind, Code, Name, Material, Gauge, Colour, Rib, Section, Pounds, Currency string
		PerFoot                                                                   bool
	}
	bareCut struct {
		ID, LineID, Pos, Qty, Length int64
		Typed, Mark                  string
	}
	bareEvent struct {
		ID, PersonID, SubjectID                                                  int64
		At                                                                       time.Time
		PersonName, Role, Action, SubjectKind, Detail, RequestID, PrevHash, Hash string
	}
	bareKey struct {
		ID, SubjectID, Status                         int64
		Scope, Value, BodyHash, SubjectKind, Location string
		Body                                          []byte
		CreatedAt                                     time.Time
	}
)

func (bareOrder) TableName() string { return "orders" }
func (bareLine) TableName() string  { return "order_lines" }
func (bareCut) TableName() string   { return "cuts" }
func (bareEvent) TableName() string { return "events" }
func (bareKey) TableName() string   { return "request_keys" }

// bareRows are what one save leaves in the database.
type bareRows struct {
	order bareOrder
	lines []bareLine
	cuts  []bareCut
	event bareEvent
	key   bareKey
}

// newBare serves a bare program on a copy of the desk's database. The rows it
// inserts are those that the desk's last save left there, so they have the same
// bytes; only what must differ from save to save comes with the form.
func newBare(b *testing.B, s *store.Store) *saver {
	b.Helper()
	path := filepath.Join(b.TempDir(), "bare.db")
	if err := s.Backup(b.Context(), path); err != nil {
		b.Fatal(err)
	}
	pool, err := sql.Open("sqlite", "file:"+path+"?_pragma=busy_timeout(5000)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=foreign_keys(1)&_txlock=immediate&_time_format=sqlite&_timezone=UTC")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { pool.Close() })
	pool.SetMaxOpenConns(1) // SQLite has one writer; more would only wait and fail
	db, err := gorm.Open(sqlite.Dialector{DriverName: "sqlite", Conn: pool}, &gorm.Config{SkipDefaultTransaction: true, Logger: logger.Discard})
	if err != nil {
		b.Fatal(err)
	}
	rows := lastSave(b, db)
	gin.SetMode(gin.ReleaseMode)
	engine := gin.New()
	engine.POST("/orders", func(c *gin.Context) {
		var form bareForm
		if err := c.ShouldBind(&form); err != nil {
			c.String(http.StatusUnprocessableEntity, err.Error())
			return
		}
		id, err := rows.insert(c.Request.Context(), db, form)
		if err != nil {
			c.String(http.StatusInternalServerError, err.Error())
			return
		}
		c.Redirect(http.StatusSeeOther, fmt.Sprint("/orders/", id))
	})
	server := httptest.NewServer(engine)
	b.Cleanup(server.Close)
	form := url.Values{"number": {mark}, "job": {rows.order.Job}, "po": {rows.order.Po}, "customer": {rows.order.Customer}}
	for i, l := range rows.lines {
		pre := fmt.Sprintf("lines.%d.", i)
		form.Set(pre+"make", l.Kind+":"+l.Code)
		form.Set(pre+"metal", l.Material+"|"+l.Gauge+"|"+l.Colour)
		form.Set(pre+"cuts", "20 @ 18'")
	}
	return &saver{client: newClient(nil), url: server.URL + "/orders", body: []byte(form.Encode())}
}

type bareForm struct {
	Number   string `form:"number"`
	Job      string `form:"job"`
	Po       string `form:"po"`
	Customer string `form:"customer"`
}

func lastSave(b *testing.B, db *gorm.DB) (rows bareRows) {
	b.Helper()
	for _, err := range []error{
		db.Order("id DESC").Take(&rows.key).Error,
		db.Where("subject_kind = 'order' AND subject_id = ?", rows.key.SubjectID).Take(&rows.event).Error,
		db.Where("id = ?", rows.key.SubjectID).Take(&rows.order).Error,
		db.Where("order_id = ?", rows.order.ID).Order("pos").Find(&rows.lines).Error,
		db.Where("line_id IN (SELECT id FROM order_lines WHERE order_id = ?)", rows.order.ID).Order("line_id, pos").Find(&rows.cuts).Error,
	} {
		if err != nil {
			b.Fatal(err)
		}
	}
	if len(rows.lines) != 12 || len(rows.cuts) != 8 || rows.event.Action != "asked" {
		b.Fatalf("the last save has %d lines, %d cuts, event %q", len(rows.lines), len(rows.cuts), rows.event.Action)
	}
	for _, t := range []struct {
		table string
		row   any
	}{{"orders", rows.order}, {"order_lines", rows.lines[0]}, {"cuts", rows.cuts[0]}, {"events", rows.event}, {"request_keys", rows.key}} {
		var columns int64
		if err := db.Raw("SELECT COUNT(*) FROM pragma_table_info(?)", t.table).Scan(&columns).Error; err != nil {
			b.Fatal(err)
		}
		if int(columns) != reflect.TypeOf(t.row).NumField() {
			b.Fatalf("the bare program writes %d columns of %s, which has %d", reflect.TypeOf(t.row).NumField(), t.table, columns)
		}
	}
	return rows
}

// insert writes the rows of one save in one transaction.
func (r bareRows) insert(ctx context.Context, db *gorm.DB, form bareForm) (id int64, err error) {
	o, event, key := r.order, r.event, r.key
	o.ID, event.ID, key.ID = 0, 0, 0
	o.Number, o.Job, o.Po, o.Customer, key.Value = "X"+form.Number, form.Job, form.Po, form.Customer, "X"+form.Number
	lines, cuts := append([]bareLine(nil), r.lines...), append([]bareCut(nil), r.cuts...)
	err = db.WithContext(ctx).Transaction(func(tx *gorm.DB) error {
		if err := tx.Create(&o).Error; err != nil {
			return err
		}
		at := map[int64]int{}
		for i := range lines {
			at[lines[i].ID] = i
			lines[i].ID, lines[i].OrderID = 0, o.ID
		}
		if err := tx.Create(&lines).Error; err != nil {
			return err
		}
		for i := range cuts {
			cuts[i].ID, cuts[i].LineID = 0, lines[at[cuts[i].LineID]].ID
		}
		if err := tx.Create(&cuts).Error; err != nil {
			return err
		}
		event.SubjectID, key.SubjectID = o.ID, o.ID
		if err := tx.Create(&event).Error; err != nil {
			return err
		}
		return tx.Create(&key).Error
	})
	return o.ID, err
}
