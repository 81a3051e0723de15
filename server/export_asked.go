package server

import (
	"errors"
	"net/url"
	"slices"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// exportAsked is which entries an export is asked for and what it keeps back.
type exportAsked struct {
	store.Selection
	store.Withhold
}

// Names of the parameters of an export's address.
const (
	askedFrom, askedUntil, askedEquipment, askedPerson, askedSubject = "from", "until", "equipment", "person", "subject"

	withoutNames, withoutNotes, withoutPhotos = "without-names", "without-notes", "without-photos"
)

// exportLink is the address of the export page for a selection.
func exportLink(s store.Selection) string { return "/export?" + exportAsked{Selection: s}.query() }

// query is a as parameters; it names the days even where they are open, so that
// the page does not choose today.
func (a exportAsked) query() string {
	query := url.Values{}
	for name, value := range map[string]string{askedFrom: a.From, askedUntil: a.Until, askedEquipment: string(a.Equipment), askedPerson: string(a.Person), askedSubject: a.Subject} {
		if value != "" || name == askedFrom {
			query.Set(name, value)
		}
	}
	for name, is := range map[string]bool{withoutNames: a.Names, withoutNotes: a.Notes, withoutPhotos: a.Photos} {
		if is {
			query.Set(name, "yes")
		}
	}
	return query.Encode()
}

// exportAsked reads what an address asks for. Without any parameter it is today.
func (v *visit) exportAsked() exportAsked {
	a := exportAsked{Selection: store.Selection{From: v.Query(askedFrom), Until: v.Query(askedUntil), Equipment: procedures.EquipmentID(v.Query(askedEquipment)),
		Person: procedures.PersonID(v.Query(askedPerson)), Subject: v.Query(askedSubject)}}
	a.Names, a.Notes, a.Photos = v.Query(withoutNames) == "yes", v.Query(withoutNotes) == "yes", v.Query(withoutPhotos) == "yes"
	if len(v.Queries()) == 0 {
		a.From = v.now.In(v.zone).Format(time.DateOnly)
		a.Until = a.From
	}
	return a
}

// wrong is what is wrong with a; people and machines are those offered.
func (a exportAsked) wrong(zone *time.Location, machines, people []views.Choice) (problems plain.Problems) {
	offered := func(choices []views.Choice, value string) bool {
		return value == "" || slices.ContainsFunc(choices, func(c views.Choice) bool { return c.Value == value })
	}
	problems.Unless(offered(machines, string(a.Equipment)), askedEquipment, "a piece of equipment of this mill")
	problems.Unless(offered(people, string(a.Person)), askedPerson, "a person of this mill")
	for _, day := range [][2]string{{askedFrom, a.From}, {askedUntil, a.Until}} {
		at, err := time.ParseInLocation(time.DateOnly, day[1], zone)
		problems.Unless(day[1] == "" || err == nil && at.Year() >= 2000 && at.Year() <= 9000, day[0], "a day, such as 2026-03-02")
	}
	problems.Unless(a.From == "" || a.Until == "" || a.From <= a.Until, askedUntil, "a day no earlier than the first")
	return problems
}

// whole tells whether everything of the days is asked for.
func (a exportAsked) whole() bool { return a.Equipment == "" && a.Person == "" && a.Subject == "" }

// between are the first and the last day asked for, of what there is where that
// is left open.
func (a exportAsked) between(entries []paperEntry) (from, until string) {
	from, until = a.From, a.Until
	for _, e := range entries {
		if a.From == "" && (from == "" || e.day < from) {
			from = e.day
		}
		if a.Until == "" && e.day > until {
			until = e.day
		}
	}
	return from, until
}

// what says what is asked for: which thing, which machine or person, which days.
func (a exportAsked) what(v *visit, plant procedures.Plant, names map[procedures.PersonID]string) (plain.Sentence, error) {
	if a.Subject != "" {
		entries, _, err := v.desk.Entries(v.ctx(), store.Filter{Subject: a.Subject, Newer: true, After: -1, Limit: 1})
		if err != nil {
			return plain.Sentence{}, err
		}
		if len(entries) == 0 {
			return a.foundInCheck(v)
		}
		return plain.Say("%[1]s, %[2]s", thingOf(entries[0]), dayOf(entries[0].At.In(v.zone))), nil
	}
	said := a.daysSaid(v.zone)
	if a.Person != "" {
		said = plain.Say("%[1]s, %[2]s", names[a.Person], said)
	}
	if a.Equipment != "" {
		said = plain.Say("%[1]s, %[2]s", nameIn(plant, a.Equipment), said)
	}
	return said, nil
}

// foundInCheck says which defect is asked for that no entry is about but that of
// the check it was found in.
func (a exportAsked) foundInCheck(v *visit) (plain.Sentence, error) {
	d, err := v.desk.Defect(v.ctx(), checklists.DefectID(a.Subject))
	if errors.Is(err, store.ErrNotFound) {
		return plain.Say("Nothing the record knows"), nil
	}
	return plain.Say("%[1]s, %[2]s", plain.Say("Defect"), dayOf(d.At.In(v.zone))), err
}

// thingOf names what an entry is about; where that is nothing that goes on, the
// entry itself.
func thingOf(e store.Entry) plain.Sentence {
	switch body := e.Body.(type) {
	case checklists.Inspection:
		return plain.Say("%s", body.Title)
	case checklists.Amendment:
		return plain.Say("Inspection")
	case checklists.Defect, checklists.NewDate, checklists.DefectNote:
		return plain.Say("Defect")
	case checklists.Departure:
		return plain.Say("Departure")
	case checklists.Incident, checklists.IncidentAction, store.IncidentClosed, store.IncidentHarm:
		return plain.Say("Incident")
	case store.LockoutAct:
		return plain.Say("Lockout")
	case store.Lift:
		return plain.Say("Lift")
	}
	return kindWords(e.Kind)
}

func (a exportAsked) daysSaid(zone *time.Location) plain.Sentence {
	day := func(text string) plain.Sentence {
		at, err := time.ParseInLocation(time.DateOnly, text, zone)
		if err != nil {
			return plain.Say("%s", text)
		}
		return dayOf(at)
	}
	switch {
	case a.From != "" && a.From == a.Until:
		return day(a.From)
	case a.From != "" && a.Until != "":
		return plain.Say("%[1]s to %[2]s", day(a.From), day(a.Until))
	case a.From != "":
		return plain.Say("from %s on", day(a.From))
	case a.Until != "":
		return plain.Say("up to %s", day(a.Until))
	}
	return plain.Say("the whole record")
}

// leftSaid names what is kept back, nothing where nothing is.
func (a exportAsked) leftSaid() []plain.Sentence {
	var left []plain.Sentence
	for _, one := range []struct {
		is   bool
		name plain.Sentence
	}{{a.Names, plain.Say("names of people")}, {a.Notes, plain.Say("notes and reasons")}, {a.Photos, plain.Say("photos")}} {
		if one.is {
			left = append(left, one.name)
		}
	}
	return left
}

// file is a name for the file, without what may be withheld.
func (a exportAsked) file(ending string) string {
	parts := []string{"record"}
	for _, part := range []string{a.From, a.Until, string(a.Equipment)} {
		plain := strings.Map(func(r rune) rune {
			if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-' {
				return r
			}
			return -1
		}, part)
		if plain != "" && plain != parts[len(parts)-1] {
			parts = append(parts, plain)
		}
	}
	return strings.Join(parts, "-") + "." + ending
}

// Narrow tells whether the export of what the record's page shows is of less than
// the whole record.
func (p recordPage) Narrow() bool {
	return p.Form.Day+p.Form.Equipment+p.Form.Person != ""
}

// Export is the address of the export of what the record's page shows, whatever
// its kind.
func (p recordPage) Export() string {
	return exportLink(store.Selection{From: p.Form.Day, Until: p.Form.Day, Equipment: procedures.EquipmentID(p.Form.Equipment), Person: procedures.PersonID(p.Form.Person)})
}
