package procedures

import "stillsaw/procedures/plain"

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

// Tag is one tag as it hangs at a device, as who hung it reported it: see
// tagEnterRules for what is asked of it.
type Tag struct {
	Legend    Legend   `json:"legend"`
	Hazard    string   `json:"hazard"` // what happens if it is energized
	Owner     PersonID `json:"owner"`
	Readable  bool     `json:"readable"`
	Fastening bool     `json:"fastening"` // single use, by hand, self-locking, holds 50 lb (222 N)
	OnDevice  bool     `json:"on_device"`
	Where     string   `json:"where"` // when it can't hang on the device itself
}
