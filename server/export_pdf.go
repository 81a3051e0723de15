package server

import (
	"errors"
	"io"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
	"stillsaw/server/store"
	"stillsaw/views"
	"stillsaw/views/sheet"
)

// printedMost is how many entries go on paper at once: about 150 pages.
const printedMost = 5000

// exportPaper is an export as it goes on paper: what the screens show, by the
// same sentences and figures, with the proof at its end.
type exportPaper struct {
	*views.Frame
	v       *visit
	r       *sheet.Report
	asked   exportAsked
	unseen  unseen
	gone    string // the word for what is no longer kept
	entries []paperEntry
	teller  teller
	plant   procedures.Plant
	names   map[procedures.PersonID]string
	signed  store.Checkpoint
}

// paperEntry is one entry with the local day it is filed under.
type paperEntry struct {
	store.Entry
	day string
}

func (v *visit) paperOf(asked exportAsked) *exportPaper {
	f := v.frame("%s", v.mill.Name)
	f.Now = time.Time{} // on paper no day is today
	return &exportPaper{Frame: f, v: v, asked: asked, gone: f.T("no longer kept"), unseen: unseen{Withhold: asked.Withhold, word: f.T("withheld")}}
}

func (p *exportPaper) begin(c store.Checkpoint) (err error) {
	p.signed = c
	p.unseen, err = p.v.unseen(p.asked.Withhold, p.unseen.word)
	return err
}

func (p *exportPaper) each(x store.Exported) error {
	if len(p.entries) == printedMost {
		return tooMuchForPaper()
	}
	p.entries = append(p.entries, paperEntry{x.Marked(p.unseen.word, p.gone), x.Row.Columns.Day})
	return nil
}

func (p *exportPaper) end(out io.Writer) (err error) {
	if p.teller, err = p.v.teller(p.bare()); err != nil {
		return err
	}
	p.teller.names = p.unseen.names(p.teller.names)
	p.plant, p.names = p.teller.plant, p.teller.names
	if err := p.set(); err != nil {
		return err
	}
	return p.r.Write(out)
}

func tooMuchForPaper() error {
	return plain.Refuse("", "That is more than %d entries, too many to print. Choose fewer days, one machine or one person, or take it as a table (CSV) or as JSON, which have no such bound.", printedMost)
}

func (p *exportPaper) bare() []store.Entry {
	all := make([]store.Entry, len(p.entries))
	for i := range p.entries {
		all[i] = p.entries[i].Entry
	}
	return all
}

// set sets all of it.
func (p *exportPaper) set() error {
	what, err := p.asked.what(p.v, p.plant, p.names)
	if err != nil {
		return err
	}
	head, made := p.unseen.sentence(p.Say(what)), p.T("Made %[1]s with Stillsaw. %[2]d entries of the record, which had %[3]d.", p.Exact(p.v.now), len(p.entries), p.signed.Size)
	p.r = sheet.NewReport(paper(p.v.mill.Units), sheet.Running{
		About: sheet.About{Title: head, Mill: p.Mill, Lang: p.Lang(), Made: p.v.now, Foot: []string{made}}, Head: head,
		Page:  func(n int, of string) string { return p.T("Page %[1]d of %[2]s", n, of) },
		Shown: p.unseen.sentence,
	})
	switch {
	case p.asked.Subject != "":
		err = p.subject(what)
	case p.asked.whole():
		err = p.days()
	default:
		err = p.some(what)
	}
	if err != nil {
		return err
	}
	return p.proof()
}

// left says what is kept back, before anything else.
func (p *exportPaper) left() {
	if left := p.asked.leftSaid(); len(left) > 0 {
		p.r.Text(p.T("Withheld in this export: %s. The record holds them, and the proof covers them.", left))
	}
}

// days sets day by day, each on a page of its own. Days on which nothing was due
// and nothing entered are named at the end.
func (p *exportPaper) days() error {
	var blank []plain.Sentence
	for from, until := p.asked.between(p.entries); from <= until; {
		start, err := time.ParseInLocation(time.DateOnly, from, p.v.zone)
		if err != nil {
			return err
		}
		any, err := p.day(start, from)
		if err != nil {
			return err
		}
		if !any {
			blank = append(blank, dayOf(start))
		}
		from = start.AddDate(0, 0, 1).Format(time.DateOnly)
	}
	if len(blank) > 0 {
		p.r.Space(8)
		p.r.Text(p.T("Nothing was due and nothing was entered on: %s.", blank))
	}
	return nil
}

// day sets one day, if there is anything of it.
func (p *exportPaper) day(start time.Time, day string) (any bool, err error) {
	glance, err := p.v.glance(start, p.unseen)
	if err != nil {
		return false, err
	}
	var own []paperEntry
	for _, e := range p.entries {
		if e.day == day {
			own = append(own, e)
		}
	}
	lines := p.lines(own, false)
	if len(lines)+len(glance.Lists) == 0 && p.asked.From != p.asked.Until {
		return false, nil
	}
	p.r.Fresh()
	p.r.OnePage(func() {
		p.r.Title(p.Say(glance.Title))
		p.left()
		p.glance(glance)
		p.told(lines)
	})
	return true, nil
}

// glance sets a day as its screen does.
func (p *exportPaper) glance(g *dayGlance) {
	part := func(name, none string, groups ...[]dayLine) {
		p.r.Heading(name)
		var lines []sheet.Line
		for _, group := range groups {
			for _, one := range group {
				lines = append(lines, sheet.Line{What: p.Say(one.Said), Who: p.Say(one.Who), Bad: one.Bad})
			}
		}
		if len(lines) == 0 {
			p.r.Text(none)
		}
		p.r.Table(lines)
	}
	part(p.T("Checks"), p.T("None was due and none was done."), g.Lists)
	part(p.T("Defects"), p.T("None raised, mended or returned."), g.Raised, g.Mended, g.Returned)
	part(p.T("Lockouts begun"), p.T("None."), g.Lockouts)
	lifts := p.T("No lift was kept.")
	if g.Go+g.NoGo > 0 {
		lifts = p.T("Lifts kept: %[1]d GO, %[2]d NO-GO.", g.Go, g.NoGo)
	}
	p.r.Heading(p.T("Lifts and departures"))
	p.r.Text(lifts)
	if len(g.Departures) > 0 {
		part(p.T("Departures"), "", g.Departures)
	} else {
		p.r.Text(p.T("Nothing against the rule was entered."))
	}
	p.r.Space(2)
	p.caution(g.Go+g.NoGo > 0, len(g.Lockouts) > 0)
}

// caution sets the usual cautions of what is shown.
func (p *exportPaper) caution(lifts, lockouts bool) {
	if lockouts {
		for i, one := range procedures.Cautions() {
			if i == 0 {
				p.r.Hazard(sheet.Warning, p.T("WARNING"), p.Say(one))
			}
		}
	}
	if lifts {
		p.r.Hazard(sheet.Notice, p.T("NOTICE"), p.T("Stillsaw compares the numbers people entered. It does not certify rigging and has seen neither the wood nor the steel: the tag, the maker's instructions, the local code and a qualified person come first."))
	}
}

// told sets entries in sentences.
func (p *exportPaper) told(lines []sheet.Line) {
	p.r.Heading(p.T("Entries, oldest first"))
	if len(lines) == 0 {
		p.r.Text(p.T("No entry of the record matches."))
	}
	p.r.Table(lines)
}

// lines are entries in sentences. What one person reported of one lockout
// without anything between is one line, each act with its entry.
func (p *exportPaper) lines(entries []paperEntry, exact bool) []sheet.Line {
	var lines []sheet.Line
	for start := 0; start < len(entries); {
		end := start + 1
		for end < len(entries) && sameLockout(entries[start], entries[end]) {
			end++
		}
		if end-start == 1 {
			lines = append(lines, p.line(entries[start], exact))
		} else {
			lines = append(lines, p.reported(entries[start:end], exact))
		}
		start = end
	}
	return lines
}

func sameLockout(a, b paperEntry) bool {
	one, ok := a.Body.(store.LockoutAct)
	other, also := b.Body.(store.LockoutAct)
	return ok && also && one.Lockout == other.Lockout && a.Actor == b.Actor && a.day == b.day
}

// reported is several acts of one person in one lockout. Steps of one stage after
// each other are counted; the lockout's own print has them word by word.
func (p *exportPaper) reported(entries []paperEntry, exact bool) sheet.Line {
	first, last := p.line(entries[0], exact), entries[len(entries)-1]
	act, _ := entries[0].Body.(store.LockoutAct)
	of := p.teller.procedures[act.Procedure][act.Version]
	line := sheet.Line{When: first.When, What: p.T("%[1]s: %[2]s", kindWords(store.KindLockout), of.Title+p.T(": ")),
		Who: p.T("%[1]s · entries %[2]d to %[3]d", p.teller.who(last.Actor), entries[0].Seq, last.Seq)}
	minute := first.When
	for start := 0; start < len(entries); {
		end := start + 1
		stage, step := stepStage(of, entries[start])
		for step && end < len(entries) {
			if next, also := stepStage(of, entries[end]); !also || next != stage {
				break
			}
			end++
		}
		act, _ := entries[start].Body.(store.LockoutAct)
		said := p.Say(lockoutAct(of, act.Event))
		if end-start > 1 {
			said = p.T("%[1]s, %[2]d steps reported done", stage.Words(), end-start)
		}
		one := p.line(entries[start], exact)
		if one.When != minute {
			said, minute = one.When+" "+said, one.When
		}
		for _, more := range one.More {
			said += " (" + more + ")"
		}
		if start > 0 {
			line.What += " · "
		}
		line.What += said
		start = end
	}
	return line
}

// stepStage is the stage of the step an entry reports done; ok is false for any
// other entry.
func stepStage(of procedures.Procedure, e paperEntry) (stage procedures.Stage, ok bool) {
	act, _ := e.Body.(store.LockoutAct)
	if act.Event.Kind != procedures.StepDone {
		return 0, false
	}
	for _, s := range of.Steps {
		if s.ID == act.Event.Step {
			return s.Stage, true
		}
	}
	return 0, false
}

// line is one entry. exact names its day, too.
func (p *exportPaper) line(e paperEntry, exact bool) sheet.Line {
	one := p.teller.tell(e.Entry)
	line := sheet.Line{When: p.Clock(one.At), What: p.T("%[1]s: %[2]s", one.Kind, one.Said), Who: p.T("%[1]s · entry %[2]d", one.Who, e.Seq)}
	if exact || one.At.In(p.v.zone).Format(time.DateOnly) != e.day {
		line.When = p.Exact(one.At)
	}
	if !one.Late.IsZero() {
		line.More = append(line.More, p.T("entered late, happened %s", p.Exact(one.Late)))
	}
	for _, told := range one.Clock.Told() {
		line.More = append(line.More, p.Say(told))
	}
	return line
}

// some sets the entries of a machine or a person, day after day.
func (p *exportPaper) some(what plain.Sentence) error {
	p.r.Title(p.Say(what))
	p.left()
	lifts, lockouts, goes := false, false, [2]int{}
	for _, e := range p.entries {
		switch body := e.Body.(type) {
		case store.LockoutAct:
			lockouts = true
		case store.Lift:
			if lifts = true; body.Go {
				goes[0]++
			} else {
				goes[1]++
			}
		}
	}
	if lifts {
		p.r.Text(p.T("Lifts kept: %[1]d GO, %[2]d NO-GO.", goes[0], goes[1]))
	}
	p.caution(lifts, lockouts)
	if len(p.entries) == 0 {
		p.told(nil)
	}
	for start := 0; start < len(p.entries); {
		end := start
		for end < len(p.entries) && p.entries[end].day == p.entries[start].day {
			end++
		}
		day, err := time.ParseInLocation(time.DateOnly, p.entries[start].day, p.v.zone)
		if err != nil {
			return err
		}
		p.r.Heading(p.Say(dayOf(day)))
		p.r.Table(p.lines(p.entries[start:end], false))
		start = end
	}
	return nil
}

// subject sets one thing with its whole content, then its entries.
func (p *exportPaper) subject(what plain.Sentence) error {
	at := slices.IndexFunc(p.entries, func(e paperEntry) bool { return e.Subject == p.asked.Subject })
	var err error
	if at < 0 {
		// A defect found in a check has no entry of its own until something is done about it.
		if err = p.defect(checklists.DefectID(p.asked.Subject)); errors.Is(err, store.ErrNotFound) {
			err = nil
		}
	} else {
		switch body := p.entries[at].Body.(type) {
		case checklists.Inspection:
			err = p.inspection(body, p.entries[at].Seq)
		case store.LockoutAct:
			err = p.lockout(body.Lockout)
		case store.Lift:
			err = p.lift(body)
		case checklists.Incident:
			err = p.incident(body.ID)
		case checklists.Defect, checklists.NewDate, checklists.DefectNote:
			err = p.defect(checklists.DefectID(p.asked.Subject))
		default:
			p.r.Title(p.Say(what))
			p.left()
		}
	}
	if err == nil {
		err = p.dropped()
	}
	if err != nil {
		return err
	}
	p.told(p.lines(p.entries, true))
	return nil
}

// dropped says what of the entries is no longer kept: where it stood a whole
// paper has nothing.
func (p *exportPaper) dropped() error {
	var said []string
	for _, e := range p.entries {
		gone, err := p.v.goneFrom(e.Seq, p.teller)
		if err != nil {
			return err
		}
		for _, g := range gone {
			of := p.Say(g.Said)
			if len(g.Places) > 0 {
				of += " " + p.T("Of it went: %s.", g.Places)
			}
			if p.asked.Notes {
				of = p.T("No longer kept: entry %d says what was dropped.", g.Number)
			}
			said = append(said, p.T("Entry %d", e.Seq)+" · "+p.unseen.sentence(of))
		}
	}
	if len(said) > 0 {
		p.r.Heading(p.T("No longer kept"))
		p.r.List(said)
	}
	return nil
}

// proof is what shows that the record was so, in small print.
func (p *exportPaper) proof() error {
	code, err := codeOf(p.signed.Text)
	if err != nil {
		return err
	}
	p.r.Space(8)
	p.r.Together(func() {
		p.r.Heading(p.T("Proof, in small print"))
		p.r.Beside(code, proofCode, func() {
			p.r.Exact(p.signed.Text)
			p.r.Small(p.T("Key of the mill that signed it: %s", record.Fingerprint(p.signed.Keys[len(p.signed.Keys)-1].Verifier)))
			p.r.Small(p.T("These lines are the mill's signed word on all %d entries of its record when this was made: one hash, the root, over every one of them. The code at the right holds the same lines. Keep this paper: a record in which anything older was changed, left out or put between no longer agrees with it.", p.signed.Size))
			p.r.Small(p.T("To check: take the same choice as JSON from the page Export. “stillsaw verify FILE” on any computer, or the page verify.html opened in a browser without a network, says whether each entry stands unchanged under this root, and where not. Compare root and key with those above; ask for the key's name elsewhere than from who gave you this."))
			p.r.Small(p.T("It shows what was entered, by whose sign-in and when, and that it was not changed since. It does not show that what was entered is true, nor that a machine is or was safe."))
		})
	})
	return nil
}
