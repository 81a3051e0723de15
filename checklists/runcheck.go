package checklists

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// RunCheckLasts is how long a run check lasts. Common practice, no source: long
// enough to walk the running items of one machine, short enough not to saw with.
const RunCheckLasts = 30 * time.Minute

// AllowRunCheck gives one named person leave to turn equipment for checking it,
// from now for [RunCheckLasts]: before a shift, for the items that need it
// running, or for a mended defect that waits for its return. draft holds the
// answers taken so far; what was signed for the present shift or period counts
// with them. The run check covers also what turns along with the equipment, and
// the site's own items.
//
// It is refused, with a [plain.Refusal] that names what is missing, while any
// lockout, stop defect, departure or doubt about the facts holds any of these,
// and until every stop item done locked out or stopped is answered OK for all
// of them and for the site.
func AllowRunCheck(id RunCheckID, f Facts, list List, draft []Answer, equipment []procedures.EquipmentID, by procedures.Person, now time.Time) (RunCheck, error) {
	if !by.Works() {
		return RunCheck{}, plain.Refuse("", "Only somebody of the crew runs a machine for checking. Sign in as yourself.")
	}
	covered, err := f.turnsWith(equipment)
	if err != nil {
		return RunCheck{}, err
	}
	holds := f.holds(now)
	for _, e := range covered {
		for _, h := range tidyHolds(holds[e]) {
			if barsRunCheck(h) {
				return RunCheck{}, plain.Refuse("", "No run check while %s is held. %s %s", f.nameOf(e), h.Reason, h.Clears)
			}
		}
	}
	if missing := f.notReady(list, draft, covered, now); len(missing) > 0 {
		return RunCheck{}, plain.Refuse("", "Before it is turned, these are answered OK first: %s", strings.Join(missing, ", "))
	}
	return RunCheck{ID: id, Equipment: covered, Person: by.ID, From: now, Until: now.Add(RunCheckLasts)}, nil
}

// turnsWith is the equipment asked for, in the plant's order, with everything
// that runs along with it and the site.
func (f Facts) turnsWith(equipment []procedures.EquipmentID) ([]procedures.EquipmentID, error) {
	wanted := make(map[procedures.EquipmentID]bool)
	for _, id := range equipment {
		e, known := f.Plant.Find(id)
		if !known || e.Kind == procedures.Site {
			return nil, plain.Refuse("", "Say which machine is to be turned. The mill as a whole is not one.")
		}
		for _, reached := range f.Plant.ReachedByStop(id) {
			wanted[reached] = true
		}
	}
	if len(wanted) == 0 {
		return nil, plain.Refuse("", "Say which machine is to be turned.")
	}
	var covered []procedures.EquipmentID
	for _, e := range f.Plant {
		if wanted[e.ID] || e.Kind == procedures.Site {
			covered = append(covered, e.ID)
		}
	}
	return covered, nil
}

func (f Facts) nameOf(id procedures.EquipmentID) string {
	if e, known := f.Plant.Find(id); known && e.Name != "" {
		return e.Name
	}
	return string(id)
}

// notReady names the items that have to be answered OK before the equipment is
// turned and are not.
func (f Facts) notReady(list List, draft []Answer, covered []procedures.EquipmentID, now time.Time) []string {
	if !list.inForce(now) {
		return []string{"a list in force"}
	}
	given := make(map[ItemID]Answer)
	if state := Due(list, f.Mill, f.Inspections, now); state.Status == IsDone {
		given = f.counting(list, state, now)
	}
	for item, answer := range latest(draft, now) {
		if fresh(list, f.Mill, answer.At, now) {
			given[item] = answer
		}
	}
	var missing []string
	for _, item := range list.Items {
		if item.NotFitted || !slices.Contains(covered, item.Equipment) {
			continue
		}
		answer, answered := given[item.ID]
		stops := answer.Result == Found && answer.Severity != Mend
		needed := item.Severity != Mend && item.State != Running
		switch {
		case answered && item.stands(answer) == nil && answer.Result == OK:
		case stops && f.settled(item, answer):
		case needed || stops:
			missing = append(missing, string(item.ID))
		}
	}
	return missing
}

// settled tells whether the defect found at the item was signed and is mended
// or back in service since: while one stands open unmended, the holds refuse.
func (f Facts) settled(item Item, found Answer) bool {
	for _, in := range f.Inspections {
		for _, a := range in.Answers {
			if a.Item == found.Item && a.By == found.By && a.At.Equal(found.At) {
				return true
			}
		}
	}
	for _, am := range f.Amendments {
		for _, a := range am.Answers {
			if a.Item == found.Item && a.By == found.By && a.At.Equal(found.At) {
				return true
			}
		}
	}
	return false
}
