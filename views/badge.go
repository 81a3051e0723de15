package views

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// Badge is a verdict as a word, a shape and a colour. The zero Badge says
// NOT KNOWN.
type Badge struct {
	*Frame
	Kind  string // "may-run", "go", "was-go", "held", "no-go", "run-check", or "" for not known: the class in the stylesheet
	Small bool   // in a list
	Live  bool   // turns into NOT KNOWN when the phone hears nothing for 30 s
}

// StatusBadge is the badge of a piece of equipment. It goes out of date, so a
// page without contact turns it into NOT KNOWN.
func (f *Frame) StatusBadge(status checklists.Status) Badge {
	b := Badge{Frame: f, Live: true}
	switch status {
	case checklists.MayRun:
		b.Kind = "may-run"
	case checklists.RunCheckOnly:
		b.Kind = "run-check"
	case checklists.Held:
		b.Kind = "held"
	}
	return b
}

// LiftBadge is GO or NO-GO.
func (f *Frame) LiftBadge(goes bool) Badge {
	if goes {
		return Badge{Frame: f, Kind: "go"}
	}
	return Badge{Frame: f, Kind: "no-go"}
}

// WasGo is the badge of a GO that is over.
func (f *Frame) WasGo() Badge { return Badge{Frame: f, Kind: "was-go"} }

// AsSmall is the badge for a line of a list.
func (b Badge) AsSmall() Badge {
	b.Small = true
	return b
}

// Class is Kind, or "not-known" for anything that is none.
func (b Badge) Class() string {
	switch b.Kind {
	case "may-run", "go", "was-go", "held", "no-go", "run-check":
		return b.Kind
	}
	return "not-known"
}

// Word is what stands in the badge.
func (b Badge) Word() string {
	switch b.Kind {
	case "may-run":
		return b.T("MAY RUN")
	case "go":
		return b.T("GO")
	case "was-go":
		return b.T("WAS GO")
	case "held":
		return b.T("HELD")
	case "no-go":
		return b.T("NO-GO")
	case "run-check":
		return b.T("RUN CHECK ONLY")
	}
	return b.T("NOT KNOWN")
}

// Beside is what must stand beside every MAY RUN.
func (b Badge) Beside() string {
	if b.Kind != "may-run" {
		return ""
	}
	return b.T("Locks put on without Stillsaw don't show here. Look at the isolators.")
}

// Caution is a hazard message under an ANSI Z535 signal word, for hazards only.
// The signal word says how bad it is if the hazard is not avoided (ANSI Z535.4):
// danger will, warning could kill or injure badly; caution could injure lightly;
// notice is not about injury and carries no alert symbol.
type Caution struct {
	*Frame
	Signal string // "danger", "warning", "caution", "notice"
	Text   string // what the hazard is, what it does, how to avoid it
}

// Danger is a hazard that will kill or injure badly unless avoided.
func (f *Frame) Danger(text string) Caution { return Caution{f, "danger", text} }

// Warning is a hazard that could kill or injure badly.
func (f *Frame) Warning(text string) Caution { return Caution{f, "warning", text} }

// Caution is a hazard that could injure lightly.
func (f *Frame) Caution(text string) Caution { return Caution{f, "caution", text} }

// Notice is about something other than injury.
func (f *Frame) Notice(text string) Caution { return Caution{f, "notice", text} }

// Word is the signal word.
func (c Caution) Word() string {
	switch c.Signal {
	case "danger":
		return c.T("DANGER")
	case "caution":
		return c.T("CAUTION")
	case "notice":
		return c.T("NOTICE")
	}
	return c.T("WARNING")
}

// Class is Signal, or "warning" for anything that is none.
func (c Caution) Class() string {
	switch c.Signal {
	case "danger", "caution", "notice":
		return c.Signal
	}
	return "warning"
}

// Hold is one reason something is held, with names in place of ids.
type Hold struct {
	Reason plain.Sentence
	Clears plain.Sentence // what clears it, and who can
	Since  time.Time
	By     string // who reported it; "" when nobody did, as with a check that is due
	From   string // the equipment the hold comes from, when it travelled along a link
	Href   string // where to go to clear it

	Unchecked bool // an item nobody looked at

	Each []Hold // of one that stands for several: the several
}

// Together is the holds with several in a row that are alike in kind said as one.
// of tells the kind, "" of what stands by itself; said is what the several come to.
func Together(holds []Hold, of func(Hold) string, said func(several []Hold) plain.Sentence) []Hold {
	var all []Hold
	for i := 0; i < len(holds); {
		next := i + 1
		for kind := of(holds[i]); kind != "" && next < len(holds) && of(holds[next]) == kind; {
			next++
		}
		one := holds[i]
		if several := holds[i:next]; len(several) > 1 {
			one.Reason, one.Each = said(several), several
			one.From, one.By = "", ""
			for _, h := range several {
				if h.Since.Before(one.Since) {
					one.Since = h.Since
				}
			}
		}
		all = append(all, one)
		i = next
	}
	return all
}

// Holds is the list of them.
type Holds struct {
	*Frame
	Holds []Hold
}

// HoldList is the part for holds.
func (f *Frame) HoldList(holds []Hold) Holds { return Holds{f, holds} }
