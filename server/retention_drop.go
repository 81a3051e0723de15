package server

import (
	"context"
	"errors"
	"html"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// dropPage shows what would go, asks why, and then once more.
type dropPage struct {
	*views.Frame
	Submission string
	Seq        int64 // of the entry asked about, -1 for none
	Back       string
	Choose     []dropChoice // of an entry: which of it
	Going      store.Going
	Texts      []string // that would go
	Entries    []int64  // they and the photo stand in
	Values     int
	Left       []int64 // where the same words stay
	More       int     // and so many places beyond
	Photo      string  // address of the photo that would go
	Kept       plain.Sentence
	Seen       string
	Asked      bool // reason and rule are given: now for good?
	Reason     string
	Rule       string
	Fields     []views.Field
}

// dropChoice is one thing of an entry that may be chosen.
type dropChoice struct {
	Name              plain.Sentence // what stands there, in words
	Text, Photo, Href string
}

func (s *Server) showDrop(v *visit) error {
	g := going(func(name string) string { return v.Query(name) })
	if g.Seq < 0 && g.Person == "" && g.Photo == "" {
		return v.moveOn("/retention", "")
	}
	return v.dropPage(g, checklists.DropByHand{}, false, store.NewID(), nil)
}

func (v *visit) dropPage(g store.Going, word checklists.DropByHand, asked bool, submission string, problems plain.Problems) error {
	page := dropPage{Frame: v.frame("Drop for good"), Submission: submission, Going: g, Seq: g.Seq, Back: "/retention", Reason: word.Reason, Rule: word.Rule, Asked: asked}
	page.Problems = problems
	switch {
	case g.Person != "":
		page.Back = "/people/" + string(g.Person)
	case g.Seq >= 0:
		page.Back = "/record/" + strconv.FormatInt(g.Seq, 10)
	}
	if g.Person == "" && g.Photo == "" && g.Path == "" {
		return v.dropChoices(page)
	}
	shown, err := v.desk.ShowDrop(v.ctx(), g, v.person, v.now)
	if page.Kept, err = keptBecause(err); err != nil {
		return err
	}
	if !page.Kept.Empty() {
		page.Title = plain.Say("This is kept")
		return v.show("retention-drop", page, problems)
	}
	page.Texts, page.Values, page.Seen, page.Entries = shown.Texts, shown.Count(), store.Mark(shown), shown.Uses
	page.Left, page.More = shown.Left, shown.More
	for _, one := range shown.Values {
		page.Entries = append(page.Entries, one.Seq)
	}
	if g.Photo != "" {
		page.Photo = "/photos/" + g.Photo
	}
	if page.Asked {
		page.Title = plain.Say("For good? It can't be taken back.")
	}
	page.Fields = []views.Field{
		page.AreaField("reason", page.T("Why it is to go"), word.Reason).WithHint(page.T("This reason stays for good: name nobody.")),
		page.TextField("rule", page.T("Which rule or request lets it go"), word.Rule).WithHint(page.T("Such as a law and its clause, or a request and its day. This stays for good, too: name nobody.")),
	}
	return v.show("retention-drop", page, problems)
}

// keptBecause is what keeps something from being dropped, empty for nothing. Any
// other error comes back as it is.
func keptBecause(err error) (plain.Sentence, error) {
	var refusal *plain.Refusal
	switch {
	case !errors.As(err, &refusal):
		return plain.Sentence{}, err
	case refusal.Clause != "":
		return plain.Say("%s (%s)", refusal.Why, refusal.Clause), nil
	}
	return refusal.Why, nil
}

// droppable tells whether an entry has anything that may be dropped by this
// visitor, and where it has but may not, what keeps it.
func (v *visit) droppable(seq int64) (may bool, kept plain.Sentence, err error) {
	fields, photos, err := v.desk.FieldsOf(v.ctx(), seq)
	if err != nil || len(fields)+len(photos) == 0 {
		return false, plain.Sentence{}, err
	}
	kept, err = keptBecause(v.desk.MayDrop(v.ctx(), seq, v.person, v.now))
	return err == nil && kept.Empty(), kept, err
}

// dropChoices offers what an entry has that can go.
func (v *visit) dropChoices(page dropPage) error {
	fields, photos, err := v.desk.FieldsOf(v.ctx(), page.Seq)
	if err != nil {
		return err
	}
	// Who may not, or not yet, is told before choosing.
	if len(fields)+len(photos) > 0 {
		if page.Kept, err = keptBecause(v.desk.MayDrop(v.ctx(), page.Seq, v.person, v.now)); err != nil {
			return err
		}
		if !page.Kept.Empty() {
			page.Title = plain.Say("This is kept")
			return v.show("retention-drop", page, nil)
		}
	}
	page.Title = plain.Say("Entry %d: what is to go?", page.Seq)
	for _, f := range fields {
		page.Choose = append(page.Choose, dropChoice{Name: fieldWords(f.Path), Text: f.Value, Href: dropPath(store.Going{Seq: page.Seq, Path: f.Path})})
	}
	for _, digest := range photos {
		page.Choose = append(page.Choose, dropChoice{Photo: "/photos/" + digest, Href: dropPath(store.Going{Photo: digest})})
	}
	return v.show("retention-drop", page, nil)
}

// dropByHand takes the reason, shows all once more, and drops on the signature.
func (s *Server) dropByHand(v *visit) error {
	g := going(v.typed)
	word := checklists.DropByHand{Reason: v.typed("reason"), Rule: v.typed("rule")}
	if v.typed("asked") != "yes" {
		problems, err := problemsOf(word.Validate())
		if err != nil {
			return err
		}
		return v.dropPage(g, word, len(problems) == 0, v.submission(), problems)
	}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		ctx, cancel := context.WithTimeout(s.stopping, dropLasts)
		defer cancel()
		err := v.desk.DropByHand(ctx, v.submission(), v.typed("seen"), g, word, v.person, v.now)
		if err == nil {
			return v.moveOn("/retention", "dropped")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.dropPage(g, word, true, v.submission(), problems)
}

// goneLine is what was dropped of an entry, by whom and why.
type goneLine struct {
	Entry  string // address of the entry that says so
	Number int64
	Places []plain.Sentence
	Photo  string // digest
	Said   plain.Sentence
}

// goneFrom says what of an entry is no longer kept.
func (v *visit) goneFrom(seq int64, t teller) ([]goneLine, error) {
	gone, err := v.desk.DroppedFrom(v.ctx(), seq)
	if err != nil {
		return nil, err
	}
	var lines []goneLine
	for _, g := range gone {
		line := goneLine{Entry: "/record/" + strconv.FormatInt(g.Entry, 10), Number: g.Entry, Photo: g.Photo, Said: t.gone(g)}
		for _, path := range g.Paths {
			line.Places = append(line.Places, fieldWords(path))
		}
		lines = append(lines, line)
	}
	return lines, nil
}

// gone says when something was dropped, by whom and why.
func (t teller) gone(g store.Gone) plain.Sentence {
	if g.By == "" {
		return plain.Say("No longer kept: dropped %[1]s by the policy of entry %[2]d.", g.At, g.Policy)
	}
	if g.Reason == "" {
		return plain.Say("No longer kept: dropped %[1]s by %[2]s.", g.At, t.who(g.By))
	}
	return plain.Say("No longer kept: dropped %[1]s by %[2]s. Why: %[3]s. By which rule: %[4]s.", g.At, t.who(g.By), g.Reason, g.Rule)
}

// photoGone answers for a photo that was dropped: with a page to somebody who
// opened it, with a picture that says so where it stands in a page.
func (v *visit) photoGone(digest string) error {
	gone, err := v.desk.PhotoDropped(v.ctx(), digest)
	if err != nil {
		return err
	}
	v.Set(fiber.HeaderCacheControl, "no-store")
	f := v.frame("This photo is no longer kept")
	if strings.Contains(v.Get(fiber.HeaderAccept), "text/html") {
		names, err := v.names()
		if err != nil {
			return err
		}
		page := photoGonePage{Frame: f, Digest: digest, Gone: goneLine{Entry: "/record/" + strconv.FormatInt(gone.Entry, 10), Number: gone.Entry, Said: teller{names: names}.gone(gone)}}
		v.Status(fiber.StatusGone)
		return v.show("photo-gone", page, nil)
	}
	v.Set(fiber.HeaderContentType, "image/svg+xml")
	return v.SendString(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 320 120" role="img"><rect width="320" height="120" fill="#ddd"/><text x="160" y="66" text-anchor="middle" font-family="sans-serif" font-size="16" fill="#222">` +
		html.EscapeString(f.T("Photo no longer kept")) + `</text></svg>`)
}

type photoGonePage struct {
	*views.Frame
	Digest string
	Gone   goneLine
}
