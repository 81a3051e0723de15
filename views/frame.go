package views

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Frame is what every page has: the struct of a page embeds a *Frame, and the
// layout and the parts speak through it. The zero Frame is somebody not signed
// in, reading English in SI units and UTC.
type Frame struct {
	Title plain.Sentence // the answer the page gives: "Head saw: held, guard loose"
	Words *Words         // the reader's language

	Person procedures.Person // zero when nobody is signed in
	Mill   string            // its name
	Zone   *time.Location    // the mill's; nil is UTC
	Units  checklists.Units  // anything but InchPound shows SI
	Scheme string            // colours the reader chose: "light", "dark", "sun"; "" as the phone says
	Size   string            // of the letters: "large", or "" for normal
	Now    time.Time         // when the page was made

	Path      string         // address of this page, to mark its place in the menu
	Places    []Place        // the menu, as far as this person may go
	StopIt    string         // where "stop it" leads; "" where it has no use
	Encrypt   string         // where the way to the encrypted pages is told; "" where this one is, or none are
	Flash     plain.Sentence // what the act before this page did
	Problems  plain.Problems // what was wrong with the form just sent
	Naming    bool           // the list of problems names their fields, in the order of the form
	SaidOnce  plain.Problems // fields that one of these is about which names none: said beside them only
	Heed      []Place        // what this person has to do before anything else: a notice on every page
	Meanwhile *Meanwhile     // what somebody else changed while this form was filled in
	Notes     *[]Noted       // where the fields of the page are noted, nil for nowhere
	Part      string         // the part of a form its fields are noted under
	SentTo    string         // address the form was sent to that made this page, "" for none
	Sent      string         // data-draft of the form just taken, so the phone drops its copy

	Live    string // address of the event stream; "" leaves the page still
	Seen    int64  // entries in the record when the page was made; the stream's "moved" events carry the same count
	Refresh int    // seconds after which the page loads itself again, without scripts too; 0 never
	Log     string // name of the mill's log, whose checkpoints the phone keeps; "" keeps none
	Wall    bool   // a screen on the wall: no menu, larger
	Alone   bool   // a file to keep: style inside, no menu, nothing asked of a server
	Group   bool   // a page across mills: no mill's menu, and times in UTC
	Reader  string // who is signed in there; "" for nobody

	labels []label // where problems are named, the fields as they came in the form
}

type label struct{ field, text string }

// Place is a line of the menu.
type Place struct {
	Href string
	Text plain.Sentence
}

// framed is what Render asks of a page; an embedded *Frame answers it.
type framed interface{ frame() *Frame }

func (f *Frame) frame() *Frame { return f }

// or lets a part without a frame, as in a test, still say its own words.
func (f *Frame) or() *Frame {
	if f == nil {
		return &Frame{}
	}
	return f
}

// Lang is the language tag of the page.
func (f *Frame) Lang() string { return f.or().Words.Lang() }

// SignedIn tells whether somebody is.
func (f *Frame) SignedIn() bool { return f.or().Person.ID != "" }

// Here tells whether place is the page shown.
func (f *Frame) Here(place Place) bool { return place.Href == f.or().Path }

// T is text in the reader's language: format is the English one, in the manner
// of package fmt, and the key in the catalogue. Quantities, times and sentences
// among args are printed as [Frame.Say] prints them; use %s for them. Without
// args format stands as it is.
func (f *Frame) T(format string, args ...any) string {
	f = f.or()
	printed := make([]any, len(args))
	for i, arg := range args {
		printed[i] = f.printed(arg)
	}
	return f.Words.text(format, printed)
}

// Say is a sentence in the reader's language: quantities in the mill's units,
// times in its zone, sentences inside it likewise; a string somebody wrote
// stays as it is.
func (f *Frame) Say(s plain.Sentence) string { return f.T(s.Format, s.Args...) }

// Refused is a refusal with the clause behind it.
func (f *Frame) Refused(r *plain.Refusal) string {
	if r.Clause == "" {
		return f.Say(r.Why)
	}
	return f.Say(r.Why) + " (" + r.Clause + ")"
}

// Problem is what field wants, or "".
func (f *Frame) Problem(field string) string {
	if want := f.or().Problems.For(field); want != nil {
		return f.Say(*want)
	}
	if mark := f.or().SaidOnce.For(field); mark != nil {
		return f.Say(*mark)
	}
	return ""
}

// Wrongs is the list of what is to be put right.
func (f *Frame) Wrongs() []Wrong {
	place := func(field string) int {
		return slices.IndexFunc(f.labels, func(l label) bool { return l.field == field })
	}
	problems := slices.Clone(f.Problems)
	slices.SortStableFunc(problems, func(a, b plain.Problem) int { return cmp.Compare(place(a.Field), place(b.Field)) })
	var all []Wrong
	for _, p := range problems {
		w := Wrong{Field: p.Field, Want: f.Say(p.Want)}
		if at := place(p.Field); at >= 0 {
			w.Want = f.T("%s: %s", f.labels[at].text, w.Want)
		}
		all = append(all, w)
	}
	return all
}

// Wrong is a problem as the list of them says it.
type Wrong struct{ Field, Want string }

// printed turns what has a unit, a zone or a language into its text and leaves
// strings and bare numbers for the catalogue's own verbs.
func (f *Frame) printed(arg any) any {
	switch arg := arg.(type) {
	case nil:
		return said(f.T("not known"))
	case string, said:
		return arg
	case plain.Sentence:
		return said(f.Say(arg))
	case *plain.Sentence:
		if arg == nil {
			return said("")
		}
		return said(f.Say(*arg))
	case *plain.Refusal:
		return said(f.Refused(arg))
	case []plain.Sentence:
		each := make([]string, len(arg))
		for i := range arg {
			each[i] = f.Say(arg[i])
			if i < len(arg)-1 {
				each[i] = strings.TrimSuffix(each[i], ".") // the mark between stands for it
			}
		}
		return said(strings.Join(each, f.T("; ")))
	case []string:
		return said(strings.Join(arg, ", "))
	case time.Time:
		return said(f.When(arg))
	case plain.Day:
		return said(f.Day(time.Time(arg)))
	case time.Duration:
		return said(f.Span(arg))
	case error:
		return said(arg.Error())
	case float64:
		return f.writtenOut(arg)
	}
	if named, ok := arg.(interface{ In(language string) string }); ok {
		return said(named.In(f.Lang()))
	}
	if text, ok := f.quantity(arg); ok {
		return said(text)
	}
	if state, ok := arg.(interface{ String() string }); ok {
		return said(f.T(state.String()))
	}
	return arg
}
