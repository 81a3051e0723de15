package procedures

import (
	"fmt"
	"strings"
	"time"
)

// Waits taken while a coast time is not yet measured. Common practice, no
// source: well beyond the coasting of the saws and fans a small mill has, and
// only half of the proof; the mark must be seen still as well.
const (
	SawWaitUnmeasured = 3 * time.Minute
	FanWaitUnmeasured = 5 * time.Minute
)

// CoastWait is how long to wait after shutting down: the measured coast time
// and a quarter more (common practice, no source), or unmeasured when there is
// no measurement.
func CoastWait(measured, unmeasured time.Duration) time.Duration {
	if measured <= 0 {
		return unmeasured
	}
	return measured + measured/4
}

// How a note on where a wait comes from begins, at the end of a step's text.
const (
	measuredNote   = " The wait is the measured coast time, "
	unmeasuredNote = " The coast time is not yet measured: the wait is "
)

// waitNote says on a step where its wait comes from.
func waitNote(coast, wait time.Duration) string {
	if coast > 0 {
		return fmt.Sprintf(measuredNote+"%g s, and a quarter more.", coast.Seconds())
	}
	return fmt.Sprintf(unmeasuredNote+"%g s until this mill puts in its own (common practice, no source).", wait.Seconds())
}

// CutWaitNote returns the text of a step without the note on where its wait comes
// from, and whether there was one.
func CutWaitNote(text string) (string, bool) {
	for _, note := range []string{measuredNote, unmeasuredNote} {
		if before, _, found := strings.Cut(text, note); found {
			return before, true
		}
	}
	return text, false
}

func (p Proof) known() bool {
	switch p {
	case Tick, TryStart, MarkStill, BlockIn, GaugeZero, HookEmpty, MeterDead:
		return true
	default:
		return false
	}
}
