package procedures

import (
	"strconv"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

const qualifiedReturns = "29 CFR 1910.184(e)(3)(iii)"

// MayEnterGear tells whether by may enter that a part of the lifting gear was
// inspected or measured. Anybody of the crew may look before a shift and may
// report a part as not fit; that it passed a thorough inspection is the word of
// a person recorded as qualified for lifting gear. The error is a
// [plain.Refusal]. Source: 29 CFR 1910.184(e)(3)(iii), a competent person whom
// the employer designates; read in WAC 296-24-29423(3)(c), which repeats it.
func MayEnterGear(by Person, thorough, passed bool) error {
	if !by.Works() {
		return plain.Refuse("", "only somebody of the crew can enter what was found of the gear; you are signed in to read")
	}
	if thorough && passed && !by.QualifiedLifting {
		return plain.Refuse(qualifiedReturns, "only a person recorded as qualified for lifting gear can pass a part at more than the look before a shift; anybody may report it as not fit")
	}
	return nil
}

// MayMeasureGear tells whether by may enter a measurement that states asNew as
// the size as new, 0 for none, where kept is the one it was entered with before,
// 0 for none. Anybody of the crew may measure; a size as new that stands already
// is changed by a qualified person alone, for limits are reckoned from it. The
// error is a [plain.Refusal] or a [plain.Problems] of the field "new".
func MayMeasureGear(by Person, asNew, kept float64) error {
	if err := MayEnterGear(by, false, true); err != nil {
		return err
	}
	var bad plain.Problems
	if asNew > 0 && kept > 0 && !by.QualifiedLifting && !lift.SameSize(asNew, kept) {
		bad.Unless(false, "new", "%s, as it was entered before, or left empty: only a person recorded as qualified for lifting gear changes the size as new", plain.Gauged(kept))
	}
	return bad.Err()
}

// RigChange is a rig about to be put in force: After in place of Before, the
// zero rig where none of it is in force yet, in a mill that knows Register of its
// gear.
type RigChange struct {
	Before, After lift.Rig
	Register      lift.Register
}

// MayPublishRig tells whether by may put the rig in force as far as its gear
// goes. The error is a [plain.Problems] of fields named as on a form.
//
// The day a part was inspected is the word of who inspected it. Only a person
// recorded as qualified for lifting gear puts such a day, or a later due date,
// in force, or returns a part that was out of service, or enters otherwise or
// takes out a part that the register has out of use; for the last two with a
// reason. In a mill where no rig has a dated part yet somebody has to begin: a
// supervisor puts the first days in force who names for each who inspected the
// part. Own rule, after 29 CFR 1910.184(e)(3)(iii) and 1910.265(c)(24)(iii).
func MayPublishRig(c RigChange, by Person) error {
	var bad plain.Problems
	first := !dated(c.Register.Versions)
	was := map[string]lift.Link{}
	for _, version := range c.Register.Versions { // kept on purpose as the same steel
		if version.InForce && version.Rig.ID == c.After.Begun && c.After.Begun != "" {
			for _, l := range version.Rig.Links {
				was[l.ID] = l
			}
		}
	}
	for _, l := range c.Before.Links {
		was[l.ID] = l
	}
	for i := range c.After.Links {
		l := &c.After.Links[i]
		before := was[l.ID]
		at := func(name string) string { return "link-" + strconv.Itoa(i+1) + "-" + name }
		newDay := !l.Inspected.IsZero() && !l.Inspected.Equal(before.Inspected)
		switch {
		case by.QualifiedLifting:
		case newDay && first:
			bad.Unless(l.InspectedBy != "", at("inspected-by"), "who inspected it, as on the paper: you are not recorded as qualified for lifting gear, so the day is that person's word")
		case newDay:
			bad.Unless(false, at("inspected"), "the day as it was: only a person recorded as qualified for lifting gear puts another day of inspection in force, %s. It can be entered on the part's own page as well", qualifiedReturns)
		case !before.InspectionDue.IsZero() && l.InspectionDue.After(before.InspectionDue):
			bad.Unless(false, at("due"), "no later than it was: only a person recorded as qualified for lifting gear puts an inspection off, %s", qualifiedReturns)
		case l.State == lift.InService && (before.State == lift.OutOfService || before.State == lift.Destroyed):
			bad.Unless(false, at("state"), "out of service, as it was: only a person recorded as qualified for lifting gear returns a part, %s", qualifiedReturns)
		}
	}
	c.mayTakeOut(&bad, by)
	return bad.Err()
}

// dated tells whether a day of inspection was ever put in force.
func dated(all []lift.Version) bool {
	for _, version := range all {
		for _, l := range version.Rig.Links {
			if !l.Inspected.IsZero() {
				return true
			}
		}
	}
	return false
}

// mayTakeOut holds what becomes of the parts that the register has out of use.
func (c RigChange) mayTakeOut(bad *plain.Problems, by Person) {
	looked, taken := c.Register.Of(&c.Before)
	touched := false
	for i := range c.Before.Links {
		before := &c.Before.Links[i]
		if len(before.Out(looked, taken)) == 0 {
			continue
		}
		place, field := c.otherwise(before)
		if field == "" {
			continue
		}
		touched = true
		if at := "link-" + strconv.Itoa(place+1) + "-" + field; place >= 0 {
			bad.Unless(by.QualifiedLifting, at, "as it was: %s is out of use by the register, and only a person recorded as qualified for lifting gear enters it otherwise", before.Name)
		} else {
			bad.Unless(by.QualifiedLifting, "links", "%s still there: it is out of use by the register, and only a person recorded as qualified for lifting gear takes it out of the rig", before.Name)
		}
	}
	bad.Unless(!touched || c.After.Why != "", "why", "why a part that is out of use by the register is taken out or entered otherwise")
}

// otherwise tells where the part stands now and what of it that its limits and
// its name hang on was changed, "" for nothing; place -1 where it is gone.
func (c RigChange) otherwise(before *lift.Link) (place int, field string) {
	for i := range c.After.Links {
		l := &c.After.Links[i]
		if l.ID != before.ID {
			continue
		}
		switch {
		case l.Kind != before.Kind:
			return i, "kind"
		case l.Grade != before.Grade:
			return i, "grade"
		case l.Size != before.Size:
			return i, "size"
		case l.Tag != before.Tag:
			return i, "tag"
		}
		return i, ""
	}
	return -1, "id"
}
