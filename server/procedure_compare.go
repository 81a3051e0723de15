package server

import (
	"errors"
	"slices"
	"strconv"
	"strings"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type comparePage struct {
	*views.Frame
	ID          string
	From, To    views.Field
	Before      plain.Sentence // what is on the left, what on the right
	After       plain.Sentence
	Said        plain.Sentence // the author's word on the right one
	Differences []differenceLine
	Cautions    []plain.Sentence
}

// differenceLine is one difference as a page shows it.
type differenceLine struct {
	What, Old, New     plain.Sentence
	OldPhoto, NewPhoto string
	Substance          bool
}

// draftWord stands for the draft where an address or a form names a version.
const draftWord = "draft"

// showCompare shows two versions side by side: unless the address names others,
// the version in force and the draft, or the last two.
func (s *Server) showCompare(v *visit) error {
	id := v.Params("id")
	draft, draftErr := v.procedureDraft(id)
	if draftErr != nil && !errors.Is(draftErr, store.ErrNotFound) {
		return draftErr
	}
	last, err := v.desk.Published(v.ctx(), store.Procedures, id, 0)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	if last.Version == 0 && draftErr != nil {
		return store.ErrNotFound
	}
	from, to := strconv.Itoa(max(last.Version-1, 1)), strconv.Itoa(last.Version)
	if draftErr == nil {
		from, to = strconv.Itoa(last.Version), draftWord
	}
	if last.Version == 0 {
		from = draftWord
	}
	pick := func(name, otherwise string) (string, procedures.Procedure, error) {
		word := v.Query(name, otherwise)
		if word == draftWord {
			return word, draft.Procedure, draftErr
		}
		version := whole(word)
		if version < 1 {
			return word, procedures.Procedure{}, store.ErrNotFound
		}
		p, err := v.desk.Procedure(v.ctx(), procedures.ProcedureID(id), version)
		return word, p, err
	}
	from, before, err := pick("from", from)
	if err != nil {
		return err
	}
	to, after, err := pick("to", to)
	if err != nil {
		return err
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	differences := procedures.Compare(before, after)
	page := comparePage{ID: id, Differences: differenceLines(plant, before, after, differences), Before: versionWords(from), After: versionWords(to), Cautions: procedures.Cautions()}
	substance := countSubstance(differences)
	switch {
	case len(differences) == 0:
		page.Frame = v.frame("%s: no difference", after.Title)
	case len(differences) == 1 && substance == 1:
		page.Frame = v.frame("%s: one difference, of substance", after.Title)
	case len(differences) == 1:
		page.Frame = v.frame("%s: one difference, of wording", after.Title)
	case substance == 0:
		page.Frame = v.frame("%[1]s: %[2]d differences, all of wording", after.Title, len(differences))
	default:
		page.Frame = v.frame("%[1]s: %[2]d differences, %[3]d of them of substance", after.Title, len(differences), substance)
	}
	if to != draftWord {
		said, err := v.desk.Renewal(v.ctx(), after.ID, after.Version)
		if err != nil {
			return err
		}
		if said.Said {
			page.Said = plain.Say("Signed when it was put in force: %[1]s. Why: %[2]s", renewalSaid(said), said.Why)
		}
	}
	var choices []views.Choice
	for version := 1; version <= last.Version; version++ {
		choices = append(choices, views.Offer(strconv.Itoa(version), page.Say(versionWords(strconv.Itoa(version)))))
	}
	if draftErr == nil {
		choices = append(choices, views.Offer(draftWord, page.Say(versionWords(draftWord))))
	}
	page.From = page.ChoiceField("from", page.T("From"), from, choices).AsList()
	page.To = page.ChoiceField("to", page.T("To"), to, choices).AsList()
	return v.show("procedure-compare", page, nil)
}

func versionWords(word string) plain.Sentence {
	if word == draftWord {
		return plain.Say("Draft")
	}
	return plain.Say("Version %d", whole(word))
}

func countSubstance(differences []procedures.Difference) int {
	return len(slices.DeleteFunc(slices.Clone(differences), func(d procedures.Difference) bool { return d.Kind != procedures.OfSubstance }))
}

// differenceLines are the differences with names in place of ids.
func differenceLines(plant procedures.Plant, before, after procedures.Procedure, differences []procedures.Difference) []differenceLine {
	lines := make([]differenceLine, len(differences))
	for i, d := range differences {
		line := differenceLine{What: d.What, Old: d.Old, New: d.New, Substance: d.Kind == procedures.OfSubstance}
		named := func(said plain.Sentence, p procedures.Procedure) plain.Sentence {
			id := said.String()
			switch {
			case said.Empty():
			case strings.HasPrefix(d.Field, "equipment."), strings.HasPrefix(d.Field, "holds."):
				return plain.Say("%s", nameIn(plant, procedures.EquipmentID(id)))
			case strings.HasPrefix(d.Field, "step.") && strings.HasSuffix(d.Field, ".device"):
				for _, one := range p.Devices {
					if string(one.ID) == id {
						return plain.Say("%s", one.Label)
					}
				}
			case strings.HasPrefix(d.Field, "step.") && strings.HasSuffix(d.Field, ".energy"):
				for _, one := range p.Energies {
					if string(one.ID) == id {
						return plain.Say("%s", one.Source)
					}
				}
			}
			return said
		}
		line.Old, line.New = named(d.Old, before), named(d.New, after)
		if strings.HasPrefix(d.Field, "device.") && strings.HasSuffix(d.Field, ".photo") {
			line.OldPhoto, line.NewPhoto = d.Old.String(), d.New.String()
			line.Old, line.New = plain.Sentence{}, plain.Sentence{}
		}
		lines[i] = line
	}
	return lines
}
