package server

import (
	"errors"
	"strconv"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type rigEditPage struct {
	*views.Frame
	ID             string
	Form           rigForm
	InForce        int // version, 0 for none
	Faults         []findingLine
	Length, Weight string
	Hitches        []views.Choice
	Kinds          []views.Choice
	States         []views.Choice
	Columns        []views.Choice
	Grades         []views.Choice
	Sizes          []views.Choice
	Password       bool
	OutOfUse       []plain.Sentence // what the register has out of use
	Clear          plain.Metres     // kept free below a piece where nothing is entered
	tables         []string         // what the published table has for each leg
}

// linkPart is one part of the load path in the form.
type linkPart struct {
	*rigEditPage
	Link  linkForm
	Place int // from 1
}

// LinkPart is the part at a place, from 0.
func (p rigEditPage) LinkPart(place int) linkPart {
	return linkPart{&p, p.Form.Links[place], place + 1}
}

// Table says what the published table has for the part, or when it will.
func (p linkPart) Table() string {
	if text := p.tables[p.Place-1]; text != "" || p.Link.Kind != lift.Leg.String() {
		return text
	}
	return p.T("Left empty it is filled in from the published table, once the tag can be read and grade, size and what it is marked for are chosen.")
}

// settingPart is one setting of the yoke in the form.
type settingPart struct {
	*rigEditPage
	Setting settingForm
	Place   int // from 1
}

// SettingPart is the setting at a place, from 0.
func (p rigEditPage) SettingPart(place int) settingPart {
	return settingPart{&p, p.Form.Settings[place], place + 1}
}

// Field is the name of one of the setting's inputs.
func (p settingPart) Field(name string) string { return settingField(p.Place-1, name) }

// Open tells whether it is shown unfolded: something of it is missing or wrong.
func (p settingPart) Open() bool {
	for _, name := range []string{"name", "yoke-width", "leg-length", "second-leg"} {
		if p.Problem(p.Field(name)) != "" {
			return true
		}
	}
	return p.Setting.Name == ""
}

// Present tells whether the rig is set like this.
func (p settingPart) Present() bool {
	return p.Setting.Name != "" && p.Setting.Name == p.Form.Setting
}

// Field is the name of one of the part's inputs.
func (p linkPart) Field(name string) string { return linkField(p.Place-1, name) }

// Signing is the box in which the rig is put in force.
func (p rigEditPage) Signing() views.Sign {
	sign := p.SignBox(p.T("I read these ratings, weights and dates off the gear itself or the maker's papers, and put this rig in force."), p.T("Sign and put in force")).Held()
	if p.Password {
		return sign.WithPassword()
	}
	return sign
}

// editing is what an edit of a rig starts from.
type editing struct {
	rig      lift.Rig
	revision int // of the draft, 0 where there is none
	inForce  int // version, 0 for none
}

// editingRig loads draft and version in force; ErrNotFound when there is neither.
func (v *visit) editingRig(id string) (editing, error) {
	var e editing
	rig, published, err := v.desk.Rig(v.ctx(), id, 0)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return e, err
	}
	nothing := err != nil
	rig.Why = "" // said of that version
	e.rig, e.inForce = rig, published.Version
	draft, err := v.desk.Draft(v.ctx(), store.Rigs, id)
	if errors.Is(err, store.ErrNotFound) {
		if nothing {
			return e, err
		}
		return e, nil
	}
	if err != nil {
		return e, err
	}
	e.revision = draft.Revision
	e.rig, err = store.ReadRig(draft.Doc)
	return e, err
}

func (s *Server) showRigEdit(v *visit) error {
	e, err := v.editingRig(v.Params("id"))
	if err != nil {
		return err
	}
	form := rigFormOf(e.rig, v.typedIn, v.zone)
	form.Submission, form.Revision, form.From = store.NewID(), strconv.Itoa(e.revision), strconv.Itoa(e.inForce)
	return v.rigEditPage(form, e, nil)
}

func (v *visit) rigEditPage(form rigForm, e editing, problems plain.Problems) error {
	page := rigEditPage{Frame: v.frame("Edit the rig: %s", form.Name), ID: v.Params("id"), Form: form, InForce: e.inForce,
		Password: v.person.Role == procedures.Supervisor}
	page.Problems, page.Clear = problems, plain.Metres(lift.DefaultClearance)
	rig, _, _ := form.rig(page.ID, v.typedIn, v.zone) // what can be read of it; its problems are shown when it is sent
	for _, f := range rig.Faults(v.now) {
		page.Faults = append(page.Faults, findingLine{Said: f.Said, Source: f.Source, Blocks: true})
	}
	for i := range page.Form.Links {
		table := ""
		if kg, from, ok := rig.Links[i].Table(); ok {
			table = page.T("%[1]s has %[2]s for such a chain so marked. Less may be entered, never more; left empty it is filled in.", from, plain.Kilograms(kg))
		}
		page.tables = append(page.tables, table)
		for _, problem := range problems {
			if name := linkField(i, ""); len(problem.Field) > len(name) && problem.Field[:len(name)] == name {
				page.Form.Links[i].Open = true
			}
		}
	}
	page.choices(v)
	if e.inForce > 0 {
		known, err := v.desk.Gear(v.ctx(), page.ID)
		if err != nil {
			return err
		}
		standing, _, err := v.desk.Rig(v.ctx(), page.ID, 0)
		if err != nil {
			return err
		}
		looked, taken := known.Register.Of(&standing)
		for i := range standing.Links {
			for _, out := range standing.Links[i].Out(looked, taken) {
				page.OutOfUse = append(page.OutOfUse, out.Said)
			}
		}
	}
	return v.show("rig-edit", page, problems)
}

func (s *Server) editRig(v *visit) error {
	id := v.Params("id")
	e, err := v.editingRig(id)
	if err != nil {
		return err
	}
	form := typedRig(v.typed)
	form.Submission = v.submission()
	if do := v.typed("do"); form.rearrange(do) {
		return v.rigEditPage(form, e, nil)
	}
	rig, filled, problems := form.rig(id, v.typedIn, v.zone)
	rig.Begun = e.rig.Begun      // no field of the form
	if v.typed("do") != "save" { // nobody signs for a figure not yet seen
		for _, i := range filled {
			form.Links[i].RatedLoad = rigFormOf(rig, v.typedIn, v.zone).Links[i].RatedLoad
			_, from, _ := rig.Links[i].Table()
			problems.Unless(false, linkField(i, "rated-load"), "now filled in from %s: hold it against the tag, then sign", from)
		}
	}
	if len(problems) > 0 {
		return v.rigEditPage(form, e, problems)
	}
	draft, err := store.DraftOf(store.Rigs, id, rig.Name, rig)
	if err != nil {
		return err
	}
	draft.Revision = max(whole(form.Revision), 0)
	if v.typed("do") != "save" {
		return v.publishRig(form, e, draft)
	}
	if err := v.desk.KeepDraft(v.ctx(), draft, v.now); err != nil {
		return v.rigNotKept(form, e, err)
	}
	return v.moveOn("/rigs/"+id+"/edit", "draft")
}

func (v *visit) rigNotKept(form rigForm, e editing, err error) error {
	problems, err := problemsOf(err)
	if err != nil {
		return err
	}
	return v.rigEditPage(form, e, problems)
}

// publishRig puts what was typed in force, if the version it was made from is
// still the one that is.
func (v *visit) publishRig(form rigForm, e editing, draft store.Draft) error {
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.rigEditPage(form, e, problems)
	}
	err = v.desk.PublishDraft(v.ctx(), form.Submission, draft, v.person, v.now, func(doc string, version int) (string, error) {
		if version != whole(form.From)+1 {
			return "", store.ErrChanged
		}
		return store.NumberRig(doc, version)
	})
	if err != nil {
		return v.rigNotKept(form, e, err)
	}
	return v.moveOn("/rigs/"+draft.ID, "published")
}

func (p *rigEditPage) choices(v *visit) {
	p.Length, p.Weight = p.T("mm"), p.T("kg")
	if newReader(v.typedIn).length == lift.Inches {
		p.Length, p.Weight = p.T("in"), p.T("lb")
	}
	p.Hitches = []views.Choice{{Value: "end-hooks", Text: hitchText(p.Frame, lift.EndHooks)}, {Value: "bridle", Text: hitchText(p.Frame, lift.TwoLegBridle)},
		{Value: "choker", Text: hitchText(p.Frame, lift.Choker)}, {Value: "basket", Text: hitchText(p.Frame, lift.Basket)}}
	for k := lift.Beam; k <= lift.Fitting; k++ {
		p.Kinds = append(p.Kinds, views.Choice{Value: k.String(), Text: kindText(p.Frame, k)})
	}
	for st := lift.InService; st <= lift.Destroyed; st++ {
		p.States = append(p.States, views.Offer(st.String(), stateText(p.Frame, st)))
	}
	for c := lift.OneLeg; c <= lift.TwoLegs30; c++ {
		p.Columns = append(p.Columns, views.Offer(c.String(), columnText(p.Frame, c)))
	}
	p.Grades = []views.Choice{views.Offer(lift.NotChain.String(), p.T("no chain: rope or webbing"))}
	for g := lift.Grade30; g <= lift.Grade100; g++ {
		p.Grades = append(p.Grades, views.Choice{Value: g.String(), Text: p.T("Grade %s", g.String())})
	}
	for c := lift.Chain7_32; c <= lift.Chain1_1_4; c++ {
		p.Sizes = append(p.Sizes, views.Choice{Value: c.String(), Text: p.T("%s in", c.String())})
	}
}

func hitchText(f *views.Frame, h lift.Hitch) string {
	switch h {
	case lift.TwoLegBridle:
		return f.T("Two legs to a sling or fitting each")
	case lift.EndHooks:
		return f.T("End hooks driven into the wood")
	case lift.Choker:
		return f.T("Choker")
	case lift.Basket:
		return f.T("Basket")
	}
	return f.T("not known")
}

func kindText(f *views.Frame, k lift.Kind) string {
	switch k {
	case lift.Beam:
		return f.T("Beam, jib or frame")
	case lift.Trolley:
		return f.T("Trolley")
	case lift.Hoist:
		return f.T("Hoist")
	case lift.HoistHook:
		return f.T("Hoist hook")
	case lift.Yoke:
		return f.T("Yoke")
	case lift.Leg:
		return f.T("Leg: chain, rope or webbing")
	case lift.EndHook:
		return f.T("End hook")
	case lift.Fitting:
		return f.T("Fitting: link, shackle, swivel")
	}
	return f.T("not known")
}

func stateText(f *views.Frame, s lift.State) string {
	switch s {
	case lift.InService:
		return f.T("in service")
	case lift.OutOfService:
		return f.T("out of service")
	case lift.Destroyed:
		return f.T("destroyed")
	}
	return f.T("not known")
}

func columnText(f *views.Frame, c lift.Column) string {
	switch c {
	case lift.OneLeg:
		return f.T("one leg")
	case lift.TwoLegs60:
		return f.T("two legs at 60°")
	case lift.TwoLegs45:
		return f.T("two legs at 45°")
	case lift.TwoLegs30:
		return f.T("two legs at 30°")
	}
	return f.T("not known")
}
