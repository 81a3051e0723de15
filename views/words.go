package views

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"path"
	"sort"
	"strings"
	"sync"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/message/catalog"
)

//go:embed words/*.json
var wordFiles embed.FS

// Catalogue is the words of every language there is a file for. A language is
// one file, words/<tag>.json, from English formats to formats of that language;
// an entry whose words depend on a count is an object with the position of the
// count and one text per plural form:
//
//	"%d holds": {"arg": 1, "one": "%d hold", "other": "%d holds"}
//
// English is the key, so words/en.json holds plural forms only.
type Catalogue struct {
	languages []*Words // English first: it is what no match falls back to
	matcher   language.Matcher
}

// Words is one language of a Catalogue. A nil Words speaks English without
// plural forms.
type Words struct {
	tag     language.Tag
	whole   map[string]string // entries without plural forms
	printer *message.Printer
	marks   marks
}

// entry is one value of a words file: a text, or plural forms.
type entry struct {
	text  string
	arg   int
	forms map[string]string
}

// UnmarshalJSON reads a text or an object of plural forms.
func (e *entry) UnmarshalJSON(raw []byte) error {
	if json.Unmarshal(raw, &e.text) == nil {
		return nil
	}
	var object struct {
		Arg                              int
		Zero, One, Two, Few, Many, Other string
	}
	if err := json.Unmarshal(raw, &object); err != nil {
		return err
	}
	e.arg, e.forms = object.Arg, map[string]string{}
	for form, text := range map[string]string{"zero": object.Zero, "one": object.One, "two": object.Two,
		"few": object.Few, "many": object.Many, "other": object.Other} {
		if text != "" {
			e.forms[form] = text
		}
	}
	if e.arg < 1 || e.forms["other"] == "" {
		return fmt.Errorf("plural entry needs arg of at least 1 and a text for other")
	}
	return nil
}

// message is the entry as x/text takes it.
func (e entry) message() catalog.Message {
	if e.forms == nil {
		return catalog.String(e.text)
	}
	var cases []any
	for _, form := range []string{"zero", "one", "two", "few", "many", "other"} {
		if text, ok := e.forms[form]; ok {
			cases = append(cases, form, text)
		}
	}
	return plural.Selectf(e.arg, "%d", cases...)
}

// embedded reads the words files once: they serve every server of a process.
var embedded = sync.OnceValues(func() (*Catalogue, error) {
	files, err := fs.Sub(wordFiles, "words")
	if err != nil {
		return nil, err
	}
	return ReadCatalogue(files)
})

// LoadCatalogue reads the embedded words files. An error names the file, and is
// a fault of the build.
func LoadCatalogue() (*Catalogue, error) { return embedded() }

// ReadCatalogue reads the words files at the top of files, as [LoadCatalogue]
// reads its own.
func ReadCatalogue(files fs.FS) (*Catalogue, error) {
	names, err := fs.Glob(files, "*.json")
	if err != nil {
		return nil, err
	}
	builder := catalog.NewBuilder(catalog.Fallback(language.English))
	c := &Catalogue{}
	for _, name := range names {
		entries, tag, err := readWords(files, name)
		if err != nil {
			return nil, fmt.Errorf("words %s: %w", name, err)
		}
		w := &Words{tag: tag, whole: map[string]string{}}
		for key, e := range entries {
			if e.forms == nil {
				w.whole[key] = e.text
			}
			if err := builder.Set(tag, key, e.message()); err != nil {
				return nil, fmt.Errorf("words %s: %q: %w", name, key, err)
			}
		}
		c.languages = append(c.languages, w)
	}
	sort.SliceStable(c.languages, func(i, j int) bool {
		return c.languages[i].tag == language.English && c.languages[j].tag != language.English
	})
	if len(c.languages) == 0 || c.languages[0].tag != language.English {
		return nil, fmt.Errorf("words: no en.json")
	}
	var tags []language.Tag
	for _, w := range c.languages {
		w.printer = message.NewPrinter(w.tag, message.Catalog(builder))
		w.marks = marksOf(w.tag)
		tags = append(tags, w.tag)
	}
	c.matcher = language.NewMatcher(tags)
	return c, nil
}

func readWords(files fs.FS, name string) (map[string]entry, language.Tag, error) {
	tag, err := language.Parse(strings.TrimSuffix(path.Base(name), ".json"))
	if err != nil {
		return nil, tag, err
	}
	raw, err := fs.ReadFile(files, name)
	if err != nil {
		return nil, tag, err
	}
	var entries map[string]entry
	err = json.Unmarshal(raw, &entries)
	return entries, tag, err
}

// For returns the words that fit best what a reader prefers: a language tag
// kept with the person, or an Accept-Language header. The first that is known
// counts; with none it is English.
func (c *Catalogue) For(preferences ...string) *Words {
	for _, preference := range preferences {
		wanted, _, err := language.ParseAcceptLanguage(preference)
		if err != nil || len(wanted) == 0 {
			continue
		}
		if _, at, sure := c.matcher.Match(wanted...); sure != language.No {
			return c.languages[at].asIn(preferences)
		}
	}
	return c.languages[0]
}

// Languages lists the tags there is a words file for, English first.
func (c *Catalogue) Languages() []string {
	var tags []string
	for _, w := range c.languages {
		tags = append(tags, w.tag.String())
	}
	return tags
}

// Lang is the language tag, for the lang attribute.
func (w *Words) Lang() string {
	if w == nil {
		return "en"
	}
	return w.tag.String()
}

// text is format in this language. Without args it is taken as it stands, so
// that "0 to 300 %" needs no doubled sign, as in plain.Sentence.
func (w *Words) text(format string, args []any) string {
	switch {
	case len(args) == 0 && w == nil:
		return format
	case len(args) == 0:
		if text, ok := w.whole[format]; ok {
			return text
		}
		return format
	case w == nil:
		return message.NewPrinter(language.English).Sprintf(format, args...)
	}
	args = w.numbers(args)
	if w.elides() {
		return elisions.Replace(w.printer.Sprintf(format, joints(args)...))
	}
	return w.printer.Sprintf(format, args...)
}
