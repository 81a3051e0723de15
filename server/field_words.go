package server

import (
	"strconv"
	"strings"

	"stillsaw/procedures/plain"
)

// fieldWords says in words what stands at a place of an entry, by the end of its
// JSON pointer; one of several by its number, counted from 1. A place without
// words of its own is named by its pointer.
func fieldWords(pointer string) plain.Sentence {
	var name string
	number := 0
	parts := strings.Split(strings.TrimPrefix(pointer, "/"), "/")
	for _, part := range parts {
		if n, err := strconv.Atoi(part); err == nil {
			number = n + 1
		} else {
			name = part
		}
	}
	said, known := fieldName(name)
	switch {
	case !known:
		return plain.Say("%s", pointer)
	case number > 0:
		return plain.Say("%[1]s, no. %[2]d", said, number)
	}
	return said
}

// fieldName is the words for a sealed field of any entry, by its name there.
func fieldName(name string) (plain.Sentence, bool) {
	switch name {
	case "name":
		return plain.Say("Name"), true
	case "note":
		return plain.Say("Note"), true
	case "text", "texts":
		return plain.Say("Text"), true
	case "rig_texts":
		return plain.Say("Text of the rig"), true
	case "said":
		return plain.Say("What was said"), true
	case "what":
		return plain.Say("What it was"), true
	case "where":
		return plain.Say("Where it was"), true
	case "hazard":
		return plain.Say("The hazard on the tag"), true
	case "who":
		return plain.Say("Who it was"), true
	case "present":
		return plain.Say("Who was there"), true
	case "harmed":
		return plain.Say("Who was hurt"), true
	case "done":
		return plain.Say("What was done"), true
	case "how":
		return plain.Say("How it was done"), true
	case "measure":
		return plain.Say("What is done instead"), true
	case "stop_gap":
		return plain.Say("What is done meanwhile"), true
	case "mend_note":
		return plain.Say("Note on the mending"), true
	case "return_note":
		return plain.Say("Note on the return to service"), true
	case "electrical_note":
		return plain.Say("Note on work on electrical parts"), true
	case "lifting_note":
		return plain.Say("Note on lifting gear"), true
	case "minor_until":
		return plain.Say("Day of turning 18"), true
	case "reason", "reasons", "why":
		return plain.Say("Reason"), true
	case "lift_reason":
		return plain.Say("Reason for lifting the hold"), true
	case "why_later":
		return plain.Say("Why it was entered later"), true
	case "rule":
		return plain.Say("Rule or request"), true
	case "restrictions":
		return plain.Say("What the firm may not do"), true
	case "holds":
		return plain.Say("What held the lift"), true
	case "told":
		return plain.Say("Who was told"), true
	case "not_here":
		return plain.Say("How it was known that the owner was away"), true
	case "way":
		return plain.Say("How the owner was looked for"), true
	case "result":
		return plain.Say("What came of it"), true
	case "outside":
		return plain.Say("Somebody from outside"), true
	case "covered":
		return plain.Say("What the training covered"), true
	case "purpose":
		return plain.Say("Purpose"), true
	case "duty":
		return plain.Say("Duty"), true
	case "scope":
		return plain.Say("Scope"), true
	case "enforcement":
		return plain.Say("How it is enforced"), true
	case "absent_owner":
		return plain.Say("Absent owner"), true
	case "lock_colour":
		return plain.Say("Lock colour"), true
	case "tag_standard":
		return plain.Say("Tag standard"), true
	case "title":
		return plain.Say("Title"), true
	case "trainer":
		return plain.Say("Who trained"), true
	}
	return plain.Sentence{}, false
}
