package lift_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// parts are the rules beside the one of strength: the real ones, or with one of
// them broken on purpose.
type parts struct {
	check  judge
	holds  func(*lift.Lift, *lift.Verdict, time.Time, []lift.Event, time.Time) (bool, plain.Sentence)
	covers func(*lift.Lift, *lift.Verdict, lift.Piece) (bool, plain.Sentence)
	window func(lift.Lift) lift.YokeWindow
	land   func(lift.Piece, []float64, float64) (lift.Landing, error)
	learn  func([]lift.Weighing, lift.Species, lift.Condition) (lift.Learned, []lift.Odd)
	again  func(*lift.Verdict, *lift.Lift)
}

func asWritten() parts {
	return parts{lift.Check, lift.Holds, lift.Covers, lift.Window, lift.Land, lift.Learn, (*lift.Verdict).Check}
}

// chance draws the numbers of one case.
type chance struct{ *rand.Rand }

func (c chance) between(low, high float64) float64 { return low + (high-low)*c.Float64() }
func (c chance) within(longest time.Duration) time.Duration {
	return time.Duration(c.Int64N(int64(longest)))
}

// oath is what the parts promise, told from one random case, and rules that
// break it.
type oath struct {
	name   string
	keeps  func(t *testing.T, p *parts, c chance) bool
	broken map[string]func(p *parts)
}

func oaths() []oath {
	return []oath{
		{"no verdict stands after its shift", standsWithinItsShift, map[string]func(*parts){
			"the shift is forgotten": func(p *parts) {
				p.holds = func(l *lift.Lift, v *lift.Verdict, end time.Time, e []lift.Event, at time.Time) (bool, plain.Sentence) {
					return lift.Holds(l, v, end.Add(24*time.Hour), e, at)
				}
			},
			"an end nobody knows is tonight": func(p *parts) {
				p.holds = func(l *lift.Lift, v *lift.Verdict, end time.Time, e []lift.Event, at time.Time) (bool, plain.Sentence) {
					if end.IsZero() {
						end = at.Add(time.Hour)
					}
					return lift.Holds(l, v, end, e, at)
				}
			},
			"inspections fall due tomorrow": func(p *parts) {
				p.holds = func(l *lift.Lift, v *lift.Verdict, end time.Time, e []lift.Event, at time.Time) (bool, plain.Sentence) {
					later := *l
					later.Rig.Links = slices.Clone(l.Rig.Links)
					for i := range later.Rig.Links {
						later.Rig.Links[i].InspectionDue = at.Add(time.Hour)
					}
					return lift.Holds(&later, v, end, e, at)
				}
			}}},
		{"no verdict stands after a change or a shock", standsUntilSomethingHappens, map[string]func(*parts){
			"shock loads are forgotten":      forgets(func(e lift.Event) bool { return e.Kind == lift.ShockLoad }),
			"changes are forgotten":          forgets(func(e lift.Event) bool { return e.Kind == lift.GearChanged }),
			"what nobody named is forgotten": forgets(func(e lift.Event) bool { return e.Kind == lift.EventUnknown }),
			"what has no time is forgotten":  forgets(func(e lift.Event) bool { return e.At.IsZero() })}},
		{"no verdict covers a heavier piece", coversNothingHeavier, map[string]func(*parts){
			"snow on the next one is forgotten": func(p *parts) {
				p.covers = func(l *lift.Lift, v *lift.Verdict, next lift.Piece) (bool, plain.Sentence) {
					next.Extra = 0
					return lift.Covers(l, v, next)
				}
			},
			"a tenth more is let through": func(p *parts) {
				p.covers = func(l *lift.Lift, v *lift.Verdict, next lift.Piece) (bool, plain.Sentence) {
					with := *v
					with.Weight.Upper *= 1.1
					return lift.Covers(l, &with, next)
				}
			},
			"the balance point is forgotten": func(p *parts) {
				p.covers = func(l *lift.Lift, v *lift.Verdict, next lift.Piece) (bool, plain.Sentence) {
					next.Balance = l.Piece.Balance
					return lift.Covers(l, v, next)
				}
			}}},
		{"what the window lets fit, the rule of geometry does", windowAgrees, map[string]func(*parts){
			"every marked setting fits": func(p *parts) {
				p.window = func(l lift.Lift) lift.YokeWindow {
					w := lift.Window(l)
					for i := range w.Fits {
						w.Fits[i].Fits, w.Fits[i].Why = true, nil
					}
					return w
				}
			},
			"a setting is refused without a reason": func(p *parts) {
				p.window = func(l lift.Lift) lift.YokeWindow {
					w := lift.Window(l)
					for i := range w.Fits {
						w.Fits[i].Why = nil
					}
					return w
				}
			},
			"lengths are rounded up to the centimetre": func(p *parts) {
				p.window = func(l lift.Lift) lift.YokeWindow {
					w := lift.Window(l)
					for i := range w.Legs {
						w.Legs[i].To += 0.01
						w.Legs[i].From -= 0.01
					}
					for i := range w.Yoke {
						w.Yoke[i].To += 0.01
					}
					return w
				}
			}}},
		{"a piece that rests has its balance point between two headblocks", restsInBalance, map[string]func(*parts){
			"two headblocks are enough": func(p *parts) {
				p.land = func(q lift.Piece, at []float64, mark float64) (lift.Landing, error) {
					l, err := lift.Land(q, at, mark)
					l.Rests = l.Rests || len(l.Bears) > 1
					return l, err
				}
			},
			"the shares are changed round": func(p *parts) {
				p.land = func(q lift.Piece, at []float64, mark float64) (lift.Landing, error) {
					l, err := lift.Land(q, at, mark)
					slices.Reverse(l.Share)
					return l, err
				}
			},
			"it balances at its middle": func(p *parts) {
				p.land = func(q lift.Piece, at []float64, mark float64) (lift.Landing, error) {
					q.Balance = q.Length / 2
					return lift.Land(q, at, mark)
				}
			},
			"what does not rest says nothing": func(p *parts) {
				p.land = func(q lift.Piece, at []float64, mark float64) (lift.Landing, error) {
					l, err := lift.Land(q, at, mark)
					l.Said = plain.Sentence{}
					return l, err
				}
			}}},
		{"no reading brings the upper weight below the published mean unsigned", learnsNoLighter, map[string]func(*parts){
			"every reading is signed for": func(p *parts) {
				p.learn = func(w []lift.Weighing, s lift.Species, c lift.Condition) (lift.Learned, []lift.Odd) {
					l, odd := lift.Learn(w, s, c)
					l.Signed = l.N > 0
					return l, odd
				}
			}}},
		{"a verdict used again is the same as a new one", usedAgainIsNew, map[string]func(*parts){
			"nothing is wiped": func(p *parts) {
				p.again = func(v *lift.Verdict, l *lift.Lift) {
					before := slices.Clone(v.Findings)
					v.Check(l)
					v.Findings = append(before, v.Findings...)
				}
			}}},
		{"a GO has numbers in every place", goHasNumbers, map[string]func(*parts){
			"an angle is none": func(p *parts) {
				p.check = func(l lift.Lift) lift.Verdict {
					v := lift.Check(l)
					v.Angle = plain.Degrees(math.Acos(1.5))
					return v
				}
			},
			"a pull has no end": func(p *parts) {
				p.check = func(l lift.Lift) lift.Verdict {
					v := lift.Check(l)
					if len(v.LegTension) == 2 {
						v.LegTension[1] = plain.Newtons(math.Inf(1))
					}
					return v
				}
			}}},
	}
}

// forgets passes over some of what happened to the gear.
func forgets(what func(lift.Event) bool) func(*parts) {
	return func(p *parts) {
		p.holds = func(l *lift.Lift, v *lift.Verdict, end time.Time, e []lift.Event, at time.Time) (bool, plain.Sentence) {
			return lift.Holds(l, v, end, slices.DeleteFunc(slices.Clone(e), what), at)
		}
	}
}

func TestEveryPartKeepsItsPromise(t *testing.T) {
	for _, o := range oaths() {
		p := asWritten()
		c := chance{rand.New(rand.NewPCG(21, 22))}
		for range 400 {
			require.True(t, o.keeps(t, &p, c), o.name)
		}
	}
}

// The same promise is seen to fail with each rule that breaks it.
func TestEveryPromiseOfAPartIsSeenToFailOnABrokenRule(t *testing.T) {
	for _, o := range oaths() {
		for what, spoil := range o.broken {
			p := asWritten()
			spoil(&p)
			c := chance{rand.New(rand.NewPCG(23, 24))}
			found := false
			for range 3000 {
				if found = !o.keeps(t, &p, c); found {
					break
				}
			}
			require.True(t, found, "%s: %s, and nothing found it out", o.name, what)
		}
	}
}
