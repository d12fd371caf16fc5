package web_test

import (
	"io"
	"net/http"
	"net/http/httptest"
)

// record asks a handler without a network.
func record(h http.Handler, method, path string, body io.Reader) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(method, path, body))
	return w
}
