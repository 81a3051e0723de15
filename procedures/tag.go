package procedures

import (
	"slices"

	"stillsaw/procedures/plain"
)

// Legend is one of the five warnings a tag carries, 29 CFR 1910.147(c)(5)(iii).
type Legend string

const (
	DoNotStart    Legend = "do-not-start"
	DoNotOpen     Legend = "do-not-open"
	DoNotClose    Legend = "do-not-close"
	DoNotEnergize Legend = "do-not-energize"
	DoNotOperate  Legend = "do-not-operate"
)

// Legends returns the five.
func Legends() []Legend {
	return []Legend{DoNotStart, DoNotOpen, DoNotClose, DoNotEnergize, DoNotOperate}
}

// Words is the legend as it stands on the tag.
func (l Legend) Words() plain.Sentence {
	switch l {
	case DoNotStart:
		return plain.Say("DO NOT START")
	case DoNotOpen:
		return plain.Say("DO NOT OPEN")
	case DoNotClose:
		return plain.Say("DO NOT CLOSE")
	case DoNotEnergize:
		return plain.Say("DO NOT ENERGIZE")
	case DoNotOperate:
		return plain.Say("DO NOT OPERATE")
	}
	return plain.Say("no legend")
}

// Tag is one tag as it hangs at a device.
type Tag struct {
	Legend    Legend   `json:"legend"`
	Hazard    string   `json:"hazard"` // what happens if it is energized
	Owner     PersonID `json:"owner"`
	Readable  bool     `json:"readable"`
	Fastening bool     `json:"fastening"` // single use, by hand, self-locking, holds 50 lb (222 N)
	OnDevice  bool     `json:"on_device"`
	Where     string   `json:"where"` // when it can't hang on the device itself
}

// Validate returns nil or a [plain.Problems] for the fields "legend", "hazard",
// "owner", "readable", "fastening" and "where".
func (t Tag) Validate() error { return problemsBy(tagRules(), t) }

func tagRules() []rule[Tag, plain.Problems] {
	return []rule[Tag, plain.Problems]{
		{"legend and hazard", func(t Tag) plain.Problems {
			return append(want(slices.Contains(Legends(), t.Legend), "legend", plain.Say("one of the five legends, 29 CFR 1910.147(c)(5)(iii)")),
				want(!blank(t.Hazard), "hazard", plain.Say("what happens if it is energized, 29 CFR 1910.147(c)(5)(iii)"))...)
		}},
		{"shows who", func(t Tag) plain.Problems {
			return want(t.Owner != "", "owner", plain.Say("whose tag it is, 29 CFR 1910.147(c)(5)(ii)(D)"))
		}},
		{"readable", func(t Tag) plain.Problems {
			return want(t.Readable, "readable", plain.Say("a tag that can be read; take a new one, 29 CFR 1910.147(c)(5)(ii)(A)"))
		}},
		{"fastened to hold", func(t Tag) plain.Problems {
			return want(t.Fastening, "fastening", plain.Say("a tie for one use that locks itself and holds 50 lb (222 N), 29 CFR 1910.147(c)(5)(ii)(C)(2)"))
		}},
		{"place said when not on the device", func(t Tag) plain.Problems {
			return want(t.OnDevice || !blank(t.Where), "where", plain.Say("where it hangs, as near the device as is safe and plain to anyone about to work it, 29 CFR 1910.147(d)(4)(iii)(B)"))
		}},
	}
}
