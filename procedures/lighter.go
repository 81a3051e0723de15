package procedures

import (
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// MaySignLighter tells whether by may sign that the upper weight of a kind of
// wood lies below the published mean, as the mill's own scale has shown. It is a
// supervisor's word, given on readings that do go below it; taking it back needs
// no readings. The error is a [plain.Refusal].
func MaySignLighter(by Person, kind lift.Species, condition lift.Condition, shown lift.Learned, allow bool) error {
	if !by.Supervises() {
		return plain.Refuse("", "only a supervisor can sign for an upper weight below the published mean")
	}
	if allow && !shown.BelowMean(kind, condition) {
		return plain.Refuse("", "the readings of this kind and condition don't bring the upper weight below the published mean, so there is nothing to sign")
	}
	return nil
}
