package views

import (
	"bytes"
	"errors"
	"html/template"
	"regexp"
	"runtime/debug"
	"strings"
	"sync"
	"text/template/parse"

	"github.com/tdewolff/minify/v2"
	"github.com/tdewolff/minify/v2/css"
	"github.com/tdewolff/minify/v2/js"
	"github.com/tdewolff/minify/v2/svg"
)

// lean is a file as it is sent: what only its authors read is left out.
func lean(contentType string, body []byte) ([]byte, error) {
	kind, _, _ := strings.Cut(contentType, ";")
	m := minify.New()
	m.AddFunc("text/css", css.Minify)
	m.AddFunc("text/javascript", js.Minify)
	m.AddFunc("image/svg+xml", svg.Minify)
	out, err := m.Bytes(kind, body)
	if errors.Is(err, minify.ErrNotExist) {
		return body, nil // a picture
	}
	return out, err
}

// leanBy is what makes files lean, for their addresses: another version of it may
// make another file of the same source.
var leanBy = sync.OnceValue(func() string {
	if build, ok := debug.ReadBuildInfo(); ok {
		for _, m := range build.Deps {
			if m.Path == "github.com/tdewolff/minify/v2" {
				return m.Version
			}
		}
	}
	return "" // nothing is known of the build, as in some tests
})

var (
	lineEnd = regexp.MustCompile(`[ \t]*\n\s*`)
	// Around what stands on lines of its own a blank shows nothing.
	aroundBlock = regexp.MustCompile(`\n?(</?(?:html|head|body|meta|link|title|script|main|header|footer|nav|aside|section|div|p|h[1-6]|ul|ol|li|dl|dt|dd|form|fieldset|legend|table|thead|tbody|tr|td|th|caption|figure|figcaption|details|summary|option|optgroup|datalist)(?:\s[^<>]*)?>)\n?`)
)

// withoutIndents leaves out of a template the blanks that only order it: those at
// the beginning of a line, and the line ends beside what is a line of its own.
// What is set as it stands, as in pre, keeps its line ends.
func withoutIndents(t *template.Template) {
	if t.Tree == nil {
		return
	}
	eachNode(t.Tree.Root, func(node parse.Node) {
		if text, ok := node.(*parse.TextNode); ok && !bytes.Contains(text.Text, []byte("<pre")) {
			text.Text = aroundBlock.ReplaceAll(lineEnd.ReplaceAll(text.Text, []byte("\n")), []byte("$1"))
		}
	})
}
