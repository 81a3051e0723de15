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
// the hash of its content, so that it may be cached for ever.
type Assets struct {
	urls  map[string]string // name in static/ → address
	files map[string]asset  // address → content
}

type asset struct {
	contentType        string
	body, gzip, brotli []byte
}

// assets packs them once: the same files, packed as small as they go, serve
// every server of a process.
var assets = sync.OnceValues(packAssets)

// NewAssets hashes and compresses the embedded files. An error is a fault of
// the build.
func NewAssets() (*Assets, error) { return assets() }

func packAssets() (*Assets, error) {
	a := &Assets{urls: map[string]string{}, files: map[string]asset{}}
	entries, err := fs.ReadDir(staticFiles, "static")
	if err != nil {
		return nil, fmt.Errorf("assets: %w", err)
	}
	for _, entry := range entries {
		body, err := staticFiles.ReadFile("static/" + entry.Name())
		if err != nil {
			return nil, fmt.Errorf("assets: %w", err)
		}
		if err := a.add(entry.Name(), body); err != nil {
			return nil, fmt.Errorf("assets: %s: %w", entry.Name(), err)
		}
	}
	return a, nil
}

func (a *Assets) add(name string, body []byte) error {
	contentType, err := typeOf(name)
	if err != nil {
		return err
	}
	file := asset{contentType: contentType, body: body}
	if file.gzip, err = packed(body, func(w io.Writer) (io.WriteCloser, error) {
		return gzip.NewWriterLevel(w, gzip.BestCompression)
	}); err != nil {
		return err
	}
	if file.brotli, err = packed(body, func(w io.Writer) (io.WriteCloser, error) {
		return brotli.NewWriterLevel(w, brotli.BestCompression), nil
	}); err != nil {
		return err
	}
	digest := sha256.Sum256(body)
	stem, ext := strings.TrimSuffix(name, path.Ext(name)), path.Ext(name)
	url := "/assets/" + stem + "." + hex.EncodeToString(digest[:6]) + ext
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
	}
	return "", fmt.Errorf("no content type for %q", path.Ext(name))
}

func packed(body []byte, open func(io.Writer) (io.WriteCloser, error)) ([]byte, error) {
	var out bytes.Buffer
	w, err := open(&out)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(body); err != nil {
		return nil, err
	}
	err = w.Close()
	return out.Bytes(), err
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

// inline is a stylesheet of ours as an element, for a file that must carry it.
func (a *Assets) inline(name string) (template.HTML, error) {
	url, err := a.URL(name)
	return template.HTML("<style>" + string(a.files[url].body) + "</style>"), err
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
	return file.body, file.contentType, ok
}

// Compressed is the file at an address in the best encoding the Accept-Encoding
// header allows, and that encoding: "br", "gzip", or "" for none. It is nil at
// an address Lookup doesn't know. The answer needs "Vary: Accept-Encoding".
func (a *Assets) Compressed(address, acceptEncoding string) (body []byte, encoding string) {
	file, ok := a.files[address]
	switch {
	case !ok:
		return nil, ""
	case accepts(acceptEncoding, "br") && len(file.brotli) < len(file.body):
		return file.brotli, "br"
	case accepts(acceptEncoding, "gzip") && len(file.gzip) < len(file.body):
		return file.gzip, "gzip"
	}
	return file.body, ""
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
