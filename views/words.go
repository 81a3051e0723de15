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
	tag   language.Tag
	read  func() (texts, error) // of its file, once
	marks marks
}

// texts are what a words file holds.
type texts struct {
	whole   map[string]string // entries without plural forms
	printer *message.Printer  // has those with them
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

// embedded is made once: it serves every server of a process.
var embedded = sync.OnceValues(func() (*Catalogue, error) {
	files, err := fs.Sub(wordFiles, "words")
	if err != nil {
		return nil, err
	}
	return catalogueOf(files)
})

// LoadCatalogue is the catalogue of the embedded words files. Each is read when the
// first reader has its language: no start waits for those nobody here reads. That
// all can be read is for the tests of this package to see. An error names the file,
// and is a fault of the build.
func LoadCatalogue() (*Catalogue, error) { return embedded() }

// ReadCatalogue reads the words files at the top of files, all of them.
func ReadCatalogue(files fs.FS) (*Catalogue, error) {
	c, err := catalogueOf(files)
	if err != nil {
		return nil, err
	}
	for _, w := range c.languages {
		if _, err := w.read(); err != nil {
			return nil, err
		}
	}
	return c, nil
}

func catalogueOf(files fs.FS) (*Catalogue, error) {
	names, err := fs.Glob(files, "*.json")
	if err != nil {
		return nil, err
	}
	c := &Catalogue{}
	for _, name := range names {
		tag, err := tagOf(name)
		if err != nil {
			return nil, fmt.Errorf("words %s: %w", name, err)
		}
		c.languages = append(c.languages, &Words{tag: tag, marks: marksOf(tag), read: sync.OnceValues(func() (texts, error) { return readTexts(files, name, tag) })})
	}
	sort.SliceStable(c.languages, func(i, j int) bool {
		return c.languages[i].tag == language.English && c.languages[j].tag != language.English
	})
	if len(c.languages) == 0 || c.languages[0].tag != language.English {
		return nil, fmt.Errorf("words: no en.json")
	}
	var tags []language.Tag
	for _, w := range c.languages {
		tags = append(tags, w.tag)
	}
	c.matcher = language.NewMatcher(tags)
	return c, nil
}

// readTexts reads one words file. With an error, too, there is what a reader can be
// shown: the English of the program.
func readTexts(files fs.FS, name string, tag language.Tag) (texts, error) {
	builder := catalog.NewBuilder(catalog.Fallback(language.English))
	t := texts{whole: map[string]string{}, printer: message.NewPrinter(tag, message.Catalog(builder))}
	entries, err := readWords(files, name)
	if err != nil {
		return t, fmt.Errorf("words %s: %w", name, err)
	}
	for key, e := range entries {
		if e.forms == nil {
			t.whole[key] = e.text
			if entries[e.text].forms == nil {
				continue // what the printer need not count, it is given whole
			}
		}
		if err := builder.Set(tag, key, e.message()); err != nil {
			return t, fmt.Errorf("words %s: %q: %w", name, key, err)
		}
	}
	return t, nil
}

// tagOf is the language of a words file.
func tagOf(name string) (language.Tag, error) {
	return language.Parse(strings.TrimSuffix(path.Base(name), ".json"))
}

func readWords(files fs.FS, name string) (entries map[string]entry, err error) {
	raw, err := fs.ReadFile(files, name)
	if err != nil {
		return nil, err
	}
	err = json.Unmarshal(raw, &entries)
	return entries, err
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
	case w == nil:
		return message.NewPrinter(language.English).Sprintf(format, args...)
	}
	t, _ := w.read() // with an error, English
	whole, is := t.whole[format]
	if !is {
		whole = format
	}
	if len(args) == 0 {
		return whole
	}
	args = w.numbers(args)
	if w.elides() {
		return elisions.Replace(t.printer.Sprintf(message.Key(format, whole), joints(args)...))
	}
	return t.printer.Sprintf(message.Key(format, whole), args...)
}
