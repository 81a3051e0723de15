package checklists

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
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

// longestID bounds the id of a list or an item.
const longestID = 100

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
		if !item.ID.usable() || seen[item.ID] {
			field = fmt.Sprintf("items.#%d.", i+1)
			bad.Unless(false, field+"id", "an id no other item of the list has, of letters and digits")
		}
		seen[item.ID] = true
		bad.Unless(here[item.Equipment], field+"equipment", "a piece of equipment of this mill")
		item.validate(&bad, field)
		if !item.NotFitted {
			asked++
		}
	}
	bad.Unless(asked > 0 || len(l.Items) == 0, "items", "at least one item that is fitted")
	bad.Unless(len(l.Asks()) <= mostItems, "items", "at most %d questions, repeated ones counted", mostItems)
	l.validateConditions(&bad)
	return bad.Err()
}

func (i Item) validate(bad *plain.Problems, field string) {
	bad.Unless(worded(i.Station, LongestPrompt), field+"station", "where one stands for it")
	bad.Unless(worded(i.Prompt, LongestPrompt), field+"prompt", "what to check, in at most %d letters", LongestPrompt)
	bad.Unless(worded(i.How, LongestNote), field+"how", "how to check it")
	bad.Unless(worded(i.Source, LongestPrompt), field+"source", "the clause, or: common practice, no source")
	bad.Unless(i.State.Known(), field+"state", "locked out, stopped or running")
	bad.Unless(i.Kind.Known(), field+"kind", "choice, number, text, photo, meter or person")
	bad.Unless(i.Severity.Known(), field+"severity", "stop or mend")
	switch i.Kind {
	case Number:
		i.Limits.validate(bad, field+"limits.")
	case MeterReading:
		i.Limits.validateMeter(bad, field+"limits.")
		bad.Unless(worded(string(i.Meter), LongestText), field+"meter", "which meter, by the name every list that reads it gives it")
		bad.Unless(i.Repeat.Per == "", field+"repeat", "asked once: each meter is an item of its own")
	}
	i.validateOptions(bad, field+"options")
	bad.Unless(i.Qualified.Known(), field+"qualified", "anybody of the crew, or qualified for lifting gear or for electrical work")
	bad.Unless(tidy(i.Picture, LongestText), field+"picture", "a photo kept here")
	bad.Unless(i.Repeat.Per == "" || i.Repeat.Per.Known(), field+"repeat", "for each dog, hook, entry point or headblock, or not at all")
	bad.Unless(i.Repeat.Count >= 0 && i.Repeat.Count <= mostTimes, field+"repeat.count", "1 to %d, or as many as were counted at set-up", mostTimes)
}

// mostOptions bounds the words of a choice: more don't fit a phone.
const mostOptions = 12

func (i Item) validateOptions(bad *plain.Problems, field string) {
	if len(i.Options) == 0 || i.Kind != Choice {
		return
	}
	bad.Unless(len(i.Options) >= 2 && len(i.Options) <= mostOptions, field, "2 to %d words to choose from, or none", mostOptions)
	for n, option := range i.Options {
		bad.Unless(worded(option, LongestText) && option == strings.TrimSpace(option) && !slices.Contains(i.Options[:n], option),
			field, "each word once, in at most %d letters", LongestText)
	}
}

// Usable tells whether the id of a list can stand in an address: small letters,
// digits and dashes, and none of the words that have a page of their own there.
func (id ListID) Usable() bool {
	plain := strings.Trim(string(id), "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
	return plain && id != "" && len(id) <= longestID && id != "new" && id != "import"
}

// usable tells whether an id can stand in the name of a field and before the
// mark of a repeated item.
func (id ItemID) usable() bool {
	return id != "" && tidy(string(id), longestID) && !strings.ContainsFunc(string(id), func(r rune) bool {
		return r == '#' || r == '.' || unicode.IsSpace(r) || unicode.IsControl(r)
	})
}

// Known tells whether s is one of the machine states.
func (s MachineState) Known() bool { return s == LockedOut || s == Stopped || s == Running }

// Known tells whether k is one of the kinds of answer.
func (k AnswerKind) Known() bool {
	switch k {
	case Choice, Number, Text, Photo, MeterReading, Somebody:
		return true
	}
	return false
}

// Known tells whether s is one of the severities.
func (s Severity) Known() bool { return s == Stop || s == Mend }

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
