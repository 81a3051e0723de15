package server

import (
	"errors"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) defectRoutes() {
	s.get("/defects", signedIn, s.showDefects)
	s.get("/defects/:id", signedIn, s.showDefect)
	s.post("/defects/:id/describe", crew, s.describeDefect)
	s.post("/defects/:id/assign", crew, s.assignDefect)
	s.post("/defects/:id/date", supervisors, s.redateDefect)
	s.post("/defects/:id/note", crew, s.noteDefect)
	s.post("/defects/:id/mend", crew, s.mendDefect)
	s.post("/defects/:id/run-check", crew, s.runCheckDefect)
	s.post("/defects/:id/recheck", crew, s.recheckDefect)
	s.post("/defects/:id/return", crew, s.returnDefect)
}

// Most defects and departures a page lists.
const (
	mostOpen   = 500
	mostClosed = 20
)

// defectLine is a defect in a list.
type defectLine struct {
	Href, What, Machine string
	State               plain.Sentence
	By                  string
	At                  time.Time
	Stops               bool
	Photo               string
	Age                 string         // how long open, "" once it is back
	Given               plain.Sentence // who is to see to it, and by when
	Late                bool           // the day for that, or the stop-gap's date, is over
	Again               plain.Sentence // how often it was found
}

// defectLines is the part that lists defects.
type defectLines struct {
	*views.Frame
	Lines []defectLine
}

func defectOf(f *views.Frame, d checklists.Defect, plant procedures.Plant, names map[procedures.PersonID]string) defectLine {
	line := defectLine{Href: "/defects/" + string(d.ID), What: f.Say(headline(d)), Machine: nameIn(plant, d.Equipment), State: defectState(d, nameIn(plant, d.Equipment), f.Now),
		By: reporter(f, d.By, names), At: d.At, Stops: d.StopsNow(f.Now)}
	line.Photo = photoAddress(d.Photo)
	line.Late = d.Overdue(f.Now)
	if d.Open() {
		line.Age = f.Span(d.OpenFor(f.Now))
	}
	if d.Assigned != "" && !d.AwaitsReturn() && d.Open() {
		line.Given = plain.Say("%[1]s sees to it by %[2]s", names[d.Assigned], d.Due)
	}
	line.Again = timesFound(d)
	return line
}

// timesFound says that a defect is an earlier one come back, empty for the first.
func timesFound(d checklists.Defect) plain.Sentence {
	if d.Again == "" {
		return plain.Sentence{}
	}
	return plain.Say("Again: found %d times", d.Times)
}

// reporter is a name, also of somebody who had not signed in.
func reporter(f *views.Frame, id procedures.PersonID, names map[procedures.PersonID]string) string {
	if id == "" {
		return f.T("somebody not signed in")
	}
	return names[id]
}

// headlineMost is how much of a note fits a heading, in letters.
const headlineMost = 70

// headline is what is wrong in a few words.
func headline(d checklists.Defect) plain.Sentence {
	if d.Silent() {
		return plain.Say("Stopped, not said why")
	}
	return plain.Say("%s", shortened(d.What, headlineMost))
}

// shortened is the first line of a text, of so many letters at most: cut after a
// whole word, and marked where more follows.
func shortened(text string, most int) string {
	first, _, cut := strings.Cut(strings.TrimSpace(text), "\n")
	letters := []rune(strings.TrimSpace(first))
	if len(letters) <= most {
		if cut {
			return string(letters) + "…"
		}
		return string(letters)
	}
	short := string(letters[:most])
	if end := strings.LastIndexByte(short, ' '); end > len(short)/2 && letters[most] != ' ' {
		short = short[:end]
	}
	return strings.TrimRight(short, " ,;:") + " …"
}

func defectState(d checklists.Defect, machine string, now time.Time) plain.Sentence {
	switch {
	case !d.Open():
		return plain.Say("back in service")
	case d.AwaitsReturn():
		return plain.Say("mended, waits for return to service")
	case d.StopsNow(now) && d.Severity == checklists.Mend:
		return plain.Say("open past its date, holds %s", machine)
	case d.StopsNow(now):
		return plain.Say("open, holds %s", machine)
	}
	return plain.Say("open, %s may run with the stop-gap until %s", machine, d.MendBy)
}

// defectPage is one defect with the act that comes next.
type defectPage struct {
	*views.Frame
	D          checklists.Defect
	Address    string
	Machine    string
	Found      string // address of the inspection it was found in
	Item       string // the item it was found at, in words
	Photo      string
	History    []pastAct
	Submission string
	Form       defectForm

	Act      string // "describe-and-mend", "mend", "return", "alone", "recheck", "run-check", or "" for nothing to do here
	Why      plain.Sentence
	Alone    []aloneStep
	Box      itemBox
	Locks    []lockNeed
	Warning  views.Caution
	Care     defectCare // what is done before it is mended
	MayCheck bool       // a run check can be asked
	Run      checklists.RunCheck
	Single   bool // one person works here alone
	Plain    bool // raised without an item: the return itself says OK with a photo
}

type defectForm struct {
	What, WhatPhoto, Note, Photo, OK string

	care careForm
}

type aloneStep struct {
	Text, Href string
	Done       bool
}

func (s *Server) showDefect(v *visit) error {
	d, err := v.defect()
	if err != nil {
		return err
	}
	return v.defectPage(d, v.Query("act"), defectForm{}, nil)
}

func (v *visit) defect() (checklists.Defect, error) {
	return v.desk.Defect(v.ctx(), checklists.DefectID(v.Params("id")))
}

// defectPage shows d; act chooses among the forms its state allows.
func (v *visit) defectPage(d checklists.Defect, act string, form defectForm, problems plain.Problems) error {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	machine := nameIn(facts.Plant, d.Equipment)
	page := defectPage{Frame: v.frame("%s: %s", headline(d), defectState(d, machine, v.now)), D: d, Address: "/defects/" + string(d.ID), Machine: machine, Single: v.mill.SingleHanded,
		Submission: store.NewID(), Form: form, Plain: d.Item == ""}
	if v.Query("done") == "stopped" && d.Open() {
		page.Flash = plain.Say("%s is held. Everybody sees it now. Say what is wrong, if you can.", stoppedName(facts.Plant, d.Equipment))
	}
	if len(problems) > 0 {
		page.Submission = v.submission()
	}
	page.Problems = problems
	if d.Photo != "" {
		page.Photo = "/photos/" + d.Photo
	}
	var item checklists.Item
	if d.Inspection != "" {
		page.Found = "/inspections/" + string(d.Inspection)
		if item, err = v.itemOf(d); err != nil {
			return err
		}
		page.Item = string(item.ID) + " · " + item.Prompt
	}
	if page.History, err = v.history(page.Frame, d, names); err != nil {
		return err
	}
	if err := page.care(v, form.care, names); err != nil {
		return err
	}
	if err := page.next(v, act, item, facts); err != nil {
		return err
	}
	return v.show("defect", page, problems)
}

// itemOf is the item a defect was found at, in the version it was found with.
func (v *visit) itemOf(d checklists.Defect) (checklists.Item, error) {
	in, _, err := v.desk.Inspection(v.ctx(), d.Inspection)
	if err != nil {
		return checklists.Item{}, err
	}
	list, err := v.desk.List(v.ctx(), in.List, in.Version)
	item, _ := list.Item(d.Item)
	return item, err
}

func photoAddress(digest string) string {
	if digest == "" {
		return ""
	}
	return "/photos/" + digest
}

// next chooses what this person can do about the defect now, or says why not.
func (p *defectPage) next(v *visit, act string, item checklists.Item, facts checklists.Facts) error {
	switch {
	case !p.D.Open():
		return nil
	case !v.person.Works():
		p.Why = plain.Say("You are signed in to read. Somebody of the crew mends it and another person returns it to service.")
		if p.Single {
			p.Why = plain.Say("You are signed in to read. Somebody of the crew mends it, and it is returned to service by another person or, working alone, by the mender after checking again.")
		}
		return nil
	case !p.D.AwaitsReturn():
		if p.Act = "mend"; p.D.Silent() {
			p.Act = "describe-and-mend"
		}
		if e, known := facts.Plant.Find(p.D.Equipment); known && e.Kind == procedures.Site {
			return nil // the mill as a whole is not locked out
		}
		var err error
		p.Locks, err = v.lockNeeds(p.Frame, []checklists.Item{{State: checklists.LockedOut, Equipment: p.D.Equipment}}, facts)
		return err
	}
	done, err := v.desk.Rechecked(v.ctx(), p.D, v.person.ID)
	if err != nil {
		return err
	}
	p.Run = done.Run
	p.MayCheck = done.Run.ID == "" || !v.now.Before(done.Run.Until)
	alone := v.person.ID == p.D.MendedBy && facts.Mill.SingleHanded
	trial := done
	if p.Plain {
		trial.Answer = checklists.Answer{Result: checklists.OK, By: v.person.ID, At: v.now, Photo: "to come with the form"}
	}
	_, err = p.D.Return(v.person, facts.Mill, facts.Plant, trial, v.now)
	var refusal *plain.Refusal
	if errors.As(err, &refusal) {
		p.Why = plain.Say("%s", refusal)
	} else if err != nil {
		return err
	}
	switch {
	case act == "run-check":
		p.Act, p.Warning = act, p.Frame.Warning(p.T("A machine that turns can catch, cut or throw. Look that nobody is near, give the warning, wait for the all-clear, and start from the stand only. Hand on the stop."))
	case act == "recheck" && alone && !p.Plain:
		p.Act = act
		return p.recheck(v, item, facts)
	case p.Why.Empty():
		p.Act = "return"
		p.Plain = p.Plain && alone
	case alone:
		p.Act = "alone"
	}
	if alone {
		p.steps(done)
	}
	return nil
}

// steps are what stands in for a second person where there is none.
func (p *defectPage) steps(done checklists.Recheck) {
	p.Alone = []aloneStep{{Text: p.T("Mended, with a photo"), Done: p.D.MendPhoto != ""}}
	if p.D.Item != "" {
		p.Alone = append(p.Alone, aloneStep{Text: p.T("Item answered again after mending, with a photo"), Href: p.Address + "?act=recheck",
			Done: done.Answer.Result == checklists.OK && done.Answer.Photo != ""})
	}
	p.Alone = append(p.Alone, aloneStep{Text: p.T("Machine turned in a run check after mending"), Href: p.Address + "?act=run-check", Done: done.Run.ID != ""})
}

func (p *defectPage) recheck(v *visit, item checklists.Item, facts checklists.Facts) error {
	form, err := v.readAnswers([]checklists.Item{item}, nil)
	if err != nil {
		return err
	}
	item.AlwaysPhoto = true // alone, the second look is shown by a picture
	p.Box = boxOf(p.Frame, item, form.Typed[item.ID], v.typedIn, v.mayBeNamed(facts))
	p.Locks, err = v.lockNeeds(p.Frame, []checklists.Item{item}, facts)
	return err
}
