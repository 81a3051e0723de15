package checklists

import (
	"cmp"
	"slices"
	"time"

	"stillsaw/procedures"
)

// Lasted is how long something took, or has taken so far where it is open still.
type Lasted struct {
	For  time.Duration
	Open bool
}

// MedianLasted is the time within which half of all are over, those open still
// counted for as long as they have been: leaving them out would make a mill that
// mends only what is easy look quick. ok is false where half are not over yet.
//
// Source: the product-limit estimate of E. L. Kaplan and P. Meier, J. Am. Stat.
// Assoc. 53 (1958); the median is the first time at which no more than half are left.
func MedianLasted(all []Lasted) (median time.Duration, ok bool) {
	sorted := slices.Clone(all)
	slices.SortFunc(sorted, func(a, b Lasted) int {
		switch {
		case a.For != b.For || a.Open == b.Open:
			return cmp.Compare(a.For, b.For)
		case b.Open:
			return -1 // one over at that time counts before one open still
		}
		return 1
	})
	left := 1.0
	for i, one := range sorted {
		if one.Open {
			continue
		}
		atRisk := len(sorted) - i
		left *= 1 - 1/float64(atRisk)
		if left <= 0.5+1e-12 {
			return one.For, true
		}
	}
	return 0, false
}

// MendTime is how long the defects of one piece of equipment took.
type MendTime struct {
	Equipment procedures.EquipmentID // "" for all together
	Defects   int
	Open      int           // still open
	Mended    time.Duration // median from found to reported mended
	MendedOK  bool          // half are mended
	Back      time.Duration // median from found to returned to service
	BackOK    bool          // half are returned
}

// MendTimes are the times of the defects found since from: all together first,
// then by equipment in the order of the plant.
func MendTimes(defects []Defect, plant procedures.Plant, from, now time.Time) []MendTime {
	counted := func(d Defect) bool { return !d.At.Before(from) && !d.At.After(now) }
	times := []MendTime{mendTime("", defects, counted, now)}
	for _, e := range plant {
		one := mendTime(e.ID, defects, func(d Defect) bool { return counted(d) && d.Equipment == e.ID }, now)
		if one.Defects > 0 {
			times = append(times, one)
		}
	}
	return times
}

func mendTime(id procedures.EquipmentID, defects []Defect, counted func(Defect) bool, now time.Time) MendTime {
	t := MendTime{Equipment: id}
	var mended, back []Lasted
	span := func(from, until time.Time) Lasted {
		if until.IsZero() {
			return Lasted{For: max(0, now.Sub(from)), Open: true}
		}
		return Lasted{For: max(0, until.Sub(from))}
	}
	for _, d := range defects {
		if !counted(d) {
			continue
		}
		t.Defects++
		if d.Open() {
			t.Open++
		}
		mended, back = append(mended, span(d.At, d.MendedAt)), append(back, span(d.At, d.ReturnedAt))
	}
	t.Mended, t.MendedOK = MedianLasted(mended)
	t.Back, t.BackOK = MedianLasted(back)
	return t
}

// MonthRow is how many defects were found on a piece of equipment, by month.
type MonthRow struct {
	Equipment procedures.EquipmentID
	Counts    []int
	Total     int
}

// ByMonth counts the defects found in each of the last months, this one the
// last, in the mill's zone: the first moment of each month, and a row for each
// piece of equipment that had any, in the order of the plant.
func ByMonth(defects []Defect, plant procedures.Plant, months int, zone *time.Location, now time.Time) ([]time.Time, []MonthRow) {
	local := now.In(zone)
	starts := make([]time.Time, months)
	for i := range starts {
		starts[i] = time.Date(local.Year(), local.Month()-time.Month(months-1-i), 1, 0, 0, 0, 0, zone)
	}
	var rows []MonthRow
	for _, e := range plant {
		row := MonthRow{Equipment: e.ID, Counts: make([]int, months)}
		for _, d := range defects {
			if d.Equipment != e.ID || d.At.After(now) {
				continue
			}
			for i := months - 1; i >= 0; i-- {
				if !d.At.Before(starts[i]) {
					row.Counts[i]++
					row.Total++
					break
				}
			}
		}
		if row.Total > 0 {
			rows = append(rows, row)
		}
	}
	return starts, rows
}
