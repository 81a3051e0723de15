package checklists

import (
	"strings"

	"stillsaw/procedures/plain"
)

// Said is the state in words.
func (s MachineState) Said() plain.Sentence {
	switch s {
	case LockedOut:
		return plain.Say("locked out")
	case Stopped:
		return plain.Say("stopped")
	case Running:
		return plain.Say("running, from the stand")
	}
	return plain.Say("not said")
}

// Said is the severity in words.
func (s Severity) Said() plain.Sentence {
	switch s {
	case Stop:
		return plain.Say("stop")
	case Mend:
		return plain.Say("mend")
	}
	return plain.Say("not said")
}

// Said is the kind of answer in words.
func (k AnswerKind) Said() plain.Sentence {
	switch k {
	case Choice:
		return plain.Say("OK or defect")
	case Number:
		return plain.Say("a number")
	case Text:
		return plain.Say("words")
	case Photo:
		return plain.Say("a photo")
	case MeterReading:
		return plain.Say("a meter reading")
	case Somebody:
		return plain.Say("one of the crew")
	}
	return plain.Say("not said")
}

// Said is the qualification in words.
func (q Qualification) Said() plain.Sentence {
	switch q {
	case ForLifting:
		return plain.Say("qualified for lifting gear")
	case ForElectrical:
		return plain.Say("qualified for electrical work")
	}
	return plain.Say("anybody of the crew")
}

// Said is what an item is repeated for in words.
func (r Repeat) Said() plain.Sentence {
	per := plain.Say("not said")
	switch r.Per {
	case "":
		return plain.Say("once")
	case PerDog:
		per = plain.Say("each dog")
	case PerHook:
		per = plain.Say("each hook")
	case PerEntryPoint:
		per = plain.Say("each entry point")
	case PerHeadblock:
		per = plain.Say("each headblock")
	}
	switch {
	case r.Count > 0:
		return plain.Say("for %[1]s, %[2]d of them", per, r.Count)
	case r.Times > 0:
		return plain.Say("for %[1]s, %[2]d by set-up", per, r.Times)
	}
	return plain.Say("for %s, as many as set-up counts", per)
}

// Said is the condition in words.
func (c Condition) Said() plain.Sentence {
	item := string(c.Item)
	switch {
	case c == (Condition{}):
		return plain.Say("always")
	case c.Result == OK:
		return plain.Say("only if %s is OK", item)
	case c.Result == Found:
		return plain.Say("only if %s is a defect", item)
	case c.Result == NotChecked:
		return plain.Say("only if %s is not checked", item)
	case c.Choice != "":
		return plain.Say("only if %[1]s is %[2]s", item, c.Choice)
	case c.From != nil && c.To != nil:
		return plain.Say("only if %[1]s is from %[2]v to %[3]v", item, *c.From, *c.To)
	case c.From != nil:
		return plain.Say("only if %[1]s is %[2]v or more", item, *c.From)
	case c.To != nil:
		return plain.Say("only if %[1]s is %[2]v or less", item, *c.To)
	}
	return plain.Say("depends on %s, not said how", item)
}

// Said is how often the period comes round in words.
func (p Period) Said() plain.Sentence {
	switch p {
	case EachShift:
		return plain.Say("every shift")
	case EachDay:
		return plain.Say("every day")
	case EachWeek:
		return plain.Say("every week")
	case EachMonth:
		return plain.Say("every month")
	case EachQuarter:
		return plain.Say("every quarter")
	case EachYear:
		return plain.Say("every year")
	case AfterDays:
		return plain.Say("so many days after it was last done")
	case AfterHours:
		return plain.Say("after so many running hours")
	case OnEvent:
		return plain.Say("when something has happened")
	}
	return plain.Say("not said")
}

// saidText is words a person wrote, or that there are none.
func saidText(text string) plain.Sentence {
	if strings.TrimSpace(text) == "" {
		return plain.Say("none")
	}
	return plain.Say("%s", text)
}

func saidTexts(texts []string) plain.Sentence { return saidText(strings.Join(texts, ", ")) }

func saidBound(x *float64, unit string) plain.Sentence {
	if x == nil {
		return plain.Say("none")
	}
	return plain.Say("%[1]v %[2]s", *x, unit)
}

func saidYes(yes bool) plain.Sentence {
	if yes {
		return plain.Say("yes")
	}
	return plain.Say("no")
}
