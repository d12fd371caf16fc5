package web

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"ribdesk/internal/party"
)

// Line is a line of the route table, for the tests.
type Line struct {
	Method, Path string
	Admits       []party.Role
	Early        bool
}

// Table gives the route table.
func Table() []Line {
	var lines []Line
	for _, r := range table() {
		lines = append(lines, Line{r.method, r.path, r.admits, r.how&early != 0})
	}
	return lines
}

// Mark lets a server's pages be read in words.Marked, as --dev does.
func Mark(h http.Handler) { h.(*Server).marks = true }

// Local is the check of where sign-in leads.
var Local = local

// APITable gives the API's table: method, path and scope of each route.
func APITable() (lines [][3]string) {
	for _, r := range apiTable() {
		lines = append(lines, [3]string{r.method, r.path, string(r.scope)})
	}
	return lines
}

// CustomerChapters and ShopChapters are the codes of the guide's chapters.
var CustomerChapters, ShopChapters = codes(customerChapters), codes(shopChapters)

func codes(chapters []chapter) (list []string) {
	for _, c := range chapters {
		list = append(list, c.Code)
	}
	return list
}

// Breaking adds a page that panics, for a test of what its visitor sees.
func Breaking(h http.Handler, path, with string) {
	h.(*Server).engine.GET(path, func(*gin.Context) { panic(with) })
}

// Days and times of the day, as typed.
var (
	ReadDay   = readDay
	ReadClock = readClock
)
