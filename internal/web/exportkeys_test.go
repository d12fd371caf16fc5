package web

// Posts gives each POST of the table, and whether its form carries a key that
// makes it happen once.
func Posts() map[string]bool {
	keyed := map[string]bool{}
	for _, r := range table() {
		if r.method == "POST" {
			keyed[r.path] = r.how&unkeyed == 0
		}
	}
	return keyed
}

// APIPosts gives each route of the API that isn't a GET, and whether it needs an
// Idempotency-Key.
func APIPosts() map[string]bool {
	keyed := map[string]bool{}
	for _, r := range apiTable() {
		if r.method != "GET" {
			keyed[r.method+" "+r.path] = r.keyed
		}
	}
	return keyed
}
