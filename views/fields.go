package views

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Field is one input with its label, hint and problem. Make it with a method of
// Frame, which finds the problem; all its texts are in the reader's language.
type Field struct {
	*Frame
	Kind    string // "text", "number", "area", "choice", "tick", "photo", "secret", "date", "time", "moment"
	Name    string
	Label   string
	Value   string // as typed
	Hint    string
	Unit    string // shown behind the input
	Problem string
	Choices []Choice
	Offers  []string // values to pick from instead of typing
	Ticked  bool
	List    bool   // a choice that never shows as buttons
	Full    bool   // a choice whose words are long: buttons for longer
	Must    bool   // the browser asks for it too
	Fill    string // autocomplete token
	Scan    bool   // the camera may read it from a tag or plate
}

// Choice is one value of a choice field. In a list, neighbours of the same group
// stand under its name.
type Choice struct{ Value, Text, Group string }

// Offer is a choice in the program's own words, in the reader's language, which begin
// with a capital. What the mill wrote stands as it was written: make that a Choice.
func Offer(value, text string) Choice {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return Choice{Value: value}
	}
	return Choice{Value: value, Text: string(unicode.ToTitle(first)) + text[size:]}
}

func (f *Frame) field(kind, name, text, value string) Field {
	if f := f.or(); f.Naming {
		f.labels = append(f.labels, label{name, text})
	}
	return Field{Frame: f, Kind: kind, Name: name, Label: text, Value: value, Problem: f.Problem(name), Fill: "off"}
}

// noted is a field that holds what it shows.
func (f *Frame) noted(kind, name, label, value string) Field {
	if kind == "number" {
		value = f.inReaderMark(value)
	}
	f.Note(name, label, value, value)
	return f.field(kind, name, label, value)
}

// TextField is a line of text, also for a length typed as 7' 6".
func (f *Frame) TextField(name, label, value string) Field {
	return f.noted("text", name, label, value)
}

// NumberField is a decimal number; value is what was typed.
func (f *Frame) NumberField(name, label, value string) Field {
	return f.noted("number", name, label, value)
}

// AreaField is several lines of text.
func (f *Frame) AreaField(name, label, value string) Field {
	return f.noted("area", name, label, value)
}

// ChoiceField is one of several values: large buttons up to six, a list beyond.
func (f *Frame) ChoiceField(name, label, value string, choices []Choice) Field {
	field := f.field("choice", name, label, value)
	field.Choices = choices
	f.noteChoice(name, label, value, choices)
	return field
}

// TickField is a tick, sent as "yes"; a step of a procedure is one.
func (f *Frame) TickField(name, label string, ticked bool) Field {
	field := f.field("tick", name, label, "yes")
	field.Ticked = ticked
	f.noteTick(name, label, ticked)
	return field
}

// DayField is a date, sent as yyyy-mm-dd.
func (f *Frame) DayField(name, label, value string) Field { return f.noted("date", name, label, value) }

// TimeField is a time of day, sent as 15:04.
func (f *Frame) TimeField(name, label, value string) Field {
	return f.noted("time", name, label, value)
}

// PhotoField takes a picture with the phone's camera. Its form needs
// method="post" enctype="multipart/form-data".
func (f *Frame) PhotoField(name, label string) Field { return f.field("photo", name, label, "") }

// MomentField is a day and a time of day on the mill's clock, typed as
// 2026-03-02T17:30; a phone offers its own picker.
func (f *Frame) MomentField(name, label, value string) Field {
	return f.noted("moment", name, label, value)
}

// SecretField is a password that is not a signature, as at sign-in.
func (f *Frame) SecretField(name, label string) Field {
	field := f.field("secret", name, label, "")
	field.Fill = "current-password"
	return field
}

// WithHint adds a line that says how to fill it in.
func (d Field) WithHint(hint string) Field { d.Hint = hint; return d }

// WithUnit adds the unit behind the input.
func (d Field) WithUnit(unit string) Field { d.Unit = unit; return d }

// Offering lets the browser offer values to pick from.
func (d Field) Offering(values []string) Field { d.Offers = values; return d }

// Scanned lets the camera read it, where the browser can.
func (d Field) Scanned() Field { d.Scan = true; return d }

// Required has the browser ask for it.
func (d Field) Required() Field { d.Must = true; return d }

// WithFill sets the autocomplete token, "username".
func (d Field) WithFill(token string) Field { d.Fill = token; return d }

// ID is the id of the input, the target of the layout's list of problems.
func (d Field) ID() string { return "f-" + d.Name }

// Described is the ids that describe the input, for aria-describedby.
func (d Field) Described() string {
	switch {
	case d.Hint != "" && d.Problem != "":
		return d.ID() + "-hint " + d.ID() + "-want"
	case d.Hint != "":
		return d.ID() + "-hint"
	case d.Problem != "":
		return d.ID() + "-want"
	}
	return ""
}

// AsList shows a choice as a list that folds up, however few there are.
func (d Field) AsList() Field { d.List = true; return d }

// InFull shows a choice with long words as buttons up to twice as many: a list that
// is folded up cuts off what is longer than the phone is wide.
func (d Field) InFull() Field { d.Full = true; return d }

// Buttons tells whether a choice shows as buttons rather than a list.
func (d Field) Buttons() bool {
	most := 6
	if d.Full {
		most = 12
	}
	return !d.List && len(d.Choices) <= most
}

// ChoiceGroup is what stands under one name in a list, or under none.
type ChoiceGroup struct {
	Name    string
	Choices []Choice
}

// Groups are the choices by group, in order.
func (d Field) Groups() (groups []ChoiceGroup) {
	for i, c := range d.Choices {
		if i == 0 || c.Group != d.Choices[i-1].Group {
			groups = append(groups, ChoiceGroup{Name: c.Group})
		}
		last := &groups[len(groups)-1]
		last.Choices = append(last.Choices, c)
	}
	return groups
}

// Answer is one item of a list with OK · Defect · Not checked. Its inputs are
// named Name, and Name followed by ".note", ".photo", ".severity", ".stop_gap",
// ".mend_by", ".number", ".text" and those of Asks; a problem with one goes by the same name, one
// with the answer itself by Name or Name followed by ".result".
type Answer struct {
	*Frame
	Name     string // "C1"
	Prompt   string
	How      string
	Source   string
	Result   string // "ok", "defect", "not-checked", or "" for no answer
	Severity string // "stop" or "mend"; as answered, else the item's own
	Stops    bool   // the list's author made it a stop item: severity is not asked
	Note     string
	StopGap  string
	MendBy   string         // yyyy-mm-dd
	Number   *Field         // a measurement, asked above the answer
	Text     *Field         // words, likewise
	Asks     []Field        // whatever else is asked there: one of several words, a meter, a person
	Picture  string         // address of a picture that shows how
	Photo    string         // address of the picture kept so far
	AskPhoto bool           // a picture whatever the answer
	Known    plain.Sentence // a defect that stands on it from before
	KnownAt  string         // its address
}

// AnswerBox gives a the page's words and problems.
func (f *Frame) AnswerBox(a Answer) Answer {
	a.Frame = f
	return a
}

// ID is the id of the item on the page.
func (a Answer) ID() string { return "f-" + a.Name }

// Wrong is what is wrong with the answer itself, or "".
func (a Answer) Wrong() string {
	if wrong := a.Problem(a.Name); wrong != "" {
		return wrong
	}
	return a.Problem(a.Name + ".result")
}

// NoteField asks what is wrong, or why it was not checked.
func (a Answer) NoteField() Field {
	return a.AreaField(a.Name+".note", a.T("What is wrong, or why it was not checked"), a.Note)
}

// PhotoPart asks for a picture.
func (a Answer) PhotoPart() Field {
	label := a.T("Photo")
	if a.Photo != "" {
		label = a.T("Another photo in place of this one")
	}
	return a.PhotoField(a.Name+".photo", label)
}

// SeverityField asks what a defect means.
func (a Answer) SeverityField() Field {
	return a.ChoiceField(a.Name+".severity", a.T("How bad"), a.Severity, []Choice{
		{Value: "stop", Text: a.T("Stop: may not run until mended")},
		{Value: "mend", Text: a.T("Mend: may run with a stop-gap until a day")},
	})
}

// StopGapField asks what makes it fit to run meanwhile.
func (a Answer) StopGapField() Field {
	return a.TextField(a.Name+".stop_gap", a.T("Stop-gap until it is mended"), a.StopGap)
}

// MendByField asks for the day a mend item becomes a stop item.
func (a Answer) MendByField() Field {
	return a.DayField(a.Name+".mend_by", a.T("Mend by"), a.MendBy)
}

// Sign is the box in which a person signs.
type Sign struct {
	*Frame
	Says     string // what the signature says
	Button   string
	Password bool   // a password in place of a PIN
	Hold     bool   // can't be undone: its button is held
	When     string // what in the form must be chosen for that, as a selector; "" for always
	action   string
}

// SignBox asks for the signer's PIN again, or a supervisor's password, in the
// field "pin".
func (f *Frame) SignBox(says, button string) Sign {
	return Sign{Frame: f, Says: says, Button: button, Password: f.or().Person.Role == procedures.Supervisor}
}

// At is for one of several boxes on a page: what was wrong is shown in the one of
// the form that was sent, by its action.
func (s Sign) At(action string) Sign { s.action = action; return s }

// ID is that of the field for the PIN: of several boxes the one of the form that was
// sent has the plain one, where the list of what to put right leads.
func (s Sign) ID() string {
	if s.action == "" || s.action == s.Frame.or().SentTo {
		return "f-pin"
	}
	return "f-pin-" + strings.ReplaceAll(strings.Trim(s.action, "/"), "/", "-")
}

// Problem is what the field wants, or "" where another form of the page was sent.
func (s Sign) Problem(field string) string {
	if s.action != "" && s.action != s.Frame.or().SentTo {
		return ""
	}
	return s.Frame.Problem(field)
}

// Held has the button held for a second, for what can't be undone.
func (s Sign) Held() Sign { s.Hold = true; return s }

// HeldWhen has it held only while the form has what the selector finds, for a form
// of which one choice can't be undone.
func (s Sign) HeldWhen(selector string) Sign { s.Hold, s.When = true, selector; return s }

// WithPassword asks for a password instead.
func (s Sign) WithPassword() Sign { s.Password = true; return s }

// Pager leads through a long list.
type Pager struct {
	*Frame
	Newer, Older string // addresses; "" where there is none
	First, Last  int    // positions shown, from 1
}

// PagerFor is the part for a page of a list.
func (f *Frame) PagerFor(newer, older string, first, last int) Pager {
	return Pager{f, newer, older, first, last}
}

// Empty says that there is nothing and what to do about it.
type Empty struct{ Text, Href, Link string }

// EmptyList is the part where a list has nothing; href and link may be "".
func (f *Frame) EmptyList(text, href, link string) Empty { return Empty{text, href, link} }

// Progress is how far a walk through a list has come.
type Progress struct {
	*Frame
	Done, Of int
}

// ProgressOf is the part for done of all.
func (f *Frame) ProgressOf(done, of int) Progress { return Progress{f, done, of} }

// ErrorPage is the data of the page "error".
type ErrorPage struct {
	*Frame
	Status int    // HTTP
	Do     string // what to do about it, in the reader's language
	Back   string // address to go back to; "" is the first page
}
