package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"strings"

	"ribdesk/static"
)

// assets are the static files, read and compressed once. Their URLs carry a hash
// over all of them, so a browser may keep them for good and still gets new ones
// with a new release; and a style sheet can name its fonts relatively.
type assets struct {
	files fs.FS
	stamp string
	ready map[string]asset // empty in dev
}

type asset struct {
	kind   string
	body   []byte
	zipped []byte // nil where it doesn't help
}

func newAssets(o Options) (*assets, error) {
	a := &assets{files: static.FS, stamp: "dev", ready: map[string]asset{}}
	if o.Dev {
		a.files = os.DirFS(filepath.Join(o.Root, "static"))
		return a, nil
	}
	sum := sha256.New()
	err := fs.WalkDir(a.files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || path.Ext(name) == ".go" {
			return err
		}
		one, err := a.load(name)
		if err != nil {
			return err
		}
		a.ready[name] = one
		fmt.Fprintf(sum, "%s %d ", name, len(one.body))
		sum.Write(one.body)
		return nil
	})
	a.stamp = hex.EncodeToString(sum.Sum(nil))[:12]
	return a, err
}

// kinds are the types of files that are served; others aren't.
var kinds = map[string]string{
	".css":   "text/css; charset=utf-8",
	".js":    "text/javascript; charset=utf-8",
	".svg":   "image/svg+xml",
	".woff2": "font/woff2",
	".txt":   "text/plain; charset=utf-8",
	".json":  mime.TypeByExtension(".json"),
	".png":   "image/png",
	".webp":  "image/webp",
}

func (a *assets) load(name string) (asset, error) {
	kind, ok := kinds[path.Ext(name)]
	if !ok {
		return asset{}, fmt.Errorf("static file %s has a type that isn't served", name)
	}
	body, err := fs.ReadFile(a.files, name)
	if err != nil {
		return asset{}, err
	}
	one := asset{kind: kind, body: body}
	if strings.HasPrefix(kind, "text/") || strings.HasPrefix(kind, "image/svg") {
		var b bytes.Buffer
		z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
		if err != nil {
			return one, err
		}
		if _, err := z.Write(body); err != nil {
			return one, err
		}
		if err := z.Close(); err != nil {
			return one, err
		}
		if b.Len() < len(body) {
			one.zipped = b.Bytes()
		}
	}
	return one, nil
}

// url gives the address of a static file.
func (a *assets) url(name string) string { return "/static/" + a.stamp + "/" + name }

// sendAsset answers with a static file. An old stamp gets the present file, but
// isn't told to keep it.
func sendAsset(v *visit) error {
	a := v.s.assets
	name := strings.TrimPrefix(path.Clean(v.c.Param("file")), "/")
	one, ok := a.ready[name]
	if v.s.pages.dev {
		var err error
		one, err = a.load(name)
		ok = err == nil && fs.ValidPath(name)
	}
	if !ok {
		return refusal{http.StatusNotFound, "Nothing here", "There is no such file."}
	}
	h := v.c.Writer.Header()
	h.Set("Cache-Control", "no-cache")
	if v.c.Param("stamp") == a.stamp && !v.s.pages.dev {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	h.Set("Vary", "Accept-Encoding")
	h.Set("ETag", `"`+a.stamp+`"`)
	if v.c.GetHeader("If-None-Match") == `"`+a.stamp+`"` && !v.s.pages.dev {
		v.c.Status(http.StatusNotModified)
		return nil
	}
	body := one.body
	if one.zipped != nil && takesGzip(v.c.Request) {
		h.Set("Content-Encoding", "gzip")
		body = one.zipped
	}
	v.c.Data(http.StatusOK, one.kind, body)
	return nil
}
