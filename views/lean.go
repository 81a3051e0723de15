package views

import (
	"bytes"
	"errors"
	"html/template"
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

// withoutIndents leaves out of a template the blanks that only order it: those at
// the beginning of a line, and the line ends beside what is a line of its own.
// What is set as it stands, as in pre, keeps its line ends.
func withoutIndents(t *template.Template) {
	if t.Tree == nil {
		return
	}
	eachNode(t.Tree.Root, func(node parse.Node) {
		if text, ok := node.(*parse.TextNode); ok && !bytes.Contains(text.Text, []byte("<pre")) {
			text.Text = withoutEnds(oneEnd(text.Text))
		}
	})
}

// oneEnd leaves of each line end, the blanks before it and all blanks after it the
// line end.
func oneEnd(text []byte) []byte {
	out := make([]byte, 0, len(text))
	for i := 0; i < len(text); i++ {
		if text[i] != '\n' {
			out = append(out, text[i])
			continue
		}
		out = append(bytes.TrimRight(out, " \t"), '\n')
		for i+1 < len(text) && isBlank(text[i+1]) {
			i++
		}
	}
	return out
}

// withoutEnds leaves out the line ends beside tags of what stands on lines of its
// own: around those a blank shows nothing.
func withoutEnds(text []byte) []byte {
	out := make([]byte, 0, len(text))
	for i := 0; i < len(text); {
		tag := blockTag(text[i:])
		if tag == nil {
			out = append(out, text[i])
			i++
			continue
		}
		out = append(bytes.TrimSuffix(out, []byte("\n")), tag...)
		i += len(tag)
		if i < len(text) && text[i] == '\n' {
			i++
		}
	}
	return out
}

// onLinesOfItsOwn are the elements that begin and end a line.
var onLinesOfItsOwn = map[string]bool{"html": true, "head": true, "body": true, "meta": true, "link": true, "title": true, "script": true,
	"main": true, "header": true, "footer": true, "nav": true, "aside": true, "section": true, "div": true, "p": true,
	"h1": true, "h2": true, "h3": true, "h4": true, "h5": true, "h6": true, "ul": true, "ol": true, "li": true, "dl": true, "dt": true, "dd": true,
	"form": true, "fieldset": true, "legend": true, "table": true, "thead": true, "tbody": true, "tr": true, "td": true, "th": true, "caption": true,
	"figure": true, "figcaption": true, "details": true, "summary": true, "option": true, "optgroup": true, "datalist": true}

// blockTag is the tag of such an element that text begins with; nil where it
// begins with something else, or an action cuts the tag in two.
func blockTag(text []byte) []byte {
	if text[0] != '<' {
		return nil
	}
	name := bytes.TrimPrefix(text[1:], []byte("/"))
	end := 0
	for end < len(name) && isElement(name[end]) {
		end++
	}
	if !onLinesOfItsOwn[string(name[:end])] || end == len(name) || name[end] != '>' && !isBlank(name[end]) {
		return nil
	}
	end += len(text) - len(name)
	closed := bytes.IndexAny(text[end:], "<>")
	if closed < 0 || text[end+closed] == '<' {
		return nil
	}
	return text[:end+closed+1]
}

func isBlank(b byte) bool { return b == ' ' || '\t' <= b && b <= '\r' && b != '\v' }
