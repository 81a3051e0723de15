package lift

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// Out is why the register has a part out of use, and until what.
type Out struct {
	Since time.Time
	Said  plain.Sentence
}

// Out tells what stands against the part in the register, nothing where nothing
// does. What was found not fit stays so until an inspection at least as
// thorough passes it; what measured past its limit until a qualified person
// measures it within, or passes it at a yearly inspection. A size that can't be
// judged clears nothing. Source: 29 CFR 1910.184(e)(8) and 1910.265(c)(24)(iii),
// gear is returned by a qualified person; how thorough an inspection it takes is
// our own rule.
func (l *Link) Out(looked []Looked, taken []Taken) (all []Out) {
	if bad, out := rejected(looked, l.ID); out {
		said := plain.Say("%[1]s was found not fit on %[2]s: out of use until a person qualified for lifting gear passes it at a weekly inspection or more", l.label(), bad.At)
		switch clearing(bad.Every) {
		case EveryMonth:
			said = plain.Say("%[1]s was found not fit on %[2]s: out of use until a person qualified for lifting gear passes it at a monthly inspection or more", l.label(), bad.At)
		case EveryYear:
			said = plain.Say("%[1]s was found not fit on %[2]s: out of use until a person qualified for lifting gear passes it at a yearly inspection", l.label(), bad.At)
		}
		all = append(all, Out{bad.At, said})
	}
	if since, out := l.worn(looked, taken); out {
		all = append(all, Out{since, plain.Say("%[1]s measured past its limit on %[2]s: out of use until a person qualified for lifting gear measures it within, or passes it at a yearly inspection", l.label(), since)})
	}
	return all
}

// clearing is the least inspection that clears what one of this kind found.
func clearing(found Every) Every {
	switch found {
	case EveryShift, EveryWeek:
		return EveryWeek
	case EveryMonth:
		return EveryMonth
	}
	return EveryYear
}

// rejected is the finding of not fit that takes most to clear and isn't.
func rejected(looked []Looked, link string) (worst Looked, out bool) {
	for _, one := range looked {
		if one.Link != link || one.Fit || passedSince(looked, link, one.At, clearing(one.Every)) {
			continue
		}
		if !out || clearing(one.Every) > clearing(worst.Every) {
			worst, out = one, true
		}
	}
	return worst, out
}

// passedSince tells whether an inspection of at least that kind passed the link
// after the moment.
func passedSince(looked []Looked, link string, moment time.Time, least Every) bool {
	return slices.ContainsFunc(looked, func(one Looked) bool {
		return one.Link == link && one.Fit && !one.Elsewhere && one.Every >= least && one.Every <= EveryYear && one.At.After(moment)
	})
}

// worn tells since when a measurement of any kind stands past its limit.
func (l *Link) worn(looked []Looked, taken []Taken) (since time.Time, out bool) {
	bad := map[string]time.Time{} // by what was measured
	for _, one := range InOrder(taken) {
		if one.Link != l.ID {
			continue
		}
		at, past := bad[one.What]
		switch j, err := l.Judge(one); {
		case err != nil || j.Wear == Discard:
			bad[one.What] = one.At
		case past && j.Wear == Within && one.Qualified && !one.Elsewhere && one.At.After(at):
			delete(bad, one.What)
		}
	}
	for _, at := range bad {
		if !passedSince(looked, l.ID, at, EveryYear) && (!out || at.After(since)) {
			since, out = at, true
		}
	}
	return since, out
}

// InOrder is the measurements oldest first, each with the size as new that it is
// judged by: the first that was stated of its part, until a qualified person
// states another. An unqualified person who types another size as new, or none,
// changes nothing by it.
func InOrder(taken []Taken) []Taken {
	type series struct{ link, what string }
	taken = slices.Clone(taken)
	slices.SortStableFunc(taken, func(a, b Taken) int { return a.At.Compare(b.At) })
	kept := map[series]float64{}
	for i := range taken {
		one := &taken[i]
		of := series{one.Link, one.What}
		if one.Elsewhere && one.New > 0 {
			continue
		}
		if one.New > 0 && (kept[of] == 0 || one.Qualified) {
			kept[of] = one.New
		}
		one.New = kept[of]
	}
	return taken
}

// AsNew is the size as new that the next measurement is judged by, 0 where none
// was stated yet.
func AsNew(taken []Taken, link, what string) (size float64) {
	for _, one := range InOrder(taken) {
		if one.Link == link && one.What == what && !one.Elsewhere {
			size = one.New
		}
	}
	return size
}

// SameSize tells whether two sizes are the same one, typed in two units.
func SameSize(a, b float64) bool { return a-b <= sameLength && b-a <= sameLength }
