package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
)

// RecursWithin is how soon after its return to service the same item found
// wrong on the same equipment is the earlier defect come back. Common practice,
// no source.
const RecursWithin = 30 * 24 * time.Hour

// Recurring is the defect linked to the one it is a recurrence of: the last
// found at the same item of the same equipment, by whichever list, that was mended and, within
// [RecursWithin] of its return, is wrong again. One mended and not yet returned
// counts as well: the mending did not hold. A stop without an item recurs of
// nothing, as nobody knows what it is about.
func (d Defect) Recurring(past []Defect) Defect {
	var last Defect
	for _, p := range past {
		if p.ID == d.ID || !p.sameItem(d) || p.MendedAt.IsZero() || p.MendedAt.After(d.At) {
			continue
		}
		if !p.Open() && (p.ReturnedAt.After(d.At) || d.At.Sub(p.ReturnedAt) > RecursWithin) {
			continue
		}
		if last.ID == "" || p.At.After(last.At) {
			last = p
		}
	}
	if last.ID != "" {
		d.Again, d.Times = last.ID, max(last.Times, 1)+1
	}
	return d
}

// sameItem tells whether both were found at one item of one machine, whichever
// list asked it. Of a repeated item one dog is not the other; an item that was
// not repeated when one of them was found is the same still.
func (d Defect) sameItem(o Defect) bool {
	item, other := d.Item.written(), o.Item.written()
	return item != "" && item == other && d.Equipment == o.Equipment && (d.Item == o.Item || d.Item == item || o.Item == other)
}

// What makes a pattern: the same item found wrong so often within so long.
// Common practice, no source.
const (
	PatternWithin = 180 * 24 * time.Hour
	PatternTimes  = 3
)

// Pattern is an item found wrong again and again.
type Pattern struct {
	Equipment   procedures.EquipmentID
	List        ListID
	Item        ItemID
	Times       int // defects found at it within [PatternWithin]
	Open        int // of them still open
	Found       int // signed inspections in which it was found wrong
	Walked      int // signed inspections in which it was looked at
	First, Last time.Time
	Newest      DefectID
}

// Patterns are the items found wrong [PatternTimes] times or more within
// [PatternWithin], the most frequent first. Inspections are those signed in that
// time; a defect found again while it stands open is one defect, and counts among
// the inspections.
func Patterns(defects []Defect, inspections []Inspection, now time.Time) []Pattern {
	from := now.Add(-PatternWithin)
	var all []Pattern
	for _, d := range defects {
		if d.Item == "" || d.At.Before(from) || d.At.After(now) {
			continue
		}
		i := slices.IndexFunc(all, func(p Pattern) bool {
			return p.Item == d.Item && p.List == d.List && p.Equipment == d.Equipment
		})
		if i < 0 {
			all = append(all, Pattern{Equipment: d.Equipment, List: d.List, Item: d.Item, First: d.At, Last: d.At, Newest: d.ID})
			i = len(all) - 1
		}
		p := &all[i]
		p.Times++
		if d.Open() {
			p.Open++
		}
		if d.At.Before(p.First) {
			p.First = d.At
		}
		if !d.At.Before(p.Last) {
			p.Last, p.Newest = d.At, d.ID
		}
	}
	all = slices.DeleteFunc(all, func(p Pattern) bool { return p.Times < PatternTimes })
	for i := range all {
		all[i].walked(inspections, from, now)
	}
	slices.SortStableFunc(all, func(a, b Pattern) int {
		if a.Times != b.Times {
			return b.Times - a.Times
		}
		return b.Last.Compare(a.Last)
	})
	return all
}

func (p *Pattern) walked(inspections []Inspection, from, now time.Time) {
	for _, in := range inspections {
		if in.List != p.List || in.At.Before(from) || in.At.After(now) {
			continue
		}
		for _, a := range in.Answers {
			if a.Item != p.Item || a.Result == NotChecked {
				continue
			}
			p.Walked++
			if a.Result == Found {
				p.Found++
			}
		}
	}
}

// AgeBounds are the ages, in days, between which open defects are counted.
func AgeBounds() []int { return []int{1, 7, 30} }

// Ageing is how long the open defects of one severity have been open.
type Ageing struct {
	Severity Severity      // as it counts now: a mend past its date is stop
	Counts   []int         // under the first of [AgeBounds], up to the next, and so on
	Open     int           // all of them
	Oldest   time.Duration // 0 where none is open
}

// Ages sorts the open defects by what they do to their machine now and by age:
// those that stop it, then those that may run with a stop-gap.
func Ages(open []Defect, now time.Time) []Ageing {
	bounds := AgeBounds()
	ages := []Ageing{{Severity: Stop, Counts: make([]int, len(bounds)+1)}, {Severity: Mend, Counts: make([]int, len(bounds)+1)}}
	for _, d := range open {
		if !d.Open() {
			continue
		}
		a := &ages[0]
		if !d.StopsNow(now) {
			a = &ages[1]
		}
		age, place := d.OpenFor(now), 0
		for place < len(bounds) && age >= time.Duration(bounds[place])*24*time.Hour {
			place++
		}
		a.Counts[place]++
		a.Open++
		a.Oldest = max(a.Oldest, age)
	}
	return ages
}
