package server

import (
	"errors"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// signedPage is a signed inspection as anyone of the mill may read and print it.
type signedPage struct {
	*views.Frame
	In         checklists.Inspection
	Address    string
	Signer     string
	Seq        int64
	States     []signedState
	Defects    []defectLine
	Amendments []amendmentPart
	Clocks     procedures.PhoneClock
	Aside      *asideSaid     // it is not to be signed, and this is no signed inspection
	Read       plain.Sentence // the serial number read off the saw, against the register as it stood

	Submission string
	Again      []itemBox // left unchecked, to answer now
	Locks      []lockNeed
	Turn       turning
	TurnNow    bool // the form for a run check stands in place of the answers

	list checklists.List
}

type signedState struct {
	Name     string
	Stations []signedStation
}

type signedStation struct {
	Name  string
	Lines []signedLine
}

// signedLine is one answer in words.
type signedLine struct {
	ID, Prompt           string
	Result               checklists.Result
	Answer               string
	Measured, Text, Note string
	Mend                 plain.Sentence // stop-gap and date
	Photo                string
	Was                  *signedLine // what was answered before, of a line answered again
	By                   string      // where it was not the signer
	Moment               string      // when, short
	Lockout              string      // address of the lockout it was answered under
	Limits               plain.Sentence
	Source               string // the rule the item comes from
}

// lineOn is a line with the page's words.
type lineOn struct {
	*views.Frame
	signedLine
}

// With gives a line the page's words.
func (p signedPage) With(line signedLine) lineOn { return lineOn{p.Frame, line} }

// Lines is the part that lists defects.
func (p signedPage) Lines(lines []defectLine) defectLines { return defectLines{p.Frame, lines} }

type amendmentPart struct {
	Signer string
	Seq    int64
	In     checklists.Amendment
	Lines  []signedLine
}

func (v *visit) signedPage(id checklists.InspectionID, form walkForm, problems plain.Problems) error {
	in, seq, err := v.desk.Inspection(v.ctx(), id)
	if err != nil {
		return err
	}
	later, err := v.amended(id)
	if err != nil {
		return err
	}
	page, unchecked, err := v.signedAs(in, seq, later, unseen{})
	if err != nil {
		return err
	}
	page.Address, page.Submission = v.inspection(), store.NewID()
	if len(problems) > 0 {
		page.Submission = v.submission()
	}
	page.Problems = sayingWhich(problems, page.list)
	if v.person.Works() && len(unchecked) > 0 {
		facts, err := v.desk.Facts(v.ctx(), v.now)
		if err != nil {
			return err
		}
		page.TurnNow = v.Query("turn") != "" || problems.For("turn") != nil
		names, err := v.names()
		if err != nil {
			return err
		}
		page.Turn = v.turning(page.Frame, unchecked, facts, names)
		if page.Locks, err = v.lockNeeds(page.Frame, unchecked, facts); err != nil {
			return err
		}
		for _, item := range unchecked {
			typed := form.Typed[item.ID] // the reason of old is no answer of today
			page.Again = append(page.Again, boxOf(page.Frame, item, typed, v.typedIn, v.mayBeNamed(facts)))
		}
	}
	return v.show("inspection", page, problems)
}

// signedAs shows an inspection as it was signed with what was answered again
// since, without what u keeps back, and returns the items nobody has looked at.
func (v *visit) signedAs(in checklists.Inspection, seq int64, later []amended, u unseen) (page signedPage, unchecked []checklists.Item, err error) {
	list, err := v.desk.List(v.ctx(), in.List, in.Version)
	if err != nil {
		return page, nil, err
	}
	plant, names, err := v.plantAndNames()
	if err != nil {
		return page, nil, err
	}
	in.Answers, names = u.answers(list, in.Answers), u.names(names)
	page = signedPage{Frame: v.frame("%s", in.Title), In: in, Clocks: procedures.PhoneClock{At: in.At, Phone: in.Phone, Mill: v.zone}, Signer: names[in.Signer], Seq: seq, list: list}
	given := byItem(in.Answers)
	for _, state := range machineStates() {
		page.addState(list, state, given, in.Signer, names)
	}
	if read := given[checklists.FittedItem]; read.Text != "" && read.Text != u.word {
		register, err := v.desk.Blades(v.ctx())
		if err != nil {
			return page, nil, err
		}
		page.Read = checklists.SerialSaid(read.Text, checklists.BladesAt(register, in.At))
	}
	last := in.At
	for _, one := range later {
		one.Answers = u.answers(list, one.Answers)
		page.amend(one, names, given)
		if one.At.After(last) {
			last = one.At
		}
	}
	found, err := v.desk.DefectsOf(v.ctx(), in.ID, in.Began, last)
	if err != nil {
		return page, nil, err
	}
	for _, d := range u.defects(found) {
		page.Defects = append(page.Defects, defectOf(page.Frame, d, plant, names))
	}
	return page, page.title(found, list, given), nil
}

func (p *signedPage) addState(list checklists.List, state checklists.MachineState, given map[checklists.ItemID]checklists.Answer, signer procedures.PersonID, names map[procedures.PersonID]string) {
	part := signedState{Name: p.Say(stateWords(state))}
	for _, item := range asked(list, state, given) {
		if n := len(part.Stations); n == 0 || part.Stations[n-1].Name != item.Station {
			part.Stations = append(part.Stations, signedStation{Name: item.Station})
		}
		at := &part.Stations[len(part.Stations)-1]
		at.Lines = append(at.Lines, p.line(item, given[item.ID], signer, names))
	}
	if len(part.Stations) > 0 {
		p.States = append(p.States, part)
	}
}

func (p *signedPage) line(item checklists.Item, a checklists.Answer, signer procedures.PersonID, names map[procedures.PersonID]string) signedLine {
	line := signedLine{ID: string(item.ID), Prompt: p.Say(item.Said()), Result: a.Result, Answer: p.Say(resultWords(a)), Text: a.Text, Note: a.Note, Moment: p.Clock(a.At), Limits: item.Limits.Said(), Source: item.Source}
	if p.Day(a.At) != p.Day(p.In.At) {
		line.Moment = p.Day(a.At) + ", " + p.Clock(a.At)
	}
	if a.Number != nil {
		line.Measured = p.Number(asTyped(*a.Number)) + " " + item.Limits.Unit
	}
	if a.Person != "" {
		line.Text = names[a.Person]
	}
	if a.Replaced {
		line.Measured += " " + p.T("(the meter was replaced or set back)")
	}
	if a.Severity == checklists.Mend {
		line.Mend = plain.Say("Mend by %s. Meanwhile: %s", a.MendBy, a.StopGap)
	}
	if a.Photo != "" {
		line.Photo = "/photos/" + a.Photo
	}
	if a.By != signer {
		line.By = names[a.By]
	}
	if a.Under != "" {
		line.Lockout = "/lockouts/" + string(a.Under)
	}
	return line
}

func resultWords(a checklists.Answer) plain.Sentence {
	switch {
	case a.Result == checklists.OK:
		return plain.Say("OK")
	case a.Result == checklists.Found && a.Severity == checklists.Mend:
		return plain.Say("Defect, mend")
	case a.Result == checklists.Found:
		return plain.Say("Defect, stop")
	case a.Result == checklists.NotChecked:
		return plain.Say("Not checked")
	}
	return plain.Say("No answer")
}

// amended is a further signed entry to an inspection, with its place in the record.
type amended struct {
	checklists.Amendment
	seq int64
}

// amended loads what was answered again.
func (v *visit) amended(id checklists.InspectionID) (later []amended, err error) {
	added, err := v.desk.Amendments(v.ctx(), id)
	if err != nil || len(added) == 0 {
		return nil, err
	}
	entries, _, err := v.desk.Entries(v.ctx(), store.Filter{Subject: string(id), Kind: store.KindAmendment, Limit: len(added)})
	if err != nil {
		return nil, err
	}
	places := map[checklists.AmendmentID]int64{}
	for _, e := range entries {
		if a, ok := e.Body.(checklists.Amendment); ok {
			places[a.ID] = e.Seq
		}
	}
	for _, a := range added {
		later = append(later, amended{a, places[a.ID]})
	}
	return later, nil
}

// amend adds what was answered again and brings given up to date.
func (p *signedPage) amend(a amended, names map[procedures.PersonID]string, given map[checklists.ItemID]checklists.Answer) {
	part := amendmentPart{Signer: names[a.Signer], Seq: a.seq, In: a.Amendment}
	for _, answer := range a.Answers {
		if item, known := p.list.Item(answer.Item); known {
			line := p.line(item, answer, a.Signer, names)
			if before, answered := given[answer.Item]; answered {
				was := p.line(item, before, "", names)
				line.Was = &was
			}
			part.Lines = append(part.Lines, line)
		}
		given[answer.Item] = answer
	}
	p.Amendments = append(p.Amendments, part)
}

// title says what came of the inspection, as it now stands, and returns the
// items nobody has looked at.
func (p *signedPage) title(found []checklists.Defect, list checklists.List, given map[checklists.ItemID]checklists.Answer) []checklists.Item {
	var unchecked []checklists.Item
	for _, item := range list.Asks() {
		if given[item.ID].Result == checklists.NotChecked {
			unchecked = append(unchecked, item)
		}
	}
	var parts []plain.Sentence
	if len(found) > 0 {
		parts = append(parts, plain.Say("%d defects", len(found)))
	}
	if len(unchecked) > 0 {
		parts = append(parts, plain.Say("%d not checked", len(unchecked)))
	}
	p.Title = plain.Say("%s: signed, nothing found wrong", p.In.Title)
	if len(parts) > 0 {
		p.Title = plain.Say("%s: signed, %s", p.In.Title, parts)
	}
	return unchecked
}

// amendInspection signs answers to items that were left unchecked.
func (s *Server) amendInspection(v *visit) error {
	id := checklists.InspectionID(v.Params("id"))
	in, _, err := v.desk.Inspection(v.ctx(), id)
	if errors.Is(err, store.ErrNotFound) {
		if _, under := v.desk.Walk(v.ctx(), id); under == nil {
			return v.moveOn(v.inspection(), "")
		}
	}
	if err != nil {
		return err
	}
	list, err := v.desk.List(v.ctx(), in.List, in.Version)
	if err != nil {
		return err
	}
	form, err := v.readAnswers(list.Asks(), nil)
	if err != nil {
		return err
	}
	problems := form.Problems
	problems.Unless(len(form.Typed) > 0, "again", "an answer to at least one of these")
	wrong, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, wrong...); len(problems) == 0 {
		if problems, err = problemsOf(v.desk.AmendInspection(v.ctx(), v.submission(), id, form.Answers, v.person, v.now)); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.signedPage(id, form, problems)
	}
	return v.moveOn(v.inspection(), "amended")
}
