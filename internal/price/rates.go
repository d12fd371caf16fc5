package price

// Check gives everything that is wrong with a shop's figures, for the page
// where they are edited. Fields are places in the shop: centers.1.crew.2.hourly.
func (s Shop) Check() error {
	f := &form{}
	s.check(f)
	return f.Err()
}
