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

// WaitNote says at the end of a step where its wait comes from, in one language.
// Each is a format of one %g, the seconds: of the measured coast time, and of the
// wait while nothing is measured.
type WaitNote struct{ Measured, Unmeasured string }

// EnglishWaitNote is the note as drafts have it before they are put into another
// language.
func EnglishWaitNote() WaitNote {
	return WaitNote{
		Measured:   "The wait is the measured coast time, %g s, and a quarter more.",
		Unmeasured: "The coast time is not yet measured: the wait is %g s until this mill puts in its own (common practice, no source).",
	}
}

// of is the note on a wait, to stand behind the text of its step.
func (n WaitNote) of(coast, wait time.Duration) string {
	if coast > 0 {
		return " " + fmt.Sprintf(n.Measured, coast.Seconds())
	}
	return " " + fmt.Sprintf(n.Unmeasured, wait.Seconds())
}

// cut returns text without the note, and whether it ended in it.
func (n WaitNote) cut(text string) (string, bool) {
	for _, format := range []string{n.Measured, n.Unmeasured} {
		begins, _, _ := strings.Cut(format, "%g")
		if before, _, found := strings.Cut(text, " "+begins); found && begins != "" {
			return before, true
		}
	}
	return text, false
}

// CutWaitNote returns the text of a step without the English note on where its
// wait comes from, and whether there was one.
func CutWaitNote(text string) (string, bool) { return EnglishWaitNote().cut(text) }

func (p Proof) known() bool {
	switch p {
	case Tick, TryStart, MarkStill, BlockIn, GaugeZero, HookEmpty, MeterDead:
		return true
	default:
		return false
	}
}
