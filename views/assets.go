package views

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"

	"github.com/andybalholm/brotli"
)

//go:embed static
var staticFiles embed.FS

// Assets are the stylesheet, scripts and icon, each at an address that carries
// the hash of what it is made of, so that it may be cached for ever.
type Assets struct {
	urls   map[string]string                 // name → address
	files  map[string]asset                  // address → content
	texts  map[string]func() ([]byte, error) // name in static/ → all of the file, lean
	sheets []sheet                           // parts of the stylesheet, in order
}

// asset is one file. No start waits for its being made lean or packed as small as
// it goes: that is done when it is first asked for.
type asset struct {
	contentType  string
	body         func() []byte
	gzip, brotli func() []byte // nil where packing fails
}

// assets are made once: the same files serve every server of a process.
var assets = sync.OnceValues(makeAssets)

// NewAssets hashes the embedded files. An error is a fault of the build.
func NewAssets() (*Assets, error) { return assets() }

func makeAssets() (*Assets, error) {
	a := &Assets{urls: map[string]string{}, files: map[string]asset{}, texts: map[string]func() ([]byte, error){}}
	entries, err := fs.ReadDir(staticFiles, "static")
	if err != nil {
		return nil, fmt.Errorf("assets: %w", err)
	}
	sources := map[string][]byte{}
	for _, entry := range entries {
		name := entry.Name()
		sources[name], err = staticFiles.ReadFile("static/" + name)
		if err == nil {
			err = a.take(name, sources[name])
		}
		if err != nil {
			return nil, fmt.Errorf("assets: %s: %w", name, err)
		}
	}
	bundled := bundles()
	for name := range a.texts {
		in := func(parts []string) bool { return slices.Contains(parts, name) }
		if path.Ext(name) == ".js" && !servedAlone(name) && !slices.ContainsFunc(slices.Collect(maps.Values(bundled)), in) {
			return nil, fmt.Errorf("assets: %s is in no bundle (loads.go)", name)
		}
	}
	for name, parts := range bundled {
		var source [][]byte
		for _, part := range parts {
			if sources[part] == nil {
				return nil, fmt.Errorf("assets: %s: no file %q", name, part)
			}
			source = append(source, sources[part])
		}
		if err := a.add(name, bytes.Join(source, nil), func() ([]byte, error) { return a.Text(parts...) }); err != nil {
			return nil, fmt.Errorf("assets: %s: %w", name, err)
		}
	}
	return a, nil
}

// mainStyle is the stylesheet that is cut into sheets; the three others are those
// of them no phone waits for.
const mainStyle, printSheet, deskSheet, scriptsSheet = "style.css", "style-print.css", "style-desk.css", "style-scripts.css"

// take is one file of static/: served by itself, in parts, or as part of another.
func (a *Assets) take(name string, source []byte) (err error) {
	if a.texts[name], err = leanOnce(name, source); err != nil {
		return err
	}
	switch {
	case name == mainStyle:
		if a.sheets, err = cutSheets(name, string(source)); err != nil {
			return err
		}
		for _, s := range a.sheets {
			text, err := leanOnce(s.name, []byte(s.text))
			if err != nil {
				return err
			}
			if err := a.add(s.name, []byte(s.text), text); err != nil {
				return err
			}
		}
		return nil
	case path.Ext(name) == ".js" && !servedAlone(name):
		return nil
	}
	return a.add(name, source, a.texts[name])
}

// leanOnce makes a file lean when it is first asked for.
func leanOnce(name string, source []byte) (func() ([]byte, error), error) {
	contentType, err := typeOf(name)
	return sync.OnceValues(func() ([]byte, error) { return lean(contentType, source) }), err
}

// Text is files of static/ one after the other, as they are sent.
func (a *Assets) Text(names ...string) ([]byte, error) {
	var out bytes.Buffer
	for _, name := range names {
		read, ok := a.texts[name]
		if !ok {
			return nil, fmt.Errorf("no file %q", name)
		}
		text, err := read()
		if err != nil {
			return nil, fmt.Errorf("assets: %s: %w", name, err)
		}
		out.Write(text)
		out.WriteByte('\n')
	}
	return out.Bytes(), nil
}

// add serves what leaned gives at an address made of its source and of what makes
// it lean. A source that can't be made so, which the tests would have found, is
// sent as it is.
func (a *Assets) add(name string, source []byte, leaned func() ([]byte, error)) error {
	contentType, err := typeOf(name)
	if err != nil {
		return err
	}
	body := sync.OnceValue(func() []byte {
		if text, err := leaned(); err == nil {
			return text
		}
		return source
	})
	file := asset{contentType: contentType, body: body, gzip: sync.OnceValue(func() []byte { return packed(body(), gzipSmallest) }), brotli: sync.OnceValue(func() []byte { return packed(body(), brotliSmallest) })}
	digest := sha256.New()
	fmt.Fprintf(digest, "%s\n%s", leanBy(), source)
	stem, ext := strings.TrimSuffix(name, path.Ext(name)), path.Ext(name)
	url := "/assets/" + stem + "." + hex.EncodeToString(digest.Sum(nil)[:3]) + ext
	a.urls[name], a.files[url] = url, file
	return nil
}

func typeOf(name string) (string, error) {
	switch path.Ext(name) {
	case ".css":
		return "text/css; charset=utf-8", nil
	case ".js":
		return "text/javascript; charset=utf-8", nil
	case ".svg":
		return "image/svg+xml", nil
	case ".png":
		return "image/png", nil
	}
	return "", fmt.Errorf("no content type for %q", path.Ext(name))
}

func gzipSmallest(w io.Writer) io.WriteCloser {
	z, _ := gzip.NewWriterLevel(w, gzip.BestCompression) // the level is one there is
	return z
}

func brotliSmallest(w io.Writer) io.WriteCloser {
	return brotli.NewWriterLevel(w, brotli.BestCompression)
}

func packed(body []byte, open func(io.Writer) io.WriteCloser) []byte {
	var out bytes.Buffer
	w := open(&out)
	if _, err := w.Write(body); err != nil {
		return nil
	}
	if w.Close() != nil {
		return nil
	}
	return out.Bytes()
}

// URL is the address of name, "style.css"; templates call it as asset. A name
// there is no file for is an error, so the page that asks for it fails.
func (a *Assets) URL(name string) (string, error) {
	url, ok := a.urls[name]
	if !ok {
		return "", fmt.Errorf("no asset %q", name)
	}
	return url, nil
}

// inline is a stylesheet of ours, all of it, as an element for a file that must
// carry it.
func (a *Assets) inline(name string) (template.HTML, error) {
	text, err := a.Text(name)
	return template.HTML("<style>" + string(text) + "</style>"), err
}

// Addresses are those of every file, in order, and a version of them all that
// differs wherever one does.
func (a *Assets) Addresses() (all []string, version string) {
	all = slices.Sorted(maps.Keys(a.files))
	digest := sha256.Sum256([]byte(strings.Join(all, "\n")))
	return all, hex.EncodeToString(digest[:6])
}

// Lookup is the file at an address, "/assets/style.<hash>.css", uncompressed.
func (a *Assets) Lookup(address string) (body []byte, contentType string, ok bool) {
	file, ok := a.files[address]
	if !ok {
		return nil, "", false
	}
	return file.body(), file.contentType, true
}

// Compressed is the file at an address in the best encoding the Accept-Encoding
// header allows, and that encoding: "br", "gzip", or "" for none. It is nil at
// an address Lookup doesn't know. The answer needs "Vary: Accept-Encoding".
func (a *Assets) Compressed(address, acceptEncoding string) (body []byte, encoding string) {
	file, ok := a.files[address]
	if !ok {
		return nil, ""
	}
	switch BestEncoding(acceptEncoding) {
	case "br":
		if small := file.brotli(); small != nil && len(small) < len(file.body()) {
			return small, "br"
		}
	case "gzip":
		if small := file.gzip(); small != nil && len(small) < len(file.body()) {
			return small, "gzip"
		}
	}
	return file.body(), ""
}

// BestEncoding is the one to send text in to a browser with that Accept-Encoding
// header: "br", "gzip", or "" for none.
func BestEncoding(header string) string {
	for _, encoding := range []string{"br", "gzip"} {
		if accepts(header, encoding) {
			return encoding
		}
	}
	return ""
}

func accepts(header, encoding string) bool {
	for part := range strings.SplitSeq(header, ",") {
		name, weight, _ := strings.Cut(strings.TrimSpace(part), ";")
		weight = strings.ReplaceAll(weight, " ", "")
		refused := weight == "q=0" || weight == "q=0.0" || weight == "q=0.00" || weight == "q=0.000"
		if strings.EqualFold(strings.TrimSpace(name), encoding) && !refused {
			return true
		}
	}
	return false
}
