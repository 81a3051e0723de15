package server

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
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

// What weighs on a piece is no place for a guess: taken for 1.2 lb, 1,200 lb lifts
// what must not be lifted. The same amounts that can be one thing only are read.
func TestWhatHangsWithThePieceIsNeverAThousandthOfWhatWasMeant(t *testing.T) {
	for _, units := range []checklists.Units{checklists.InchPound, checklists.Metric} {
		for _, comma := range []bool{false, true} {
			for _, text := range []string{"1,200", "1.200", "1,200 lb", "1.200 kg", "1.200,5", "1,200.5", "1 200", "1\u202f200", "1’200", "1e3", "-5", "1½,5"} {
				r := newReader(measures{units, comma})
				require.Zero(t, r.extra("extra", text), text)
				require.NotEmpty(t, r.problems, "%s with comma %v", text, comma)
			}
			for text, kg := range map[string]float64{"12,5 kg": 12.5, "12.5 kg": 12.5, "1200 kg": 1200, "0,125 kg": 0.125, "3 1/2 kg": 3.5, "1½ kg": 1.5, "": 0} {
				r := newReader(measures{units, comma})
				require.InDelta(t, kg, r.extra("extra", text), 1e-9, text)
				require.Empty(t, r.problems, text)
			}
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
	// Read already, or of no person.
	known := map[string]bool{"trends.go": true, "lift_reader.go": true, "tapped": true, "asTyped": true}
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
					case "pointed", "point":
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
