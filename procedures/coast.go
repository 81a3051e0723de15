package procedures

import "time"

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

func (p Proof) known() bool {
	switch p {
	case Tick, TryStart, MarkStill, BlockIn, GaugeZero, HookEmpty, MeterDead:
		return true
	default:
		return false
	}
}
