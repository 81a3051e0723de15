package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// scheduleWords says when a list falls due.
func scheduleWords(s checklists.Schedule) plain.Sentence {
	switch s.Every {
	case checklists.AfterDays:
		return plain.Say("at most %d days after it was last done", s.Days)
	case checklists.AfterHours:
		return plain.Say("at most %[1]s running hours of %[2]s after it was last done", plain.Say("%v", s.Hours), string(s.Meter))
	case checklists.OnEvent:
		var on []plain.Sentence
		for _, kind := range s.On {
			on = append(on, kind.Said())
		}
		return plain.Say("on event: %s", on)
	}
	return everyWords(s.Every)
}
