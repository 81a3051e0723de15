package lift

import (
	"slices"
	"strconv"

	"stillsaw/procedures/plain"
)

// KeepsDestroyed tells whether r leaves destroyed what was entered as destroyed
// in any version of any rig of the mill. Gear is destroyed so that nobody uses it
// again: a part that takes its place is another part, with an id, a tag and
// inspections of its own. The error is a [plain.Problems] of fields named as on
// a form, link-1-state. Source: 29 CFR 1910.179(j)(2)(iii) and makers'
// practice: a hook or sling past its limits is taken out for good.
func (r *Rig) KeepsDestroyed(all []Version) error {
	type entry struct{ rig, link string }
	gone := map[entry]bool{}
	for v := range all {
		for i := range all[v].Rig.Links {
			if l := &all[v].Rig.Links[i]; l.State == Destroyed && l.ID != "" {
				gone[entry{all[v].Rig.ID, l.ID}] = true
			}
		}
	}
	shared := r.Shared(all)
	var bad plain.Problems
	for i := range r.Links {
		l := &r.Links[i]
		back := gone[entry{r.ID, l.ID}] || slices.ContainsFunc(shared, func(one Shared) bool { return one.Link == l.ID && gone[entry{one.Rig, one.As}] })
		if back && l.State != Destroyed {
			bad.Unless(false, "link-"+strconv.Itoa(i+1)+"-state", "destroyed, as it was entered before: what was destroyed doesn't come back. Remove the part; add the one in its place as a new part, with its own tag")
		}
	}
	return bad.Err()
}

// MayPass tells whether an inspection may pass the part. The error is a
// [plain.Refusal] for one that is destroyed.
func (l *Link) MayPass() error {
	if l.State == Destroyed {
		return plain.Refuse("", "%s is entered as destroyed and can't be passed; the part in its place is entered in the rig as a new part", l.label())
	}
	return nil
}
