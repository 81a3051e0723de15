package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"strings"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// errNoGo ends lift with a status of its own; the reasons were printed.
var errNoGo = errors.New("NO-GO")

// badInput is something a call says that can't be meant.
type badInput struct{ error }

// liftFlags is one lift as it was typed.
type liftFlags struct {
	shape, species, kinds       string
	state                       string
	length, small, large        string
	middle, width, height, slab string
	heart, density              string
	ice, snow, snowKind         string
	bark, extra, span, placing  string
	rig                         string
	girth, wet                  bool
	asked, overBark, machine    bool
}

func (f *liftFlags) register(flags *flag.FlagSet) {
	flags.StringVar(&f.shape, "shape", "", "round, cant or squared")
	flags.StringVar(&f.species, "species", "", `kind of wood, common or scientific name; without it the heaviest of -kinds or of the table is taken`)
	flags.StringVar(&f.kinds, "kinds", "", `kinds of wood the mill saws, comma separated: "white oak,red maple"; the heaviest is taken where -species is not said`)
	flags.StringVar(&f.state, "state", "green", `green, part-dry, air-dry, soaked (out of a pond) or a measured moisture as "12%"`)
	flags.StringVar(&f.length, "length", "", `length, with its unit as every quantity: "8ft", "17 3/8in", "2.4m"`)
	flags.StringVar(&f.small, "small", "", "diameter at the small end, of a round piece or of the log a cant was sawn from")
	flags.StringVar(&f.large, "large", "", "diameter at the large end")
	flags.StringVar(&f.middle, "middle", "", "diameter of a round piece at half its length; with it -small and -large may both be left out")
	flags.BoolVar(&f.girth, "girth", false, "-small, -middle and -large are girths, read off a tape laid round it")
	flags.StringVar(&f.width, "width", "", "width of a squared piece")
	flags.StringVar(&f.height, "height", "", "height of a squared piece")
	flags.StringVar(&f.slab, "slab", "", "of a cant, depth sawn off each face at the small end: top,bottom,side,other side; 0 where not sawn")
	flags.StringVar(&f.bark, "bark", "", "on or off; when not said, only the upper weight counts bark")
	flags.BoolVar(&f.overBark, "over-bark", false, "the diameters were measured over the bark")
	flags.StringVar(&f.heart, "heart", "", `share of heartwood in green wood: "40%"; without it the published mean is taken`)
	flags.StringVar(&f.density, "density", "", `density of such wood as it hangs, weighed: "55 lb/ft3" or "880 kg/m3"; it outranks species and state`)
	flags.StringVar(&f.ice, "ice", "", "thickness of ice all round it")
	flags.StringVar(&f.snow, "snow", "", "depth of snow along its top")
	flags.StringVar(&f.snowKind, "snow-kind", "", "fresh, settled or late; the heaviest is taken when not said")
	flags.BoolVar(&f.wet, "wet", false, "water runs off it: a film on all of it is counted")
	flags.StringVar(&f.extra, "extra", "", `further weight of snow, ice, water or mud on it: "12 lb"`)
	flags.StringVar(&f.span, "span", "", "distance between the hook points; with end hooks the length when not said")
	flags.StringVar(&f.placing, "placing", "", "where the hook points sit: over-balance or at-ends")
	flags.StringVar(&f.rig, "rig", "", "JSON `FILE` of the rig; without it the weight alone is worked out, and the answer is NO-GO")
	flags.BoolVar(&f.asked, "asked", false, "every question at the hook was asked and answered with yes")
	flags.BoolVar(&f.machine, "json", false, "print the answer as JSON, in kg, m, m³, degrees and N")
}

// rigFile is a rig as the -rig file holds it: the rig's own fields as the
// record keeps them, and what was found at the hook beside them.
type rigFile struct {
	lift.Rig
	Span      string // with its unit
	Placing   lift.Placing
	Questions lift.Questions
}

const rigFileMost = 1 << 20

// checkLift says what a piece weighs and whether this rig may lift it.
func checkLift(_ context.Context, c call) error {
	l, err := c.lift.lift()
	if err != nil {
		return badInput{err}
	}
	l.Now = c.now()
	answer, err := c.lift.answer(l)
	if err != nil {
		return badInput{err}
	}
	write := answer.text
	if c.lift.machine {
		write = answer.json
	}
	if err := write(c.out); err != nil {
		return err
	}
	if !answer.Go {
		return errNoGo
	}
	return nil
}

// lift turns the flags into what the rules judge.
func (f *liftFlags) lift() (l lift.Lift, err error) {
	var bad plain.Problems
	p := f.piece(&bad).WithHeaviestOf(f.sawn(&bad), nil)
	bad.Add("", withoutKnown(bad, p.Validate()))
	file := rigFile{}
	if f.rig != "" {
		if file, err = readRig(f.rig); err != nil {
			return l, err
		}
	}
	l = lift.Lift{Piece: p, Rig: file.Rig, Placing: file.Placing, Questions: file.Questions}
	l.Span = f.spanOf(&bad, file, p)
	if f.placing != "" {
		l.Placing, err = lift.ParsePlacing(f.placing)
		bad.At("placing", err)
	}
	if f.asked {
		for _, q := range l.Rig.Asks() {
			*l.Questions.At(q.Field) = lift.Yes
		}
	}
	if f.rig == "" {
		l.Holds = []plain.Sentence{plain.Say("the rig is not known: the weight alone was worked out; name the rig's file with -rig")}
	}
	return l, flagProblems(bad)
}

// spanOf is the distance between the hook points: as typed, as in the file, or
// for end hooks the length, since they sit in the ends and nowhere else.
func (f *liftFlags) spanOf(bad *plain.Problems, file rigFile, p lift.Piece) float64 {
	text := f.span
	if text == "" {
		text = file.Span
	}
	if text == "" {
		if file.Hitch == lift.EndHooks {
			return p.Length
		}
		return 0
	}
	return length(bad, "span", text)
}

func readRig(name string) (rigFile, error) {
	var file rigFile
	text, err := os.ReadFile(name)
	if err != nil {
		return file, fmt.Errorf("-rig: the file can't be read: %w", err)
	}
	if len(text) > rigFileMost {
		return file, fmt.Errorf("-rig: %s is too large to be a rig", name)
	}
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields() // a misspelt floor would be no floor
	if err := decoder.Decode(&file); err != nil {
		return file, fmt.Errorf("-rig: %s is no rig in JSON: %w", name, err)
	}
	if decoder.More() {
		return file, fmt.Errorf("-rig: %s holds more than one rig", name)
	}
	if err := file.Rig.Validate(); err != nil {
		return file, fmt.Errorf("-rig: %s: %w", name, err)
	}
	return file, nil
}

// withoutKnown drops what err says of fields that have a problem already.
func withoutKnown(known plain.Problems, err error) error {
	var found, left plain.Problems
	if !errors.As(err, &found) {
		return err
	}
	for _, one := range found {
		if known.For(one.Field) == nil && known.For("slab") == nil {
			left = append(left, one)
		}
	}
	return left.Err()
}

// flagProblems names each problem by its flag, in one line.
func flagProblems(bad plain.Problems) error {
	if len(bad) == 0 {
		return nil
	}
	flags := map[string]string{"condition": "state", "moisture": "state", "heart-share": "heart", "slab-1": "slab", "slab-2": "slab", "slab-3": "slab", "slab-4": "slab"}
	said := make([]string, len(bad))
	for i, one := range bad {
		name := one.Field
		if flag, ok := flags[name]; ok {
			name = flag
		}
		said[i] = "-" + name + ": " + one.Want.String()
	}
	return errors.New(strings.Join(said, "; "))
}
