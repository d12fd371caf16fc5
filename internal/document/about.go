package document

// HeadOf gives what every paper carries, for the file it is kept in.
func HeadOf(d Document) Head { return *d.head() }
