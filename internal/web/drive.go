package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/caution"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/words"
)

// drivePage is a driver's day: the stops in order, the next one first.
type drivePage struct {
	Base
	Today desk.Day
	Next  *desk.DriveStop
}

func (drivePage) file() string { return "drive" }

func showDrive(v *visit) error {
	day, err := v.desk.Day(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &drivePage{
		Base:  Base{Title: "Today's stops", Sheet: "Loads", Small: true, Tabs: open(v.actor.Role, loadTabs(""), "Drive"), Block: Block{Thing: "Driver"}},
		Today: day, Next: day.Next(),
	}
	return v.show(p)
}

// stopPage is one stop on the driver's phone: where, what, how to unload, what
// was wrong, and who took it. It carries no price.
type stopPage struct {
	Base
	Stop       desk.DriveStop
	Phone      string
	Navigate   template.URL // opens whatever map the phone has
	Side       template.HTML
	Cautions   []said
	Heavy      []desk.HandLift // pieces of this stop that want two people
	Ticks      []tick
	Wrongs     []wrongRow
	Receiver   Field
	Unattended Field
}

func (stopPage) file() string { return "drive-stop" }

// tick is a bundle to check off.
type tick struct {
	order.Bundle
	On bool
}

// wrongRow is one thing that can be wrong with the delivery.
type wrongRow struct {
	No                         int
	Bundle, Kind, Pieces, Note Field
}

// wrongRows are how many things the page without script can say; mostly one is
// enough.
const wrongRows = 3

func (v *visit) newStopPage() (*stopPage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	s, err := v.desk.DriveStop(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	o := s.Order
	p := &stopPage{
		Base: Base{Title: fmt.Sprintf("Stop %d of %d", s.No, s.Of), Sheet: "Loads", Small: true, Block: Block{Thing: "Delivery ticket", Number: s.Stop.Ticket, State: string(o.State)}},
		Stop: s, Phone: dialled(o.Contact.Phone), Navigate: geo(o.ShipTo.Line()), Receiver: newReceiver(o.Contact.Name),
		Unattended: Field{Name: "unattended", Label: "Or: who allowed leaving it, when nobody is there", Auto: "off", Optional: true},
	}
	paper := caution.DeliveryTicket
	if s.File.FormsThere && len(s.Bundles) == 0 {
		paper = caution.OnSite
	}
	for _, c := range caution.For(paper, words.English) {
		p.Cautions = append(p.Cautions, said{Title: c.Title, General: c.Text})
	}
	for _, h := range s.File.Lifting {
		if h.Order == o.Number {
			p.Heavy = append(p.Heavy, h)
		}
	}
	for _, b := range s.Bundles {
		p.Ticks = append(p.Ticks, tick{Bundle: b})
	}
	for i := range wrongRows {
		p.Wrongs = append(p.Wrongs, newWrongRow(i, s.Bundles))
	}
	if s.File.Assessed && len(s.File.Load.Placed) > 0 {
		view := s.File.Drawing()
		view.Width, view.Height = 480, 190
		p.Side = view.Side().SVG()
	}
	return p, nil
}

func newWrongRow(i int, bundles []order.Bundle) wrongRow {
	n := "." + strconv.Itoa(i)
	r := wrongRow{
		No:     i,
		Bundle: Field{Name: "bundle" + n, Label: "Bundle", Optional: true},
		Kind: Field{Name: "kind" + n, Label: "What is wrong", Optional: true, Options: []Option{
			{"", "nothing"}, {"short", "short"}, {"damaged", "damaged"}, {"refused", "refused"}, {"wrong", "wrong goods"},
		}},
		Pieces: Field{Name: "pieces" + n, Label: "Pieces", Keys: "numeric", Short: true, Optional: true},
		Note:   Field{Name: "note" + n, Label: "Note", Optional: true},
	}
	for _, b := range bundles {
		r.Bundle.Options = append(r.Bundle.Options, Option{strconv.FormatInt(b.ID, 10), fmt.Sprintf("%d of %d, %s", b.No, b.Of, b.Code)})
	}
	return r
}

// dialled keeps what a phone can dial.
func dialled(phone string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' || r == '+' {
			return r
		}
		return -1
	}, phone)
}

// geo is a link that the phone opens with the map it has (RFC 5870, with a query
// as common practice adds it). The address is escaped, so nothing else can be
// in it.
func geo(address string) template.URL {
	if address == "" {
		return ""
	}
	return template.URL("geo:0,0?q=" + url.QueryEscape(address))
}

func showDriveStop(v *visit) error {
	p, err := v.newStopPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

// doDriveStop hands a stop over by the form alone, where there is no script.
func doDriveStop(v *visit) error {
	p, err := v.newStopPage()
	if err != nil {
		return err
	}
	h := desk.HandOver{
		Key: v.c.Request.PostForm.Get(keyField), StopID: p.Stop.Stop.ID, Receiver: v.text(&p.Receiver), Unattended: v.text(&p.Unattended),
		At: v.desk.Now(), Ticked: v.ids("ticked"),
	}
	if h.Ticked == nil {
		h.Ticked = []int64{}
	}
	p.readTicks(h.Ticked)
	h.Exceptions = v.readWrongs(p)
	photos := v.readPhotos(h.Exceptions, h.Key)
	if h.Signature, err = signatureOf(v.c.Request.PostForm.Get("signature")); err != nil {
		v.found.Add("", err)
	}
	for _, t := range p.Ticks {
		if !t.On && !spokenOf(h.Exceptions, t.ID) {
			v.found.Addf("", "bundle %d of %d isn't ticked: tick it, or say below what is wrong with it", t.No, t.Of)
		}
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if _, err := v.desk.Deliver(v.ctx(), v.actor, h); err != nil {
		return v.again(p, err)
	}
	for _, photo := range photos {
		photo.StopID = h.StopID
		if err := v.desk.AddPhoto(v.ctx(), v.actor, photo); err != nil {
			return v.redirectSaying("/drive", "Handed over, but a picture wasn't kept: "+sentence(fault.All(err)[0].Sentence))
		}
	}
	return v.redirectSaying("/drive", "Handed over. On to the next stop.")
}

func (p *stopPage) readTicks(ticked []int64) {
	for i := range p.Ticks {
		for _, id := range ticked {
			p.Ticks[i].On = p.Ticks[i].On || p.Ticks[i].ID == id
		}
	}
}

func spokenOf(list []order.Exception, bundle int64) bool {
	for _, e := range list {
		if e.BundleID == bundle {
			return true
		}
	}
	return false
}

// readWrongs reads the rows in which something was said to be wrong.
func (v *visit) readWrongs(p *stopPage) (out []order.Exception) {
	for i := range p.Wrongs {
		r := &p.Wrongs[i]
		kind := v.choice(&r.Kind)
		bundle, _ := strconv.ParseInt(v.choice(&r.Bundle), 10, 64) // the choice is one of the list
		pieces, note := v.whole(&r.Pieces), v.text(&r.Note)
		if kind == "" {
			continue
		}
		if pieces < 1 {
			v.wrong(&r.Pieces, "say how many pieces")
		}
		if bundle == 0 && len(p.Stop.Bundles) == 1 {
			bundle = p.Stop.Bundles[0].ID
		}
		out = append(out, order.Exception{BundleID: bundle, Kind: kind, Pieces: pieces, Note: note})
	}
	return out
}

// readPhotos reads the pictures of a form, at most one for each row.
func (v *visit) readPhotos(exceptions []order.Exception, key string) (out []order.Photo) {
	if v.c.Request.MultipartForm == nil {
		return nil
	}
	for i := range exceptions {
		for n, file := range v.c.Request.MultipartForm.File["photo."+strconv.Itoa(i)] {
			if file.Size == 0 {
				continue
			}
			body, err := readPart(file.Open, desk.MostPhoto)
			if err != nil {
				v.found.Addf("", "a picture has at most 5 MB; take it smaller")
				continue
			}
			exceptions[i].Photos++
			out = append(out, order.Photo{Key: fmt.Sprintf("%s-%d-%d", key, i, n), Exception: i, Body: body})
		}
	}
	return out
}

// readPart reads a file of a form up to a size.
func readPart[F io.ReadCloser](open func() (F, error), most int64) ([]byte, error) {
	f, err := open()
	if err != nil {
		return nil, err
	}
	defer f.Close()
	body, err := io.ReadAll(io.LimitReader(f, most+1))
	if err == nil && int64(len(body)) > most {
		err = errors.New("too large")
	}
	return body, err
}

// sent is a stop as the phone's queue sends it.
type sent struct {
	Key        string    `json:"key"`
	Stop       int64     `json:"stop"`
	Receiver   string    `json:"receiver"`
	Unattended string    `json:"unattended"`
	Signature  string    `json:"signature"` // data URL of a PNG, "" for none
	At         time.Time `json:"at"`
	Ticked     []int64   `json:"ticked"`
	Exceptions []struct {
		Bundle int64  `json:"bundle"`
		Kind   string `json:"kind"`
		Pieces int    `json:"pieces"`
		Note   string `json:"note"`
		Photos int    `json:"photos"`
	} `json:"exceptions"`
}

// doSync takes one stop from a phone's queue. Sent again with the same key it
// gets the same answer and changes nothing, so a phone may send until it hears.
func doSync(v *visit) error {
	var in sent
	d := json.NewDecoder(v.c.Request.Body)
	if err := d.Decode(&in); err != nil {
		return fault.Invalidf("", "this stop can't be read: %v", plainJSON(err))
	}
	if in.Key == "" {
		return fault.Invalidf("key", "a stop sent by the phone needs its key")
	}
	h := desk.HandOver{
		Key: in.Key, StopID: in.Stop, Receiver: strings.TrimSpace(in.Receiver), Unattended: strings.TrimSpace(in.Unattended), At: in.At, Ticked: in.Ticked,
	}
	if h.Ticked == nil {
		h.Ticked = []int64{}
	}
	for _, e := range in.Exceptions {
		h.Exceptions = append(h.Exceptions, order.Exception{BundleID: e.Bundle, Kind: e.Kind, Pieces: e.Pieces, Note: e.Note, Photos: min(max(e.Photos, 0), 20)})
	}
	var err error
	if h.Signature, err = signatureOf(in.Signature); err != nil {
		return err
	}
	o, err := v.desk.Deliver(v.ctx(), v.actor, h)
	if err != nil {
		return err
	}
	v.sendJSON(http.StatusOK, "application/json", map[string]string{"key": in.Key, "order": o.Number, "state": string(o.State)})
	return nil
}

func plainJSON(err error) string {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return "it is too large"
	}
	return "it isn't the JSON that was expected"
}

// doSyncPhoto takes one picture from a phone's queue; the body is the picture.
func doSyncPhoto(v *visit) error {
	body, err := io.ReadAll(io.LimitReader(v.c.Request.Body, desk.MostPhoto+1))
	if err != nil {
		return err
	}
	stop, _ := strconv.ParseInt(v.query("stop"), 10, 64) // 0 is no stop
	exception, err := strconv.Atoi(v.query("exception"))
	if err != nil {
		exception = -1
	}
	photo := order.Photo{Key: v.query("key"), StopID: stop, Exception: exception, Body: body}
	if err := v.desk.AddPhoto(v.ctx(), v.actor, photo); err != nil {
		return err
	}
	v.sendJSON(http.StatusOK, "application/json", map[string]string{"key": photo.Key})
	return nil
}

// showToken gives the phone a fresh proof for its queue, after a new sign-in.
func showToken(v *visit) error {
	v.sendJSON(http.StatusOK, "application/json", map[string]string{"form_token": v.formToken(), "person": strconv.FormatInt(v.actor.PersonID, 10)})
	return nil
}

// workerShell are the files a driver's pages need without signal.
var workerShell = []string{"css/sheet.css", "js/desk.js", "js/drive.js", "js/sign.js", "mark.svg", "fonts/open-sans-regular.woff2", "fonts/open-sans-semibold.woff2", "fonts/open-sans-condensed.woff2"}

// sendWorker sends the script that keeps the driver's pages readable without
// signal. It says which files there are, so that a new release is a new worker.
func sendWorker(v *visit) error {
	one, err := v.s.assets.load("js/drive-worker.js")
	if err != nil {
		return err
	}
	urls := make([]string, len(workerShell))
	for i, name := range workerShell {
		urls[i] = v.s.assets.url(name)
	}
	list, err := json.Marshal(urls)
	if err != nil {
		return err
	}
	v.c.Header("Service-Worker-Allowed", "/drive")
	v.c.Header("Cache-Control", "no-cache")
	body := fmt.Appendf(nil, "const STAMP = %q;\nconst SHELL = %s;\n%s", v.s.assets.stamp, list, one.body)
	v.send(http.StatusOK, one.kind, body)
	return nil
}
