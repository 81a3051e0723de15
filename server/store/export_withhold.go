package store

import (
	"strconv"
	"strings"
	"unicode"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// Note tells whether a text somebody wrote is kept back.
func (w Withhold) Note(names Names, text string) bool {
	return text != "" && (w.Notes || w.Names && names.In(text))
}

// Answer tells whether the words answered to item are kept back; known is false
// where nobody knows what was asked. An item that asks for words may be answered
// with any name, known to the mill or not: of it only numbers are shown.
func (w Withhold) Answer(names Names, item checklists.Item, known bool, text string) bool {
	return w.Note(names, text) || w.Names && (!known || item.Kind == checklists.Text) && wordy(text)
}

// wordy tells whether text says more than numbers such as S-1204.
func wordy(text string) bool {
	for word := range strings.FieldsSeq(text) {
		if strings.ContainsFunc(word, unicode.IsLetter) && !strings.ContainsFunc(word, unicode.IsDigit) {
			return true
		}
	}
	return false
}

// withholding keeps back openings of one mill's entries.
type withholding struct {
	Withhold
	names Names
	asked func(checklists.ListID, int) checklists.List
}

func withholdingOf(r reader, mill checklists.MillID, w Withhold) (withholding, error) {
	one := withholding{Withhold: w}
	if !w.Names {
		return one, nil
	}
	type version struct {
		list    checklists.ListID
		version int
	}
	lists := map[version]checklists.List{}
	one.asked = func(id checklists.ListID, number int) checklists.List {
		key := version{id, number}
		l, known := lists[key]
		if !known {
			l, _ = list(r, mill, id, number) // of one that can't be read no item is known, and more is kept back
			lists[key] = l
		}
		return l
	}
	var err error
	one.names, err = namesKnown(r, mill)
	return one, err
}

// of are the openings of an entry that may be shown.
func (w withholding) of(row entryRow, openings []record.Opening) []record.Opening {
	answers := w.answers(row, openings)
	var shown []record.Opening
	for _, o := range openings {
		if !w.hides(row.Kind, o, answers) {
			shown = append(shown, o)
		}
	}
	return shown
}

// hides tells whether one opening of an entry is kept back, an empty note like any
// other: that there was none would show. answers are the items its words answer.
func (w withholding) hides(kind string, o record.Opening, answers map[string]answered) bool {
	switch field := o.Path[strings.LastIndex(o.Path, "/")+1:]; {
	case field == "name" || field == "minor_until":
		return w.Names
	case w.Notes, record.NamesSomebody(o.Path), kind == KindEmergencyCard:
		return w.Names || w.Notes
	}
	if a, ok := answers[o.Path]; ok {
		return w.Answer(w.names, a.item, a.known, o.Value)
	}
	return w.Note(w.names, o.Value)
}

// answered is the item some words answer; known is false where nobody knows what
// was asked.
type answered struct {
	item  checklists.Item
	known bool
}

// answers are the items the words of an inspection, an amendment or a walk that is
// not to be signed answer, by the place of the words.
func (w withholding) answers(row entryRow, openings []record.Opening) map[string]answered {
	if !w.Names || row.Kind != KindInspection && row.Kind != KindAmendment && row.Kind != KindSetAside {
		return nil
	}
	var id checklists.ListID
	var version int
	var parts []answerPart
	if opened, err := record.Read(row.Leaf, openings); err == nil {
		switch b, err := decode(row.Kind, row.Version, opened); b := b.(type) {
		case *inspectionBody:
			if err == nil {
				id, version, parts = b.List, b.Version, b.Answers
			}
		case *amendmentBody:
			if err == nil {
				id, version, parts = b.List, b.Version, b.Answers
			}
		case *asideBody:
			if err == nil {
				id, version, parts = b.List, b.Version, b.Answers
			}
		}
	}
	asked := w.asked(id, version)
	all := map[string]answered{}
	for i := range parts {
		item, known := asked.Item(parts[i].Item)
		all["/answers/"+strconv.Itoa(i)+"/text"] = answered{item, known}
	}
	return all
}
