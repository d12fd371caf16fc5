// Package templates holds the HTML of the pages: the layout, the parts that
// pages share, and one file for each page. The web room parses and fills them.
package templates

import "embed"

// FS holds layout.html, shared/*.html, pages/*.html and the guide's chapters.
//
//go:embed layout.html shared pages guide
var FS embed.FS
