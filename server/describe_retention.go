package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// retention says what an entry about the keeping of the record reports.
func (t teller) retention(body any) (said plain.Sentence, href string, ok bool) {
	switch body := body.(type) {
	case checklists.KeepPolicy:
		rule, known := checklists.KeepRuleOf(body.Sort)
		if !known {
			return plain.Say("A sort of record this Stillsaw doesn't know is kept for another time from now on."), "/retention", true
		}
		if body.Reason == "" {
			return plain.Say("%[1]s: names and words are kept %[2]s, photos %[3]s.", rule.Title, keptFor(body.Values), keptFor(body.Photos)), "/retention", true
		}
		return plain.Say("%[1]s: names and words are kept %[2]s, photos %[3]s. Why: %[4]s", rule.Title, keptFor(body.Values), keptFor(body.Photos), body.Reason), "/retention", true
	case checklists.KeepHold:
		if !body.On() {
			return plain.Say("A hold was lifted: %[1]s. Why: %[2]s", t.held(body), orNotKept(body.LiftReason)), "/retention", true
		}
		return plain.Say("A hold: %[1]s is kept whatever the policies say. Why: %[2]s", t.held(body), orNotKept(body.Reason)), "/retention", true
	case store.Dropped:
		return t.dropped(body), "/retention", true
	}
	return plain.Sentence{}, "", false
}

func orNotKept(text string) plain.Sentence {
	if text == "" {
		return plain.Say("not kept")
	}
	return plain.Say("%s", text)
}

// dropped says what went, and by which word.
func (t teller) dropped(d store.Dropped) plain.Sentence {
	if d.Policy > 0 {
		rule, _ := checklists.KeepRuleOf(d.Sort)
		return plain.Say("Dropped, as the policy of entry %[1]d says: %[2]s. %[3]s.", d.Policy, goneCount(d.Count(), len(d.Photos)), rule.Title)
	}
	return plain.Say("Dropped for good: %[1]s. Why: %[2]s. By which rule: %[3]s.", goneCount(d.Count(), len(d.Photos)), orNotKept(d.Reason), orNotKept(d.Rule))
}

// goneCount says how many places of text and photos, leaving out what is none.
func goneCount(values, photos int) plain.Sentence {
	switch {
	case photos == 0 && values == 0:
		return plain.Say("nothing")
	case photos == 0:
		return plain.Say("%d names and texts", values)
	case values == 0:
		return plain.Say("%d photos", photos)
	}
	return plain.Say("%[1]s and %[2]s", plain.Say("%d names and texts", values), plain.Say("%d photos", photos))
}

// held names what a hold keeps.
func (t teller) held(h checklists.KeepHold) plain.Sentence {
	var parts []plain.Sentence
	if h.Person != "" {
		parts = append(parts, plain.Say("what names %s", t.who(h.Person)))
	}
	if h.Equipment != "" {
		parts = append(parts, plain.Say("what is about %s", t.machine(h.Equipment)))
	}
	if h.Subject != "" {
		parts = append(parts, plain.Say("what is about %s", h.Subject))
	}
	switch {
	case h.From != "" && h.Until != "":
		parts = append(parts, plain.Say("the days %[1]s to %[2]s", h.From, h.Until))
	case h.From != "":
		parts = append(parts, plain.Say("the days from %s on", h.From))
	case h.Until != "":
		parts = append(parts, plain.Say("the days until %s", h.Until))
	}
	if len(parts) == 0 {
		return plain.Say("everything")
	}
	said := parts[0]
	for _, part := range parts[1:] {
		said = plain.Say("%[1]s, %[2]s", said, part)
	}
	return said
}

// retentionKindWords names these kinds of entry.
func retentionKindWords(kind string) (plain.Sentence, bool) {
	switch kind {
	case store.KindKeepFor:
		return plain.Say("Kept for"), true
	case store.KindHold:
		return plain.Say("Hold"), true
	case store.KindHoldLifted:
		return plain.Say("Hold lifted"), true
	case store.KindDropped:
		return plain.Say("Dropped"), true
	}
	return plain.Sentence{}, false
}
