package server

import (
	"math"
	"slices"
	"strconv"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) bladeRoutes() {
	s.get("/blades", signedIn, s.showBlades)
	s.get("/blades/new", crew, s.showNewBlade)
	s.post("/blades/new", crew, s.keepBlade)
	s.get("/blades/:id", signedIn, s.showBlade)
	s.post("/blades/:id", crew, s.bladeDone)
	s.get("/blades/:id/edit", supervisors, s.showBladeEdit)
	s.post("/blades/:id/edit", supervisors, s.keepBlade)
}

type bladesPage struct {
	*views.Frame
	Saws     []bladeLine
	Scrapped []bladeLine
	Read     plain.Sentence // what the newest check read off the spindle, against the register
	Spindle  float64
	Works    bool
	Cautions []plain.Sentence
}

// bladeLine is one saw as a page shows it.
type bladeLine struct {
	checklists.BladeStanding
	Href    string
	State   plain.Sentence
	Fits    bool
	Against []procedures.Gap
	Heeds   []procedures.Gap
}

func (v *visit) bladeLine(s checklists.BladeStanding) bladeLine {
	spindle := v.mill.SetUp.SpindleSpeed
	line := bladeLine{BladeStanding: s, Href: "/blades/" + string(s.ID), Against: s.Against(spindle), Heeds: s.Heeds(spindle)}
	line.Fits = len(line.Against) == 0
	switch on := !s.Fitted.IsZero(); {
	case on && line.Fits:
		line.State = plain.Say("Reported fitted since %s.", s.Fitted)
	case on:
		line.State = plain.Say("Reported fitted since %s, and may not be: the head saw is held.", s.Fitted)
	case line.Fits:
		line.State = plain.Say("Not fitted. Nothing entered is against fitting it.")
	default:
		line.State = plain.Say("May not be fitted.")
	}
	return line
}

func (s *Server) showBlades(v *visit) error {
	all, err := v.desk.Blades(v.ctx())
	if err != nil {
		return err
	}
	page := bladesPage{Frame: v.frame("Saw register: no saw is entered"), Spindle: v.mill.SetUp.SpindleSpeed, Works: v.person.Works(), Cautions: sawCautions()}
	for _, one := range all {
		if line := v.bladeLine(one); one.Scrapped != nil {
			page.Scrapped = append(page.Scrapped, line)
		} else {
			page.Saws = append(page.Saws, line)
		}
	}
	if on, some := checklists.FittedBlade(all); some {
		page.Title = plain.Say("Saw register: %s is reported fitted", on.Serial)
	} else if len(page.Saws) > 0 {
		page.Title = plain.Say("Saw register: no saw is reported fitted")
	}
	if page.Read, err = v.serialRead(all); err != nil {
		return err
	}
	return v.show("blades", page, nil)
}

// serialRead sets the serial number of the newest check that read one against
// the register.
func (v *visit) serialRead(all []checklists.BladeStanding) (plain.Sentence, error) {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return plain.Sentence{}, err
	}
	var newest checklists.Answer
	for _, in := range facts.Inspections {
		for _, a := range in.Answers {
			if a.Item == checklists.FittedItem && a.Text != "" && a.At.After(newest.At) {
				newest = a
			}
		}
	}
	return checklists.SerialReadSaid(newest.Text, newest.At, all), nil
}

func sawCautions() []plain.Sentence {
	return []plain.Sentence{
		plain.Say("A saw is looked at, filed on the mandrel and changed under lockout only. Gloves on: the teeth cut at rest too."),
		plain.Say("The register keeps what people entered. Read the mark on the saw itself, and heed the maker, the sawsmith and local rules before it."),
	}
}

// bladeForm is what was typed of a saw.
type bladeForm struct{ Serial, Diameter, Gauge, Marked, Teeth, Kind, Note string }

type bladeEditPage struct {
	*views.Frame
	Submission, Seen, Act, Back string
	Form                        bladeForm
	Length                      string
	Cautions                    []plain.Sentence
}

// Kinds offers how teeth are held.
func (p bladeEditPage) Kinds() []views.Choice {
	var all []views.Choice
	for _, kind := range []checklists.ToothKind{checklists.InsertedTeeth, checklists.SolidTeeth} {
		all = append(all, views.Offer(string(kind), p.Say(kind.Words())))
	}
	return all
}

func (s *Server) showNewBlade(v *visit) error {
	return v.bladeEditPage(checklists.BladeStanding{}, bladeForm{Kind: string(checklists.InsertedTeeth)}, store.NewID(), "", nil)
}

func (s *Server) showBladeEdit(v *visit) error {
	one, _, err := v.blade()
	if err != nil {
		return err
	}
	b := one.Blade
	form := bladeForm{Serial: b.Serial, Diameter: newReader(v.typedIn).lengthTyped(float64(b.Diameter)), Gauge: b.Gauge, Marked: v.typedIn.filled(one.Marked, 1, math.Inf(1)), Teeth: strconv.Itoa(b.Teeth), Kind: string(b.Kind), Note: b.Note}
	stored, err := v.storedBlade(b.ID)
	if err != nil {
		return err
	}
	return v.bladeEditPage(one, form, store.NewID(), store.Mark(stored), nil)
}

// storedBlade is the saw as it was entered, without what was done to it since.
func (v *visit) storedBlade(id checklists.BladeID) (checklists.Blade, error) {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	at := slices.IndexFunc(facts.Blades, func(b checklists.Blade) bool { return b.ID == id })
	if err != nil || at < 0 {
		return checklists.Blade{}, err
	}
	return facts.Blades[at], nil
}

func (v *visit) bladeEditPage(one checklists.BladeStanding, form bladeForm, submission, seen string, problems plain.Problems) error {
	page := bladeEditPage{Frame: v.frame("A new saw"), Submission: submission, Seen: seen, Act: "/blades/new", Back: "/blades", Form: form, Length: newReader(v.typedIn).length.String(), Cautions: sawCautions()}
	page.Problems = problems
	if one.ID != "" {
		page.Act, page.Back = "/blades/"+string(one.ID)+"/edit", "/blades/"+string(one.ID)
		page.Title = plain.Say("Saw %s: what stands of it", one.Serial)
	}
	return v.show("blade-edit", page, problems)
}

func (s *Server) keepBlade(v *visit) error {
	var stored checklists.BladeStanding
	if v.Params("id") != "" {
		var err error
		if stored, _, err = v.blade(); err != nil {
			return err
		}
	}
	form := bladeForm{Serial: v.typed("serial"), Diameter: v.typed("diameter"), Gauge: v.typed("gauge"), Marked: v.typed("marked"), Teeth: v.typed("teeth"), Kind: v.typed("kind"), Note: v.typed("note")}
	r := newReader(v.typedIn)
	b := checklists.Blade{ID: stored.ID, Serial: form.Serial, Gauge: form.Gauge, Teeth: whole(form.Teeth), Kind: checklists.ToothKind(form.Kind), Note: form.Note,
		Diameter: plain.Metres(r.size("diameter", form.Diameter, 0.2)), Marked: v.numberTyped("marked", form.Marked, &r.problems)}
	problems, err := v.signedToo(r.problems)
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		id, err := v.desk.KeepBlade(v.ctx(), v.submission(), v.since(), b, v.person, v.now)
		if err == nil {
			return v.moveOn("/blades/"+string(id), "blade")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	entered, err := v.storedBlade(stored.ID)
	if err != nil {
		return err
	}
	return v.again(problems, stands{store.KindBlade, string(stored.ID), store.Mark(entered), func() error { return s.showBladeEdit(v) }},
		func() error { return v.bladeEditPage(stored, form, v.submission(), v.typed("seen"), problems) })
}

// numberTyped is a number somebody typed, 0 for none.
func (v *visit) numberTyped(field, typed string, problems *plain.Problems) float64 {
	if typed == "" {
		return 0
	}
	number, err := checklists.ParseNumber(v.typedIn.pointed(field, typed, problems))
	problems.At(field, err)
	return number
}

// blade finds the saw the address names, and the whole register.
func (v *visit) blade() (checklists.BladeStanding, []checklists.BladeStanding, error) {
	all, err := v.desk.Blades(v.ctx())
	if err != nil {
		return checklists.BladeStanding{}, nil, err
	}
	at := slices.IndexFunc(all, func(s checklists.BladeStanding) bool { return string(s.ID) == v.Params("id") })
	if at < 0 {
		return checklists.BladeStanding{}, nil, store.ErrNotFound
	}
	return all[at], all, nil
}

// workForm is what was typed of something done with a saw.
type workForm struct{ Work, On, Crack, Marked, Who, Note string }

type bladePage struct {
	*views.Frame
	bladeLine
	Submission string
	Form       workForm
	Acts       []bladeActLine // the newest first
	Entered    string         // by whom
	Length     string
	Works      bool
	Edit       bool
	Spindle    float64
	Cautions   []plain.Sentence
}

// bladeActLine is one thing done as the page shows it.
type bladeActLine struct {
	checklists.BladeAct
	By   string
	Over bool // its crack puts the saw out of use
}

// Choices are the kinds of work that can be entered now.
func (p bladePage) Choices() []views.Choice {
	var all []views.Choice
	for _, work := range checklists.BladeWorks() {
		gone := work == checklists.BladeReturned && (!p.Edit || p.Out == nil && p.bladeLine.Over == nil) ||
			work == checklists.BladeFitted && !p.Fitted.IsZero() || (work == checklists.BladeTakenOff) == p.Fitted.IsZero() && work == checklists.BladeTakenOff
		if !gone {
			all = append(all, views.Offer(string(work), p.Say(work.Words())))
		}
	}
	return all
}

func (s *Server) showBlade(v *visit) error {
	return v.bladePage(workForm{On: v.now.In(v.zone).Format("2006-01-02T15:04"), Work: v.Query("work")}, store.NewID(), nil)
}

func (v *visit) bladePage(form workForm, submission string, problems plain.Problems) error {
	one, _, err := v.blade()
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	line := v.bladeLine(one)
	page := bladePage{Frame: v.frame("Saw %[1]s. %[2]s", one.Serial, line.State), bladeLine: line, Submission: submission, Form: form, Entered: names[one.By], Length: newReader(v.typedIn).length.String(),
		Works: v.person.Works() && one.Scrapped == nil, Edit: v.person.Supervises(), Spindle: v.mill.SetUp.SpindleSpeed, Cautions: sawCautions()}
	page.Problems = problems
	for _, a := range slices.Backward(one.Acts) {
		page.Acts = append(page.Acts, bladeActLine{BladeAct: a, By: names[a.By], Over: a.Crack != nil && one.Cracked(*a.Crack)})
	}
	return v.show("blade", page, problems)
}

func (s *Server) bladeDone(v *visit) error {
	one, _, err := v.blade()
	if err != nil {
		return err
	}
	form := workForm{Work: v.typed("work"), On: v.typed("on"), Crack: v.typed("crack"), Marked: v.typed("marked"), Who: v.typed("who"), Note: v.typed("note")}
	var problems plain.Problems
	a := checklists.BladeAct{Blade: one.ID, Work: checklists.BladeWork(form.Work), Who: form.Who, Note: form.Note, Marked: v.numberTyped("marked", form.Marked, &problems)}
	if a.On, err = v.moment(form.On); err != nil {
		a.On = time.Time{}
	}
	if form.Crack != "" {
		r := newReader(v.typedIn)
		crack := plain.Metres(r.size("crack", form.Crack, 0))
		problems = append(problems, r.problems...)
		a.Crack = &crack
	}
	if problems, err = v.signedToo(problems); err != nil {
		return err
	}
	if len(problems) == 0 {
		err := v.desk.BladeDone(v.ctx(), v.submission(), a, v.person, v.now)
		if err == nil {
			return v.moveOn("/blades/"+string(one.ID), "blade")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.bladePage(form, v.submission(), problems)
}

// Speed says a speed marked or turned, in rpm.
func (p bladesPage) Speed(rpm float64) string { return speed(p.Frame, rpm) }

// Speed says a speed marked or turned, in rpm.
func (p bladePage) Speed(rpm float64) string { return speed(p.Frame, rpm) }

func speed(f *views.Frame, rpm float64) string {
	if rpm > 0 {
		return f.T("%.0f rpm", rpm)
	}
	return f.T("not known")
}

// Crack says how long the longest crack was.
func (p bladePage) Crack(length *plain.Metres) string {
	if *length == 0 {
		return p.T("no crack")
	}
	return p.T("%s", plain.Gauged(*length))
}
