package checklists

import (
	"slices"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Answers is what the starter plant and procedures vary with.
func (a SetUp) Answers() procedures.Answers {
	return procedures.Answers{
		Drive: a.Drive, Feed: a.Feed, Dogs: a.Dogs, Hoist: a.Hoist, Collector: a.Collector,
		Headblocks: a.Headblocks, Portable: a.Portable, IsolatorCutsPower: a.IsolatorCutsPower,
		Setworks: a.Setworks, OffBearing: a.OffBearing,
	}
}

// Validate returns nil or a [plain.Problems] with every answer outside its list
// or range; saw diameter and spindle speed may be left 0, not stated.
func (a SetUp) Validate() error {
	var bad plain.Problems
	bad.Unless(slices.Contains([]string{"us-federal", "us-state", "canada", "uk", "other", "farm"}, a.Law), "law", "choose whose rules apply")
	bad.Add("", a.Answers().Validate())
	bad.Unless(a.EntryPoints >= 1 && a.EntryPoints <= mostRepeats, "entry_points", "1 to %d", mostRepeats)
	bad.Unless(a.SawDiameter >= 0 && a.SawDiameter <= 3, "saw_diameter", "0 to 3 m, 0 if not known")
	bad.Unless(a.SpindleSpeed >= 0 && a.SpindleSpeed <= fastestSpindle, "spindle_speed", "0 to %d rpm, 0 if not known", fastestSpindle)
	return bad.Err()
}
