package server

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// typedAnswer is one item's inputs as typed.
type typedAnswer struct {
	Result, Number, Text, Note, Severity, StopGap, MendBy string
	Person                                                string
	Replaced                                              bool
	Photo                                                 string // digest of a picture sent or kept before
}

// walkForm is what one form of answers brought: the answers to take, each
// item's inputs as typed so that they come back, and what could not be read.
type walkForm struct {
	Answers  []checklists.Answer
	Same     []checklists.Answer // that are kept just so
	Typed    map[checklists.ItemID]typedAnswer
	Back     []checklists.ItemID // taken back: no answer any more
	Problems plain.Problems
}

// readAnswers reads every one of the items that was touched in the form sent.
// An item whose answer stands in before as it was sent is left out, so that it
// keeps the time it was seen, unless that is too long ago to be signed.
func (v *visit) readAnswers(items []checklists.Item, before []checklists.Answer) (walkForm, error) {
	form := walkForm{Typed: map[checklists.ItemID]typedAnswer{}}
	given, back := byItem(before), v.takenBack()
	for _, item := range items {
		name := string(item.ID)
		photo, wrong, err := v.photo(name + ".photo")
		if err != nil {
			return form, err
		}
		if photo == "" {
			if photo, err = v.sentBefore(name + ".kept"); err != nil {
				return form, err
			}
		}
		typed := typedAnswer{Result: v.typed(name), Number: v.typed(name + ".number"), Text: v.typed(name + ".text"), Note: v.typed(name + ".note"),
			Severity: v.typed(name + ".severity"), StopGap: v.typed(name + ".stop_gap"), MendBy: v.typed(name + ".mend_by"), Photo: photo,
			Person: v.typed(name + ".person"), Replaced: v.typed(name+".replaced") == "yes"}
		if !typed.touched() && len(wrong) == 0 {
			if slices.Contains(back, name) {
				form.Back = append(form.Back, item.ID)
			}
			continue
		}
		kept, answered := given[item.ID]
		if answered && typed.Photo == "" {
			typed.Photo = kept.Photo
		}
		form.Typed[item.ID] = typed
		answer, unread := typed.answer(item, v.zone, v.typedIn)
		wrong = append(wrong, unread...)
		if len(wrong) > 0 {
			form.Problems = append(form.Problems, wrong...)
			continue
		}
		if answered && same(answer, kept) && v.now.Sub(kept.At) <= checklists.AnswerLasts {
			form.Same = append(form.Same, answer)
			continue
		}
		form.Answers = append(form.Answers, answer)
	}
	return form, nil
}

// takenBack are the items a person took the answer to back.
func (v *visit) takenBack() []string {
	form, err := v.MultipartForm()
	if err != nil {
		return nil
	}
	return form.Value["back"]
}

// sentBefore is the digest of a picture that came with an earlier sending of
// the form, "" if the mill has no such picture.
func (v *visit) sentBefore(field string) (string, error) {
	digest := v.typed(field)
	if digest == "" {
		return "", nil
	}
	_, err := v.desk.Photo(v.ctx(), digest)
	if errors.Is(err, store.ErrNotFound) {
		return "", nil
	}
	return digest, err
}

func byItem(answers []checklists.Answer) map[checklists.ItemID]checklists.Answer {
	given := make(map[checklists.ItemID]checklists.Answer, len(answers))
	for _, a := range answers {
		given[a.Item] = a
	}
	return given
}

// touched tells whether anything was entered; the severity alone may be the
// item's own.
func (t typedAnswer) touched() bool {
	return t.Result != "" || t.Number != "" || t.Text != "" || t.Note != "" || t.StopGap != "" || t.MendBy != "" || t.Photo != "" || t.Person != "" || t.Replaced
}

// answer is what was typed as the rules take it. Its problems are those of
// reading only, with the item's id before the field.
func (t typedAnswer) answer(item checklists.Item, zone *time.Location, in measures) (checklists.Answer, plain.Problems) {
	var problems plain.Problems
	a := checklists.Answer{Item: item.ID, Result: checklists.Result(t.Result), Text: t.Text, Note: t.Note, Photo: t.Photo,
		Severity: checklists.Severity(t.Severity), StopGap: t.StopGap, MendBy: endOfDay(t.MendBy, zone),
		Person: procedures.PersonID(t.Person), Replaced: t.Replaced}
	if (item.Kind == checklists.Number || item.Kind == checklists.MeterReading) && t.Number != "" && a.Result != checklists.NotChecked {
		field := string(item.ID) + ".number"
		number, err := checklists.ParseNumber(in.pointedUpTo(item.Limits.Most, field, withoutUnit(t.Number, item.Limits.Unit), &problems))
		problems.At(field, err)
		a.Number = &number
	}
	return a, problems
}

// withoutUnit takes off the item's own unit, where it was typed behind the
// number; any other unit stays and is refused.
func withoutUnit(typed, unit string) string {
	if bare, ok := strings.CutSuffix(typed, unit); ok && unit != "" {
		return strings.TrimSpace(bare)
	}
	return typed
}

// endOfDay is the last minute of a day typed as 2006-01-02, zero for anything else.
func endOfDay(typed string, zone *time.Location) time.Time {
	day, err := time.ParseInLocation(time.DateOnly, typed, zone)
	if err != nil {
		return time.Time{}
	}
	return time.Date(day.Year(), day.Month(), day.Day(), 23, 59, 0, 0, zone).UTC()
}

// same tells whether the answer sent says what the kept one says. A number
// decides by itself whether it is OK.
func same(sent, kept checklists.Answer) bool {
	result := sent.Result == kept.Result || sent.Result == "" && sent.Text != "" && kept.Result == checklists.OK
	if sent.Number != nil && (sent.Result == "" || sent.Result == checklists.OK) {
		result = kept.Result != checklists.NotChecked
	}
	number := sent.Number == nil && kept.Number == nil || sent.Number != nil && kept.Number != nil && *sent.Number == *kept.Number
	words := sent.Note == kept.Note && sent.Text == kept.Text && sent.Photo == kept.Photo && sent.Person == kept.Person && sent.Replaced == kept.Replaced
	mend := kept.Severity != checklists.Mend && sent.Severity != checklists.Mend ||
		sent.Severity == kept.Severity && sent.StopGap == kept.StopGap && sent.MendBy.Equal(kept.MendBy)
	return result && number && words && (kept.Result != checklists.Found || mend)
}

// typedOf is a kept answer as its inputs show it.
func typedOf(a checklists.Answer, zone *time.Location) typedAnswer {
	t := typedAnswer{Result: string(a.Result), Text: a.Text, Note: a.Note, Severity: string(a.Severity), StopGap: a.StopGap, Photo: a.Photo, Person: string(a.Person), Replaced: a.Replaced}
	if a.Number != nil {
		if t.Number = numeral(*a.Number); plain.OneWay(t.Number) != nil {
			t.Number += "0" // shown as it has to be typed
		}
	}
	if !a.MendBy.IsZero() {
		t.MendBy = a.MendBy.In(zone).Format(time.DateOnly)
	}
	return t
}

// numeral is a measurement as it was typed, without a needless nought.
func numeral(x float64) string { return strconv.FormatFloat(asTyped(x), 'f', -1, 64) }

// typedDigits is more than any instrument shows, and less than the digits in
// which reckoning leaves its slips.
const typedDigits = 12

// asTyped is x without what reckoning in binary left behind its last digit: 0.03
// for 0.030000000000000002.
func asTyped(x float64) float64 {
	if y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', typedDigits, 64), 64); err == nil {
		return y
	}
	return x
}

// itemBox is one item to answer on a page.
type itemBox struct {
	views.Answer
	Kept      string         // digest of the picture kept so far
	Heading   *itemHeading   // of the first of a repeated item
	Only      plain.Sentence // of a preview: on what answer it is asked
	AskedWhen string         // not asked as things stand: the answers that would bring it up, for a phone without contact
}

// itemHeading is what all of a repeated item have in common.
type itemHeading struct{ Prompt, How, Source, Picture string }

func boxOf(f *views.Frame, item checklists.Item, typed typedAnswer, in measures, named func(checklists.Item) []procedures.Person) itemBox {
	name := string(item.ID)
	box := views.Answer{Name: name, Prompt: f.T("%[1]s · %[2]s", name, item.Said()), How: item.How, Source: item.Source, Picture: photoAt(item.Picture), Result: typed.Result, Severity: typed.Severity,
		Stops: item.Severity != checklists.Mend, Note: typed.Note, StopGap: typed.StopGap, MendBy: typed.MendBy, AskPhoto: item.AlwaysPhoto || item.Kind == checklists.Photo}
	if box.Severity == "" {
		box.Severity = string(item.Severity)
	}
	if typed.Photo != "" {
		box.Photo = "/photos/" + typed.Photo
	}
	switch item.Kind {
	case checklists.Number:
		field := f.NumberField(name+".number", f.T("Measured"), typed.Number).WithUnit(item.Limits.Unit)
		if said := item.Limits.Said(); !said.Empty() {
			field = field.WithHint(f.T("OK: %s. A number outside is a defect.", said))
		}
		box.Number = &field
		if box.Result == string(checklists.OK) && typed.outside(item, in) {
			box.Result = string(checklists.Found)
		}
	case checklists.Text:
		field := f.TextField(name+".text", f.T("In words or numbers, as it stands there"), typed.Text)
		box.Text = &field
	}
	box.Asks = asksOf(f, item, typed, named)
	return itemBox{Answer: f.AnswerBox(box), Kept: typed.Photo}
}

// outside tells whether the number that was typed makes a defect of what it measures.
func (t typedAnswer) outside(item checklists.Item, in measures) bool {
	a, problems := t.answer(item, time.UTC, in)
	return len(problems) == 0 && a.Number != nil && item.Limits.Plausible(*a.Number) && !item.Limits.Within(*a.Number)
}

// knows says that an earlier check found the item wrong and nobody has mended it
// since, and offers what was written then, so that it need not be typed again.
func (b *itemBox) knows(d checklists.Defect, zone *time.Location, now time.Time) {
	b.Known = plain.Say("Known since %s and not yet mended: %s. Answered Defect, it stays the one defect.", d.At, d.What)
	if !d.StopsNow(now) {
		b.Known = plain.Say("Known since %[1]s and not yet mended: %[2]s. Answered Defect, it stays the one defect, to mend by %[3]s. An earlier date counts and makes another defect; a later one puts nothing off.", d.At, d.What, d.MendBy)
	}
	b.KnownAt = "/defects/" + string(d.ID)
	if b.Result != "" || b.Note != "" {
		return
	}
	b.Note, b.StopGap, b.Severity = d.What, d.StopGap, string(d.Severity)
	if !d.MendBy.IsZero() {
		b.MendBy = d.MendBy.In(zone).Format(time.DateOnly)
	}
}

// station is the items answered in one place in one state of the machine.
type station struct {
	Anchor   string
	Name     string
	Items    []itemBox
	Answered int
	Of       int    // asked as things stand
	Next     string // where "go on" leads: "stopped", "stopped.2", "sign"
}

// stations groups items as one walks; what a form brought back stands in place
// of what is kept where it has a problem.
func stations(f *views.Frame, items []checklists.Item, given map[checklists.ItemID]checklists.Answer, typed map[checklists.ItemID]typedAnswer, zone *time.Location, in measures, named func(checklists.Item) []procedures.Person) []station {
	var all []station
	for _, item := range items {
		at := slices.IndexFunc(all, func(s station) bool { return s.Name == item.Station })
		if at < 0 {
			at = len(all)
			all = append(all, station{Name: item.Station, Anchor: "s" + strconv.Itoa(at+1)})
		}
		kept, answered := given[item.ID]
		shown := typedOf(kept, zone)
		if back, sent := typed[item.ID]; sent && (!answered || wrongWith(f.Problems, item.ID)) {
			shown = back
		}
		if answered {
			all[at].Answered++
		}
		box := boxOf(f, item, shown, in, named)
		all[at].Of++
		if item.Nth > 0 {
			box.under(f, item, all[at].Items)
		}
		all[at].Items = append(all[at].Items, box)
	}
	return all
}

// sayingWhich puts the item before what is wrong with it: in the list at the head of
// the page "a photo of the defect" alone does not say of which.
func sayingWhich(problems plain.Problems, list checklists.List) plain.Problems {
	said := slices.Clone(problems)
	for i, p := range said {
		id, _, _ := strings.Cut(p.Field, ".")
		if _, known := list.Item(checklists.ItemID(id)); known {
			said[i].Want = plain.Say("%s: %s", id, p.Want)
		}
	}
	return said
}

func wrongWith(problems plain.Problems, item checklists.ItemID) bool {
	return slices.ContainsFunc(problems, func(p plain.Problem) bool {
		return p.Field == string(item) || strings.HasPrefix(p.Field, string(item)+".")
	})
}
