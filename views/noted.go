package views

import (
	"slices"
	"strings"
)

// Noted is one field of a form as it was filled in: what a page is compared by
// when two people were on the same form.
type Noted struct {
	Name, Label string
	Value       string // as sent; what two fillings are compared by
	Text        string // as read; "" for nothing
}

// Meanwhile tells what somebody else changed while a form was filled in.
type Meanwhile struct {
	Who         string // says who and when
	Mark        string // of what is stored now, sent by the tick that it was read
	Differences []Difference
}

// Difference is a field in which what is typed and what is stored now differ.
type Difference struct{ Name, Label, Typed, Stored string }

// Note keeps how a field is filled in, where the server asked for that.
func (f *Frame) Note(name, label, value, text string) {
	f = f.or()
	if f.Notes == nil {
		return
	}
	if f.Part != "" {
		label = f.Part + ", " + label
	}
	// A browser sends the ends of lines its own way.
	plain := func(s string) string { return strings.TrimSpace(strings.ReplaceAll(s, "\r\n", "\n")) }
	*f.Notes = append(*f.Notes, Noted{name, label, plain(value), plain(text)})
}

func (f *Frame) noteTick(name, label string, ticked bool) {
	text := f.T("not ticked")
	if ticked {
		text = f.T("ticked")
	}
	f.Note(name, label, text, text)
}

func (f *Frame) noteChoice(name, label, value string, choices []Choice) {
	text := value
	if i := slices.IndexFunc(choices, func(c Choice) bool { return c.Value == value }); i >= 0 && value != "" {
		text = choices[i].Text
	}
	f.Note(name, label, value, text)
}

func (f *Frame) noteTicks(name, legend string, ticks []Tick) {
	var values, texts []string
	for _, tick := range ticks {
		if tick.Ticked {
			values, texts = append(values, tick.Value), append(texts, tick.Text)
		}
	}
	f.Note(name, legend, strings.Join(values, "\n"), strings.Join(texts, ", "))
}

// Differ are the fields in which two fillings of a form differ, in its order. A
// field one of them lacks counts as empty there.
func Differ(typed, stored []Noted) []Difference {
	var all []Difference
	find := func(in []Noted, name string) Noted {
		if i := slices.IndexFunc(in, func(n Noted) bool { return n.Name == name }); i >= 0 {
			return in[i]
		}
		return Noted{}
	}
	for _, n := range typed {
		if now := find(stored, n.Name); now.Value != n.Value {
			all = append(all, Difference{n.Name, n.Label, n.Text, now.Text})
		}
	}
	for _, now := range stored {
		if now.Value != "" && find(typed, now.Name).Name == "" {
			all = append(all, Difference{now.Name, now.Label, "", now.Text})
		}
	}
	return all
}
