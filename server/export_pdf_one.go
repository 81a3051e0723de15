package server

import (
	"bytes"
	"errors"
	"image/jpeg"
	"slices"
	"strings"

	"github.com/kovidgoyal/imaging"
	"rsc.io/qr"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
	"stillsaw/views/sheet"
)

// proofCode is the side of the code of a checkpoint on paper, in points: its
// squares are then about half a millimetre, enough for a phone.
const proofCode = 118

// codeOf draws text so that a small part of it may be dirty.
func codeOf(text string) (sheet.Code, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return sheet.Code{}, err
	}
	return sheet.Code{Size: code.Size, Black: code.Black}, nil
}

// captioned loads a photo by its address, scaled for paper. What is withheld or
// no longer kept comes back as a sentence in place of it.
func (p *exportPaper) captioned(address, caption string) (sheet.Captioned, string, error) {
	if p.asked.Photos {
		return sheet.Captioned{}, p.T("Photo withheld: %s", caption), nil
	}
	photo, err := p.v.desk.Photo(p.v.ctx(), strings.TrimPrefix(address, "/photos/"))
	if errors.Is(err, store.ErrNotFound) || errors.Is(err, store.ErrDropped) {
		return sheet.Captioned{}, p.T("Photo no longer kept: %s", caption), nil
	}
	if err != nil {
		return sheet.Captioned{}, "", err
	}
	picture, err := imaging.Decode(bytes.NewReader(photo.Bytes))
	if err != nil {
		return sheet.Captioned{}, "", err
	}
	var small bytes.Buffer
	err = jpeg.Encode(&small, imaging.Fit(picture, printedEdge, printedEdge, imaging.Box), &jpeg.Options{Quality: printedDetail})
	return sheet.Captioned{Picture: sheet.Picture{JPEG: small.Bytes()}, Caption: caption}, "", err
}

// photos sets photos with their captions under a heading of their own.
func (p *exportPaper) photos(all [][2]string) error {
	var pictures []sheet.Captioned
	var missing []string
	for _, one := range all {
		if one[0] == "" {
			continue
		}
		picture, gone, err := p.captioned(one[0], one[1])
		if err != nil {
			return err
		}
		if gone != "" {
			missing = append(missing, gone)
		} else {
			pictures = append(pictures, picture)
		}
	}
	if len(pictures)+len(missing) > 0 {
		p.r.Heading(p.T("Photos"))
		p.r.List(missing)
		p.r.Pictures(pictures)
	}
	return nil
}

// inspection sets every answer of a signed inspection and of what amended it.
func (p *exportPaper) inspection(in checklists.Inspection, seq int64) error {
	var later []amended
	for _, e := range p.entries {
		if a, ok := e.Body.(checklists.Amendment); ok && a.Inspection == in.ID {
			later = append(later, amended{a, e.Seq})
		}
	}
	for _, e := range p.entries {
		if e.Seq == seq && !e.Phone.IsZero() {
			in.Phone = e.Phone // the entry's own; older inspections have it themselves
		}
	}
	page, _, err := p.v.signedAs(in, seq, later, p.unseen)
	if err != nil {
		return err
	}
	p.r.Title(p.Say(page.Title))
	p.left()
	signed := p.T("%[1]s, %[2]s", page.Signer, p.Exact(in.At))
	if in.Late {
		signed += ". " + p.T("late: the shift had started")
	}
	facts := [][2]string{{p.T("Signed by"), signed}, {p.T("Begun"), p.Exact(in.Began)}}
	if !in.Phone.IsZero() {
		phone := p.ExactThere(in.Phone)
		for _, told := range page.Clocks.Told() {
			phone += ". " + p.Say(told)
		}
		facts = append(facts, [2]string{p.T("Phone's clock"), phone})
	}
	p.r.Facts(append(facts, [2]string{p.T("List"), in.Title + ", " + p.T("version %d", in.Version)}, [2]string{p.T("Record"), p.T("Entry %d", page.Seq)}))
	if err := p.under(in, later); err != nil {
		return err
	}
	if !page.Read.Empty() {
		p.r.Text(p.Say(page.Read))
	}
	if len(page.Defects) > 0 {
		p.r.Heading(p.T("Found wrong"))
		p.defectLines(page.Defects)
	}
	var photos [][2]string
	for _, part := range page.Amendments {
		p.r.Heading(p.T("Answered again"))
		p.r.Text(p.T("%[1]s, %[2]s. Entry %[3]d", part.Signer, p.Exact(part.In.At), part.Seq))
		photos = append(photos, p.answers(part.Lines)...)
	}
	for _, state := range page.States {
		for _, station := range state.Stations {
			p.r.Heading(p.T("%[1]s · %[2]s", state.Name, station.Name))
			photos = append(photos, p.answers(station.Lines)...)
		}
	}
	p.caution(false, true)
	return p.photos(photos)
}

// under names the lockouts items were answered under.
func (p *exportPaper) under(in checklists.Inspection, later []amended) error {
	given := slices.Clone(in.Answers)
	for _, one := range later {
		given = append(given, one.Answers...)
	}
	seen := map[procedures.LockoutID]bool{"": true}
	for _, a := range given {
		if seen[a.Under] {
			continue
		}
		seen[a.Under] = true
		l, err := p.v.desk.Lockout(p.v.ctx(), a.Under)
		if err != nil {
			return err
		}
		p.r.Text(p.T("What was looked at locked out was so under the lockout %[1]s, begun by %[2]s %[3]s.", l.Procedure.Title, p.names[l.BegunBy()], p.When(l.Begun)))
	}
	return nil
}

// answers sets signed lines and returns their photos.
func (p *exportPaper) answers(lines []signedLine) (photos [][2]string) {
	var set []sheet.Line
	for _, one := range lines {
		line := sheet.Line{When: one.ID, What: one.Prompt + " — " + answerWords(&one), Who: one.Moment, Bad: one.Result != checklists.OK}
		if one.By != "" {
			line.Who = one.By + ", " + one.Moment
		}
		if was := one.Was; was != nil {
			line.More = append(line.More, p.T("Was: %[1]s, %[2]s, %[3]s", strings.TrimSuffix(was.Answer+". "+was.Note, ". "), was.By, was.Moment))
		}
		if one.Note != "" {
			line.More = append(line.More, one.Note)
		}
		if !one.Mend.Empty() {
			line.More = append(line.More, p.Say(one.Mend))
		}
		source := ""
		if !one.Limits.Empty() {
			source = p.T("Limits: %s", p.Say(one.Limits))
		}
		if one.Source != "" {
			source = strings.TrimPrefix(source+" · "+p.T("Why: %s", p.Cited(one.Source)), " · ")
		}
		if one.Lockout != "" {
			source += " · " + p.T("under the lockout named above")
		}
		if source = strings.TrimPrefix(source, " · "); source != "" {
			line.More = append(line.More, source)
		}
		if one.Was != nil {
			line.More = append(line.More, p.T("Answered before: %s", answerWords(one.Was)))
			if one.Was.Note != "" {
				line.More = append(line.More, one.Was.Note)
			}
			photos = append(photos, [2]string{one.Was.Photo, one.Was.ID + " · " + one.Prompt})
		}
		set = append(set, line)
		photos = append(photos, [2]string{one.Photo, one.ID + " · " + one.Prompt})
	}
	p.r.Table(set)
	return photos
}

// answerWords is the answer with what was measured or written.
func answerWords(one *signedLine) string {
	said := []string{one.Answer}
	for _, more := range []string{one.Measured, one.Text} {
		if strings.TrimSpace(more) != "" {
			said = append(said, more)
		}
	}
	return strings.Join(said, " · ")
}

func (p *exportPaper) defectLines(all []defectLine) {
	var lines []sheet.Line
	for _, d := range all {
		line := sheet.Line{What: d.Machine + " · " + d.What, Who: d.By + ", " + p.When(d.At), More: []string{p.Say(d.State)}, Bad: d.Stops}
		if d.Age != "" {
			line.More = append(line.More, p.T("Open for %s.", d.Age))
		}
		if !d.Given.Empty() {
			line.More = append(line.More, p.Say(d.Given))
		}
		if !d.Again.Empty() {
			line.More = append(line.More, p.Say(d.Again))
		}
		lines = append(lines, line)
	}
	p.r.Table(lines)
}

// lockout sets a lockout as its page does: where it stands, who was on, and
// what was reported in its order.
func (p *exportPaper) lockout(id procedures.LockoutID) error {
	l, err := p.v.desk.Lockout(p.v.ctx(), id)
	if err != nil {
		return err
	}
	l = p.unseen.lockout(l)
	p.r.Title(p.T("%[1]s: %[2]s", l.Procedure.Title, lockoutSaid(l, p.v.now)))
	p.left()
	for i, one := range procedures.Cautions() {
		if i == 0 {
			p.r.Hazard(sheet.Warning, p.T("WARNING"), p.Say(one))
		} else {
			p.r.List([]string{p.Say(one)})
		}
	}
	said, more := answers(l, p.names, "", p.v.now)
	for _, one := range append(said, more...) {
		p.r.Strong(p.Say(one))
	}
	p.r.Text(p.T("Task: %s", l.Task))
	p.r.Text(p.T("Begun by %[1]s %[2]s, expected until %[3]s.", p.names[l.BegunBy()], l.Begun, l.Expected))
	p.r.Text(p.T("The procedure, version %s", p.T("%d", l.Procedure.Version)))
	for _, one := range answerable(l, p.names) {
		p.r.Text(p.Say(one))
	}
	if len(l.Locks) > 0 {
		p.r.Heading(p.T("Locks, as reported"))
		var lines []sheet.Line
		for _, lock := range l.Locks {
			line := sheet.Line{What: p.T("Lock %s", lock.Number) + " " + p.deviceOr(l.Procedure, lock.Device), Who: p.T("Reported on by %[1]s, %[2]s", p.names[lock.Owner], p.Exact(lock.On))}
			switch {
			case lock.Off.IsZero():
				line.More = []string{p.T("Still reported on.")}
				line.Bad = true
			case lock.TakenBy != "":
				line.More = []string{p.T("Taken off by %[1]s, %[2]s", p.names[lock.TakenBy], p.Exact(lock.Off))}
			default:
				line.More = []string{p.T("Reported off %s", p.Exact(lock.Off))}
			}
			lines = append(lines, line)
		}
		p.r.Table(lines)
	}
	departures, err := p.v.departuresIn(l, p.plant, p.names)
	if err != nil {
		return err
	}
	if len(departures) > 0 {
		p.r.Heading(p.T("Against the order"))
		var lines []sheet.Line
		for _, d := range departures {
			p.unseen.note(&d.What)
			line := sheet.Line{When: p.Exact(d.Happened), What: d.What, Who: d.By, Bad: d.Open, More: []string{p.T("Closed with a reason.")}}
			if d.Open {
				line.More = []string{p.T("Open: holds until a supervisor closes it.")}
			}
			if d.About != "" {
				line.More = append(line.More, p.T("About: %s", d.About))
			}
			lines = append(lines, line)
		}
		p.r.Table(lines)
	}
	p.r.Heading(p.T("The order"))
	var order []string
	for _, stage := range stagesOf(l, "", p.v.now) {
		text := p.T("%[1]s, %[2]s", stage.Words, stage.Clause)
		switch {
		case stage.Again:
			text += " · " + p.T("now, again")
		case stage.State == "done":
			text += " · " + p.T("done")
		case stage.State == "now":
			text += " · " + p.T("now")
		}
		order = append(order, text)
	}
	p.r.List(order)
	p.r.Heading(p.T("What was reported"))
	var lines []sheet.Line
	var photos [][2]string
	for _, e := range historyOf(l, p.names) {
		line := sheet.Line{When: p.Exact(e.At), What: p.Say(e.Said), Who: e.By}
		for _, one := range e.More {
			line.More = append(line.More, p.Say(one))
		}
		if !e.Late.Empty() {
			line.More = append(line.More, p.Say(e.Late))
		}
		lines = append(lines, line)
		photos = append(photos, [2]string{e.Photo, p.Exact(e.At) + " · " + p.Say(e.Said)})
	}
	p.r.Table(lines)
	return p.photos(photos)
}

func (p *exportPaper) deviceOr(of procedures.Procedure, id procedures.DeviceID) string {
	if label := deviceLabel(of, id); label != "" {
		return label
	}
	return p.T("on the box with the keys")
}

// defect sets a defect and what was done about it.
func (p *exportPaper) defect(id checklists.DefectID) error {
	d, err := p.v.desk.Defect(p.v.ctx(), id)
	if err != nil {
		return err
	}
	whole := d
	d = p.unseen.defect(d)
	machine := nameIn(p.plant, d.Equipment)
	p.r.Title(p.T("%s: %s", headline(d), defectState(d, machine, p.v.now)))
	p.left()
	severity := p.T("Stop: may not run until mended and returned to service")
	if d.Severity == checklists.Mend {
		severity = p.T("Mend by %s. Meanwhile: %s", d.MendBy, d.StopGap)
	}
	facts := [][2]string{{p.T("Machine"), machine}, {p.T("Severity"), severity}}
	if d.Inspection != "" {
		item, err := p.v.itemOf(whole)
		if err != nil {
			return err
		}
		facts = append(facts, [2]string{p.T("Found at"), string(item.ID) + " · " + item.Prompt}, [2]string{p.T("Why it is checked"), p.Cited(item.Source)})
	}
	if d.What != "" {
		facts = append(facts, [2]string{p.T("What is wrong"), d.What})
	}
	open := p.T("Was open for")
	if d.Open() {
		open = p.T("Open for")
	}
	facts = append(facts, [2]string{open, p.Span(d.OpenFor(p.v.now))})
	if d.Assigned != "" {
		facts = append(facts, [2]string{p.T("Given to"), p.T("%[1]s, by %[2]s", p.names[d.Assigned], d.Due)})
	}
	if again := timesFound(d); !again.Empty() {
		facts = append(facts, [2]string{p.T("Found before"), p.Say(again)})
	}
	p.r.Facts(facts)
	var own []store.Entry
	for _, e := range p.entries {
		if e.Subject == string(id) {
			own = append(own, e.Entry)
		}
	}
	p.r.Heading(p.T("What was done"))
	photos := [][2]string{{photoAddress(d.Photo), p.T("Photo of the defect")}}
	var lines []sheet.Line
	for _, act := range historyIn(p.Frame, d, own, p.names) {
		line := sheet.Line{When: p.Exact(act.At), What: p.Say(act.What), Who: act.Who}
		if act.Seq >= 0 {
			line.Who = p.T("%[1]s · entry %[2]d", act.Who, act.Seq)
		}
		if act.Note != "" {
			line.More = []string{act.Note}
		}
		lines = append(lines, line)
		photos = append(photos, [2]string{act.Photo, p.Exact(act.At) + " · " + p.Say(act.What)})
	}
	p.r.Table(lines)
	p.caution(false, true)
	return p.photos(photos)
}

// incident sets an incident and what followed from it.
func (p *exportPaper) incident(id checklists.IncidentID) error {
	i, err := p.v.desk.Incident(p.v.ctx(), id)
	if err != nil {
		return err
	}
	i = p.unseen.incident(i)
	p.r.Title(p.T("%[1]s: %[2]s", kindOfIncident(i.Kind), inShort(i.What)))
	p.left()
	facts := [][2]string{{p.T("Concerns"), nameIn(p.plant, i.Equipment)}, {p.T("When"), p.Exact(i.Happened)}}
	for _, one := range [][2]string{{p.T("Where"), i.Where}, {p.T("What happened"), i.What}, {p.T("Who was there"), i.Present}, {p.T("Who was hurt"), i.Harmed}} {
		if one[1] != "" {
			facts = append(facts, one)
		}
	}
	if i.Kind == checklists.Hurt {
		facts = append(facts, [2]string{p.T("How badly"), p.Say(harmWords(i.Harm))})
		if !i.HarmAt.IsZero() {
			facts = append(facts, [2]string{"", p.T("Learnt of later: told %[1]s, entered by %[2]s, %[3]s", p.Exact(i.HarmKnown), p.names[i.HarmBy], p.Exact(i.HarmAt))})
		}
	}
	facts = append(facts, [2]string{p.T("Entered by"), p.names[i.By] + ", " + p.Exact(i.At)})
	if !i.Open() {
		facts = append(facts, [2]string{p.T("Closed by"), p.names[i.ClosedBy] + ", " + p.Exact(i.ClosedAt)}, [2]string{p.T("Reason"), i.Reason})
	}
	p.r.Facts(facts)
	actions, err := p.v.desk.IncidentActions(p.v.ctx(), id)
	if err != nil {
		return err
	}
	p.r.Heading(p.T("What follows"))
	if len(actions) == 0 {
		p.r.Text(p.T("Nothing is given to anybody yet."))
	}
	var lines []sheet.Line
	for _, a := range actions {
		p.unseen.note(&a.What, &a.Done)
		line := sheet.Line{What: a.What, Who: p.T("%[1]s, by %[2]s", p.names[a.Person], a.Due)}
		if !a.Open() {
			line.Who = p.T("Done, by %[1]s, %[2]s", p.names[a.DoneBy], p.Exact(a.DoneAt))
			line.More = []string{a.Done}
		}
		lines = append(lines, line)
	}
	p.r.Table(lines)
	return p.photos([][2]string{{photoAddress(i.Photo), p.T("Photo")}})
}
