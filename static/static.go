// Package static holds what pages load: the style sheet, the script, the type.
// All of it is made or kept here; nothing comes from elsewhere at run time.
package static

import "embed"

// FS holds css/, js/, fonts/, the guide's pictures and the mark of the tab.
//
//go:embed css js fonts guide mark.svg
var FS embed.FS
