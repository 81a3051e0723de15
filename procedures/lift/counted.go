package lift

import (
	"math"
	"time"

	"stillsaw/procedures/plain"
)

// Told is whether a reading counts for what the scale teaches, and what is to be
// said of it; Why is empty of one that counts like any other.
type Told struct {
	Lift   string
	Counts bool
	Why    plain.Sentence
}

// Tell tells of each reading of this kind and condition, but those put aside,
// whether it counts. Lighter than published teaches only a lift that its check
// allowed: of any other nobody can say that it hung free. Heavier counts from any
// lift. Readings of one piece count once, the heaviest. Own choice.
func Tell(weighings []Weighing, kind Species, condition Condition) []Told {
	s := sortOut(weighings, kind, condition)
	_, odd := Learn(weighings, kind, condition)
	at := map[string]int{}
	for i, one := range s.told {
		at[one.Lift] = i
	}
	for _, one := range odd {
		s.told[at[one.Lift]] = Told{one.Lift, one.Counted, one.Said}
	}
	return s.told
}

// sorted are the readings of one kind and condition: of lifts that were allowed,
// and heavier ones of lifts that were not.
type sorted struct {
	own, heavy []Weighing
	told       []Told
}

func sortOut(weighings []Weighing, kind Species, condition Condition) (s sorted) {
	var may []Weighing
	for _, w := range weighings {
		if w.Kind != kind.Scientific || w.Condition != condition || !kind.known() || w.Aside {
			continue
		}
		if !w.Lifted && !(w.Ratio() >= 1) {
			s.told = append(s.told, Told{Lift: w.Lift, Why: plain.Say("not counted: its check did not allow the lift, and only a lift that was allowed teaches lighter wood")})
			continue
		}
		may = append(may, w)
	}
	for i := range may {
		w := &may[i]
		switch {
		case weighedAgain(may, i):
			s.told = append(s.told, Told{Lift: w.Lift, Why: plain.Say("not counted: a piece of the same sizes was weighed within a day of it, and one piece counts once, at its heaviest")})
		case w.Lifted:
			s.own = append(s.own, *w)
			s.told = append(s.told, Told{Lift: w.Lift, Counts: true})
		default:
			s.heavy = append(s.heavy, *w)
			s.told = append(s.told, Told{Lift: w.Lift, Counts: true, Why: plain.Say("counted toward heavier wood alone: its check did not allow the lift")})
		}
	}
	return s
}

const (
	sameDay = 24 * time.Hour
	// Sizes of one piece, taped twice, give volumes as near as this. Own choice.
	sameVolume = 0.005
)

// weighedAgain tells whether another reading in the list stands for that of i:
// heavier, or as heavy and earlier in the list.
func weighedAgain(list []Weighing, i int) bool {
	w := &list[i]
	for j := range list {
		o := &list[j]
		if j == i || !near(w.Length, o.Length) || !near(w.Volume, o.Volume) || w.At.Sub(o.At).Abs() >= sameDay {
			continue
		}
		if o.Ratio() > w.Ratio() || o.Ratio() == w.Ratio() && j < i {
			return true
		}
	}
	return false
}

func near(a, b float64) bool { return math.Abs(a-b) <= sameVolume*math.Max(a, b) }
