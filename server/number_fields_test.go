package server

import (
	"go/ast"
	"go/parser"
	"go/token"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// Each way a form reads a number takes a comma as well as a point, in each
// language; what could be two numbers is refused.
func TestEveryNumberIsReadWithEitherMarkAndNeverGuessed(t *testing.T) {
	ways := map[string]func(in measures, text string) (float64, plain.Problems){
		"pointed": func(in measures, text string) (float64, plain.Problems) {
			var problems plain.Problems
			x, err := checklists.ParseNumber(in.pointed("field", text, &problems))
			problems.At("field", err)
			return x, problems
		},
		"point in a photo": func(in measures, text string) (float64, plain.Problems) {
			at, problems := readPoint(in, text, "0")
			return at.X, problems
		},
		"set-up, diameter": func(in measures, text string) (float64, plain.Problems) {
			mill, problems := setUpForm{Units: string(in.units), SawDiameter: text}.mill(in)
			return float64(mill.SetUp.SawDiameter), of(problems, "saw_diameter")
		},
		"set-up, speed": func(in measures, text string) (float64, plain.Problems) {
			mill, problems := setUpForm{Units: string(in.units), SpindleSpeed: text}.mill(in)
			return mill.SetUp.SpindleSpeed, of(problems, "spindle_speed")
		},
	}
	for name, read := range map[string]func(r *reader, text string) float64{
		"size":     func(r *reader, text string) float64 { return r.size("field", text, 0) },
		"girth":    func(r *reader, text string) float64 { return r.girth("field", text, 0) },
		"layer":    func(r *reader, text string) float64 { return r.layer("field", text, 0) },
		"optional": func(r *reader, text string) float64 { return r.optional("field", text) },
		"mass":     func(r *reader, text string) float64 { return r.mass("field", text) },
		"area":     func(r *reader, text string) float64 { return r.area("field", text) },
		"percent":  func(r *reader, text string) float64 { return r.percent("field", text) },
		"density":  func(r *reader, text string) float64 { return r.density("field", text) },
		"degrees":  func(r *reader, text string) float64 { return r.degrees("field", text) },
		"share":    func(r *reader, text string) float64 { return r.share("field", text) },
		"decimal":  func(r *reader, text string) float64 { return r.decimal("field", text, "a number") },
	} {
		ways[name] = func(in measures, text string) (float64, plain.Problems) {
			r := newReader(in)
			x := read(r, text)
			return x, r.problems
		}
	}
	for name, read := range ways {
		for _, units := range []checklists.Units{checklists.InchPound, checklists.Metric} {
			want, problems := read(measures{units: units}, "7.5")
			require.Empty(t, problems, name)
			require.Positive(t, want, name)
			for _, comma := range []bool{false, true} {
				for _, text := range []string{"7.5", "7,5", "7.50", "7,50"} {
					got, problems := read(measures{units, comma}, text)
					require.Empty(t, problems, "%s: %s", name, text)
					require.InDelta(t, want, got, 1e-12, "%s: %s", name, text)
				}
				two := map[bool][]string{false: {"1,204", "1,204.5", "1.204,5", "1.2.3"}, true: {"1.204", "1,204.5", "1.204,5", "1,2,3"}}
				for _, text := range two[comma] {
					_, problems := read(measures{units, comma}, text)
					require.NotEmpty(t, problems, "%s: %s with comma %v", name, text, comma)
				}
			}
		}
	}
}

// A weight is no place for a guess: a yoke of 1,200 lb taken for 1.2 lb, or so much
// snow on the piece, lifts what must not be lifted. The same amounts that can be one
// thing only are read.
func TestNoWeightIsAThousandthOfWhatWasMeant(t *testing.T) {
	for _, units := range []checklists.Units{checklists.InchPound, checklists.Metric} {
		for _, comma := range []bool{false, true} {
			for _, text := range []string{"1,200", "1.200", "1,200 lb", "1.200 kg", "1.200,5", "1,200.5", "1 200", "1\u202f200", "1’200", "1e3", "-5", "1½,5"} {
				r := newReader(measures{units, comma})
				require.Zero(t, r.mass("own-mass", text), text)
				require.NotEmpty(t, r.problems, "%s with comma %v", text, comma)
			}
			for text, kg := range map[string]float64{"12,5 kg": 12.5, "12.5 kg": 12.5, "1200 kg": 1200, "0,125 kg": 0.125, "1,2000 kg": 1.2, "3 1/2 kg": 3.5, "1½ kg": 1.5, "": 0} {
				r := newReader(measures{units, comma})
				require.InDelta(t, kg, r.mass("own-mass", text), 1e-9, text)
				require.Empty(t, r.problems, text)
			}
		}
	}
}

// Each weight of the forms, typed by somebody whose mark the comma is, and by
// somebody whose is the point.
func TestWeightsOfEveryFormAreAskedAgainWhereTheyReadTwoWays(t *testing.T) {
	for text, comma := range map[string]bool{"1,200": true, "1.200": false} {
		in := measures{checklists.InchPound, comma}
		rig := rigForm{Name: "Main hoist", Links: []linkForm{{ID: "yoke", Name: "Yoke", OwnMass: text, RatedLoad: text, ChokerLoad: text}}}
		_, _, problems := rig.rig("main-hoist", in, time.UTC)
		for _, field := range []string{"own-mass", "rated-load", "choker-load"} {
			found := of(problems, linkField(0, field))
			require.NotEmpty(t, found, field)
			require.Equal(t, "a number that reads one way only, 1200 or "+text+"0: "+text+" can be read in two ways", found[0].Want.String())
		}
		_, problems = scaleForm{Reading: text, Gear: text}.weighing(in)
		require.NotEmpty(t, of(problems, "scale"))
		require.NotEmpty(t, of(problems, "scale-gear"))
		starter := lift.StarterRig()
		lifted := liftForm{Shape: "round", Length: "8 ft", Density: text, Extra: text, Answers: make([]string, len(starter.Asks()))}
		for _, units := range []checklists.Units{checklists.InchPound, checklists.Metric} {
			_, problems = lifted.lift(starter, measures{units, comma})
			require.NotEmpty(t, of(problems, "extra"))
			require.Equal(t, units == checklists.Metric, strings.Contains(of(problems, "density").Error(), "two ways"), "1200 lb/ft³ is nothing there is")
		}
	}
}

// A thousandfold that can't be meant leaves a number as it stands: 17 3/8 in by a
// calculator is 17.375.
func TestLengthIsAskedAgainOnlyWhereTheThousandfoldIsOne(t *testing.T) {
	for text, asked := range map[string]bool{"17.375 in": false, "1.125 ft": false, "2.400 m": false, "7 ft 1.125 in": false, "1.200 mm": true, "2.400 cm": true, "12.700 mm": true} {
		r := newReader(measures{units: checklists.Metric})
		x := r.optional("field", text)
		require.Equal(t, asked, len(r.problems) > 0, text)
		require.Equal(t, asked, x == 0, text)
		r = newReader(measures{units: checklists.Metric})
		require.Equal(t, asked, r.size("field", text, 0) == 0, text)
	}
}

// What a form is filled in with is read back as it was kept, and never asked again.
func TestFilledInNumbersReadOneWay(t *testing.T) {
	for _, units := range []checklists.Units{checklists.InchPound, checklists.Metric} {
		for _, comma := range []bool{false, true} {
			in := measures{units, comma}
			for _, x := range []float64{12.345, 1.204, 12.3456, 12.5, 12, 0.125, 441.325, 0.003175, 0.015875, 1204.125} {
				rig := lift.StarterRig()
				rig.YokeWidth, rig.Links[0].OwnMass = x/100, x
				form := rigFormOf(rig, in, time.UTC)
				r := newReader(in)
				got := r.mass("own-mass", form.Links[0].OwnMass)
				require.Empty(t, r.problems, "%v: %s", x, form.Links[0].OwnMass)
				require.InDelta(t, x, got, 6e-5, form.Links[0].OwnMass)
				width := r.optional("yoke-width", form.YokeWidth)
				require.Empty(t, r.problems, "%v: %s", x, form.YokeWidth)
				require.InDelta(t, x/100, width, 6e-5*r.lengthSize, form.YokeWidth)
			}
		}
	}
	said := again("main-hoist", "carriage", &lift.Lift{Piece: lift.Piece{Extra: 12.345, Slabs: [4]float64{0.003175}, Density: 1.204}}, measures{units: checklists.Metric})
	address, err := url.Parse(said)
	require.NoError(t, err)
	require.Equal(t, [3]string{"12.3450 kg", "3.1750 mm", "1.2040"}, [3]string{address.Query().Get("extra"), address.Query().Get("slab-1"), address.Query().Get("density")})
}

// A measurement is asked again only where the item lets it be so much.
func TestMeasurementIsAskedAgainWhereItMayBeAThousandTimesAsMuch(t *testing.T) {
	for _, one := range []struct {
		typed        string
		comma, asked bool
		most         float64
	}{{"1.125", false, false, 30}, {"1,125", true, false, 30}, {"1,125", true, true, 5000}, {"1.125", false, true, 5000}, {"1,1250", true, false, 5000}, {"0,005", true, false, 5000}} {
		item := checklists.Item{ID: "P1", Kind: checklists.Number, Limits: checklists.Limits{Unit: "psi", Most: one.most}}
		a, problems := typedAnswer{Result: "ok", Number: one.typed}.answer(item, time.UTC, measures{checklists.InchPound, one.comma})
		require.Equal(t, one.asked, len(problems) > 0, "%v: %v", one, problems)
		if !one.asked {
			again, problems := typedOf(a, time.UTC).answer(item, time.UTC, measures{units: checklists.InchPound})
			require.Empty(t, problems, one)
			require.Equal(t, *a.Number, *again.Number)
		}
	}
}

func of(all plain.Problems, field string) (found plain.Problems) {
	for _, one := range all {
		if one.Field == field {
			found = append(found, one)
		}
	}
	return found
}

// No screen reads a number with decimals but through the reader of marks: whoever
// adds a field finds this test.
func TestNoScreenReadsANumberPastTheReaderOfMarks(t *testing.T) {
	// Read already, of no person, or JSON, which knows one mark.
	known := map[string]bool{"trends.go": true, "api_plain.go": true, "lift_reader.go": true, "tapped": true, "asTyped": true, "pointedUpTo": true}
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	found := 0
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") || known[name] {
			continue
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, name, nil, parser.SkipObjectResolution)
		require.NoError(t, err)
		for _, one := range file.Decls {
			in, is := one.(*ast.FuncDecl)
			if !is || in.Body == nil {
				continue
			}
			read, through := "", false
			ast.Inspect(in.Body, func(node ast.Node) bool {
				call, is := node.(*ast.CallExpr)
				if !is {
					return true
				}
				if what, is := call.Fun.(*ast.SelectorExpr); is {
					switch what.Sel.Name {
					case "ParseFloat", "ParseNumber", "ParseLength", "ParseMass", "ParseVolume", "ParseDensity":
						read = what.Sel.Name
					case "pointed", "pointedUpTo", "point":
						through = true
					}
				}
				return true
			})
			if read == "" {
				continue
			}
			found++
			require.True(t, through || known[in.Name.Name], "%s: %s reads with %s", name, in.Name.Name, read)
		}
	}
	require.Greater(t, found, 5)
}
