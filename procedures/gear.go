package procedures

import "stillsaw/procedures/plain"

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
		return plain.Refuse("29 CFR 1910.184(e)(3)(iii)", "only a person recorded as qualified for lifting gear can pass a part at more than the look before a shift; anybody may report it as not fit")
	}
	return nil
}
