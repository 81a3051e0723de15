package procedures

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// limit is a field with the last value that is taken at each end, and the first
// that isn't.
type limit struct {
	field    string
	keep     func(float64) error
	ok, over []float64
}

func (l limit) holds(t *testing.T) {
	for _, x := range l.ok {
		require.NotContains(t, fields(l.keep(x)), l.field, "%s %v", l.field, x)
	}
	for _, x := range l.over {
		require.Contains(t, fields(l.keep(x)), l.field, "%s %v", l.field, x)
	}
}

// Each text at exactly its limit and a letter longer.
func TestEachTextFitsToTheLetter(t *testing.T) {
	require.Equal(t, 200, longestName)
	require.Equal(t, 4000, longestText)
	plant := StarterPlant(registerAnswers("electric"))
	xs := func(n float64) string { return strings.Repeat("x", int(n)) }
	energy := func(change func(*Energy, string)) func(float64) error {
		return func(n float64) error {
			return second(plant.KeepEnergy("hoist", goodEnergy(func(e *Energy) { e.Stored, e.Relief = true, "wait"; change(e, xs(n)) })))
		}
	}
	device := func(change func(*Device, string)) func(float64) error {
		return func(n float64) error {
			return second(plant.KeepDevice("hoist", goodDevice(func(d *Device) { change(d, xs(n)) })))
		}
	}
	step := func(change func(*Step, string)) func(float64) error {
		return func(n float64) error {
			return second(hoistDraft().KeepStep(goodStep(func(s *Step) { change(s, xs(n)) })))
		}
	}
	training := func(change func(*Training, string)) func(float64) error {
		return func(n float64) error {
			one := goodTraining(hoistProcedure())
			change(&one, xs(n))
			return second(one.Enter(samSup, shiftDay))
		}
	}
	certificate := func(change func(*certified, string)) func(float64) error {
		return func(n float64) error {
			c := goodCertificate(hoistProcedure())
			change(&c, xs(n))
			return second(certify(c))
		}
	}
	finding := func(change func(*Finding, string)) func(float64) error {
		return certificate(func(c *certified, s string) {
			f := Finding{Said: "hasp worn", Kind: WrongGear, Owner: annOp.ID, Due: shiftDay}
			change(&f, s)
			c.in.Findings = []Finding{f}
		})
	}
	outside := func(change func(*certified, string)) func(float64) error {
		return certificate(func(c *certified, s string) {
			c.in.Inspector, c.by, c.in.Outside, c.in.Firm = "", samSup, "Jo Firth", "Firth Safety"
			change(c, s)
		})
	}
	firm := func(change func(*Contractor, string)) func(float64) error {
		return func(n float64) error {
			c := Contractor{ID: "c", Firm: "Brightwater"}
			change(&c, xs(n))
			return second(c.Keep(samSup, nil, shiftDay))
		}
	}
	task := func(change func(*Task, string)) func(float64) error {
		return func(n float64) error { return kept(productionTask(func(t *Task) { change(t, xs(n)) })) }
	}
	changed := func(change func(*Particulars, string)) func(float64) error {
		return func(n float64) error {
			hoist, _ := plant.Find("hoist")
			w := hoist.Particulars()
			change(&w, xs(n))
			return second(plant.Changed("hoist", w))
		}
	}
	fitting := func(change func(*Fitting, string)) func(float64) error {
		return changed(func(w *Particulars, s string) {
			f := w.Devices["yoke-rest"]
			change(&f, s)
			w.Devices["yoke-rest"] = f
		})
	}
	for most, each := range map[float64]map[string]func(float64) error{
		200: {
			"source":          energy(func(e *Energy, s string) { e.Source = s }),
			"size":            energy(func(e *Energy, s string) { e.Magnitude = s }),
			"label":           device(func(d *Device, s string) { d.Label = s }),
			"place":           device(func(d *Device, s string) { d.Place = s }),
			"clause":          step(func(s *Step, text string) { s.Clause = text }),
			"trainer":         training(func(t *Training, s string) { t.Trainer = s }),
			"outside":         outside(func(c *certified, s string) { c.in.Outside = s }),
			"firm":            outside(func(c *certified, s string) { c.in.Firm = s }),
			"how":             func(n float64) error { m := measuredAt(0, "saw-rotation", 96); m.How = xs(n); return m.Validate(plant) },
			"title":           task(func(t *Task, s string) { t.Title = s }),
			"name":            changed(func(w *Particulars, s string) { w.Name = s }),
			"size.hoist-load": changed(func(w *Particulars, s string) { w.Sizes["hoist-load"] = s }),
			"label.yoke-rest": fitting(func(f *Fitting, s string) { f.Label = s }),
			"place.yoke-rest": fitting(func(f *Fitting, s string) { f.Place = s }),
			"number": func(n float64) error {
				l := goodLock()
				l.Number = xs(n)
				return second(l.Keep(LockItem{}, samSup, crewOfTwo(), nil, redLocks(), shiftDay))
			},
		},
		4000: {
			"hazard":  energy(func(e *Energy, s string) { e.Hazard = s }),
			"relief":  energy(func(e *Energy, s string) { e.Relief = s }),
			"zero":    energy(func(e *Energy, s string) { e.Zero = s }),
			"text":    step(func(s *Step, text string) { s.Text = text }),
			"covered": training(func(t *Training, s string) { t.Covered = s }),
			"why_later": certificate(func(c *certified, s string) {
				c.Watched.Closed, c.Watched.Ended, c.in.WhyLater = true, c.Watched.Begun, s
				c.in.On = c.now
			}),
			"findings.1.said": finding(func(f *Finding, s string) { f.Said = s }),
			"restrictions":    firm(func(c *Contractor, s string) { c.Restrictions = s }),
			"measure":         task(func(t *Task, s string) { t.Measure = s }),
			"note":            task(func(t *Task, s string) { t.Note = s }),
			"why": func(n float64) error {
				return Renewal{Said: true, Why: xs(n)}.Validate([]Difference{{Kind: OfWords}})
			},
		},
	} {
		for field, keep := range each {
			limit{field, keep, []float64{1, most}, []float64{most + 1}}.holds(t)
		}
	}
	limit{"firm", firm(func(c *Contractor, s string) { c.Firm = s }), []float64{1, 200}, []float64{0, 201}}.holds(t)
	signed := ProcedureInspection{ID: "i", Findings: []Finding{{Owner: annOp.ID}}}
	limit{"note", func(n float64) error { return second(ActionDone{Note: xs(n)}.SeeTo(signed, nil, annOp, shiftDay)) }, []float64{1, 4000}, []float64{0, 4001}}.holds(t)
	for _, text := range []string{"source", "hazard", "zero"} {
		require.Contains(t, fields(second(plant.KeepEnergy("hoist", Energy{ID: "e", Kind: Electrical}))), text)
	}
}

// Each number and time at exactly its limit and past it. What is bounded by common
// practice says so beside its constant.
func TestEachNumberHoldsToItsLimit(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	require.Equal(t, 30*time.Minute, CoastMost)
	require.Equal(t, 37*time.Minute+30*time.Second, longestWait)
	require.Equal(t, time.Minute, leastRecheck)
	require.Equal(t, 12*time.Hour, VerificationLasts)
	coast := func(s float64) time.Duration { return time.Duration(s) }
	turns := func(change func(*Energy, time.Duration)) func(float64) error {
		return func(x float64) error {
			return second(plant.KeepEnergy("hoist", goodEnergy(func(e *Energy) { e.Kind, e.Stored, e.Relief = Rotation, true, "wait"; change(e, coast(x)) })))
		}
	}
	number := func(taken int) func(float64) error {
		return func(x float64) error {
			p, err := plant.KeepDevice("hoist", goodDevice(func(d *Device) { d.ID, d.Number = "other", taken }))
			require.NoError(t, err)
			return second(p.KeepDevice("hoist", goodDevice(func(d *Device) { d.Number = int(x) })))
		}
	}
	particulars := func(change func(*Particulars, float64)) func(float64) error {
		return func(x float64) error {
			saw, _ := plant.Find("head-saw")
			w := saw.Particulars()
			change(&w, x)
			return second(plant.Changed("head-saw", w))
		}
	}
	worded := func(change func(*Wording, float64)) func(float64) error {
		return func(x float64) error {
			p := starterOf("head-saw", registerAnswers("electric"))
			w := p.Wording()
			change(&w, x)
			return second(p.Reworded(w))
		}
	}
	step := func(change func(*Step, time.Duration)) func(float64) error {
		return func(x float64) error {
			return second(hoistDraft().KeepStep(goodStep(func(s *Step) { change(s, coast(x)) })))
		}
	}
	most, lasts, least, wait := float64(CoastMost), float64(VerificationLasts), float64(time.Minute), float64(longestWait)
	for _, l := range []limit{
		{"coast", turns(func(e *Energy, d time.Duration) { e.Coast = d }), []float64{0, 1, most}, []float64{-1, most + 1}},
		{"recheck", turns(func(e *Energy, d time.Duration) { e.Recheck = d }), []float64{0, least, lasts}, []float64{-1, 1, least - 1, lasts + 1}},
		{"number", number(0), []float64{0, 98, 99}, []float64{-1, 100}},
		{"number", number(5), []float64{0, 4, 6, 99}, []float64{5}},
		{"coast.saw-rotation", particulars(func(w *Particulars, x float64) { w.Coasts["saw-rotation"] = coast(x) }), []float64{0, 1, most}, []float64{-1, most + 1}},
		{"number.saw-pin", particulars(func(w *Particulars, x float64) {
			w.Devices["saw-pin"] = Fitting{Marking{Label: "Pin", Number: int(x)}, false}
		}), []float64{0, 3, 99}, []float64{-1, 100}},
		{"coast.saw-rotation", worded(func(w *Wording, x float64) { w.Coasts["saw-rotation"] = coast(x) }), []float64{0, 1, most}, []float64{-1, most + 1}},
		{"number.saw-pin", worded(func(w *Wording, x float64) { w.Devices["saw-pin"] = Marking{Label: "Pin", Number: int(x)} }), []float64{42, 99}, []float64{-1, 0, 100}},
		{"wait", step(func(s *Step, d time.Duration) { s.Wait = d }), []float64{0, 1, wait}, []float64{-1, wait + 1}},
		{"recheck", step(func(s *Step, d time.Duration) { s.Recheck = d }), []float64{0, least, lasts}, []float64{-1, least - 1, lasts + 1}},
		{"stage", func(x float64) error {
			return second(hoistDraft().KeepStep(goodStep(func(s *Step) { s.Stage, s.Recheck = Stage(x), 0 })))
		},
			[]float64{float64(Prepare), float64(Verify), float64(InspectArea), float64(NotifyRestored)}, []float64{0, float64(Work), float64(NotifyRestored) + 1}},
		{"seconds", func(x float64) error { return measuredAt(0, "saw-rotation", x).Validate(plant) }, []float64{1e-9, 1800}, []float64{0, -1, 1800.001}},
		{"headblocks", func(x float64) error { a := registerAnswers("electric"); a.Headblocks = int(x); return a.Validate() }, []float64{1, 8}, []float64{0, 9}},
	} {
		l.holds(t)
	}
	twice := starterOf("head-saw", registerAnswers("electric"))
	w := twice.Wording()
	w.Devices["saw-pin"] = Marking{Label: "Pin", Number: w.Devices["saw-disconnect"].Number}
	require.Equal(t, []string{"number.saw-pin"}, fields(second(twice.Reworded(w))), "each number once")
}

// A piece has up to 12 headblocks on at most 30 m of track, no two nearer than
// 5 cm, and a mark only where there are some. Common practice, no source.
func TestTrackIsMeasuredWithinItsBounds(t *testing.T) {
	track := func(mark float64, blocks ...float64) []string {
		e := Equipment{Kind: Carriage, Headblocks: blocks, LandingMark: mark}
		return fields(e.checkTrack())
	}
	twelve := make([]float64, 12)
	for i := range twelve {
		twelve[i] = float64(i)
	}
	require.Empty(t, track(0))
	require.Empty(t, track(1, twelve...))
	require.Equal(t, []string{"headblocks"}, track(1, append(slices.Clone(twelve), 12)...))
	require.Empty(t, track(30, 0, 0.05, 30))
	require.Empty(t, track(1e-9, 0))
	require.Equal(t, []string{"headblocks"}, track(1, 0, 0.0499))
	require.Equal(t, []string{"headblocks"}, track(1, 1, 30.001))
	require.Equal(t, []string{"headblocks"}, track(1, -0.001, 1))
	require.Equal(t, []string{"headblocks"}, track(1, 2, 2, 40, 40, -1), "said once")
	require.Equal(t, []string{"landing_mark"}, track(30.001, 1))
	require.Equal(t, []string{"landing_mark"}, track(0, 1))
	require.Equal(t, []string{"landing_mark"}, track(-0.001))
	require.Empty(t, track(3), "a mark without headblocks")
	for _, e := range []Equipment{{Kind: Hoist, LandingMark: 1}, {Kind: Hoist, Headblocks: []float64{1}, LandingMark: 1}} {
		require.Equal(t, []string{"headblocks"}, fields(e.checkTrack()))
	}
	require.Empty(t, fields((&Equipment{Kind: Hoist}).checkTrack()))
}

func TestEachAnswerIsOneOfItsList(t *testing.T) {
	good := registerAnswers("electric")
	require.NoError(t, good.Validate())
	for field, change := range map[string]func(*Answers, string){
		"drive": func(a *Answers, s string) { a.Drive = s }, "feed": func(a *Answers, s string) { a.Feed = s }, "dogs": func(a *Answers, s string) { a.Dogs = s },
		"hoist": func(a *Answers, s string) { a.Hoist = s }, "collector": func(a *Answers, s string) { a.Collector = s },
		"setworks": func(a *Answers, s string) { a.Setworks = s }, "off_bearing": func(a *Answers, s string) { a.OffBearing = s },
	} {
		a := good
		change(&a, "steam")
		require.Equal(t, []string{field}, fields(a.Validate()))
		change(&a, "")
		require.Equal(t, field != "setworks" && field != "off_bearing", a.Validate() != nil, "%s: not asked yet", field)
	}
}
