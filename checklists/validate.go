package checklists

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Longest texts, in characters, that a list or an answer may hold.
const (
	LongestPrompt = 300
	LongestNote   = 2000
	LongestText   = 200
)

// mostItems bounds a list; a walk longer than this is not walked.
const mostItems = 500

func worded(text string, longest int) bool {
	return strings.TrimSpace(text) != "" && tidy(text, longest)
}

func tidy(text string, longest int) bool {
	return utf8.ValidString(text) && utf8.RuneCountInString(text) <= longest
}

// Validate returns nil or a [plain.Problems] with everything that keeps the
// list from being published at a mill with this plant. The field of an item is
// "items.ID.name", or "items.#n.name" for the nth item while its id is wrong.
func (l List) Validate(plant procedures.Plant) error {
	var bad plain.Problems
	bad.Unless(l.ID != "", "id", "a name for the list")
	bad.Unless(l.Version >= 0, "version", "0 for a draft, or a number counting up")
	bad.Unless(worded(l.Title, LongestPrompt), "title", "a title of at most %d letters", LongestPrompt)
	l.Schedule.validate(&bad)
	bad.Unless(len(l.Items) > 0 && len(l.Items) <= mostItems, "items", "at least one item, at most %d", mostItems)

	here := make(map[procedures.EquipmentID]bool, len(plant))
	for _, e := range plant {
		here[e.ID] = true
	}
	seen := make(map[ItemID]bool, len(l.Items))
	asked := 0
	for i, item := range l.Items {
		field := fmt.Sprintf("items.%s.", item.ID)
		if item.ID == "" || seen[item.ID] {
			field = fmt.Sprintf("items.#%d.", i+1)
			bad.Unless(false, field+"id", "an id no other item of the list has")
		}
		seen[item.ID] = true
		bad.Unless(here[item.Equipment], field+"equipment", "a piece of equipment of this mill")
		item.validate(&bad, field)
		if !item.NotFitted {
			asked++
		}
	}
	bad.Unless(asked > 0 || len(l.Items) == 0, "items", "at least one item that is fitted")
	return bad.Err()
}

func (i Item) validate(bad *plain.Problems, field string) {
	bad.Unless(worded(i.Station, LongestPrompt), field+"station", "where one stands for it")
	bad.Unless(worded(i.Prompt, LongestPrompt), field+"prompt", "what to check, in at most %d letters", LongestPrompt)
	bad.Unless(worded(i.How, LongestNote), field+"how", "how to check it")
	bad.Unless(worded(i.Source, LongestPrompt), field+"source", "the clause, or: common practice, no source")
	bad.Unless(i.State.Known(), field+"state", "locked out, stopped or running")
	bad.Unless(i.Kind.Known(), field+"kind", "choice, number or text")
	bad.Unless(i.Severity.Known(), field+"severity", "stop or mend")
	if i.Kind == Number {
		i.Limits.validate(bad, field+"limits.")
	}
}

// Known tells whether s is one of the machine states.
func (s MachineState) Known() bool { return s == LockedOut || s == Stopped || s == Running }

// Known tells whether k is one of the kinds of answer.
func (k AnswerKind) Known() bool { return k == Choice || k == Number || k == Text }

// Known tells whether s is one of the severities.
func (s Severity) Known() bool { return s == Stop || s == Mend }

// Item returns the item of that id, if the list has it.
func (l List) Item(id ItemID) (Item, bool) {
	for _, item := range l.Items {
		if item.ID == id {
			return item, true
		}
	}
	return Item{}, false
}

// Covers tells whether the list asks something about the equipment.
func (l List) Covers(equipment procedures.EquipmentID) bool {
	for _, item := range l.Items {
		if item.Equipment == equipment && !item.NotFitted {
			return true
		}
	}
	return false
}

// inForce tells whether l is a published version in force at that time.
func (l List) inForce(now time.Time) bool {
	return l.Version > 0 && !l.InForce.IsZero() && !l.InForce.After(now)
}
