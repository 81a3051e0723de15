package lift_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

// numbers visits every number of a value, by the name it is reached by.
func numbers(v reflect.Value, name string, visit func(name string, x reflect.Value)) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			return
		}
		for i := range v.NumField() {
			numbers(v.Field(i), name+"."+v.Type().Field(i).Name, visit)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			numbers(v.Index(i), fmt.Sprintf("%s[%d]", name, i), visit)
		}
	case reflect.Float64, reflect.Uint8:
		visit(name, v)
	}
}

// A cant doesn't ask for these, whatever stands in them.
func unasked() []string {
	return []string{".Piece.Width", ".Piece.Height", ".Piece.Volume", ".Piece.Moisture", ".Piece.HeartShare",
		".Piece.Weather.SnowKind"}
}

// spoilt is the lift with one of its numbers or choices changed.
func spoilt(l lift.Lift, field string, change func(reflect.Value)) lift.Lift {
	numbers(reflect.ValueOf(&l).Elem(), "", func(at string, x reflect.Value) {
		if at == field {
			change(x)
		}
	})
	return l
}

// letThrough names the first number that the rule gives a GO although nobody can
// mean it, and how many were tried.
func letThrough(t *testing.T, rule judge) (field string, tried int) {
	for name, fresh := range map[string]func(require.TestingT) lift.Lift{"slings": goodLift, "end hooks": hookLift} {
		count := fresh(t)
		numbers(reflect.ValueOf(&count).Elem(), "", func(at string, x reflect.Value) {
			if x.Kind() != reflect.Float64 || slices.Contains(unasked(), at) {
				return
			}
			for _, wrong := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, -1e-300} {
				tried++
				v := rule(spoilt(fresh(t), at, func(x reflect.Value) { x.SetFloat(wrong) }))
				if v.Go || len(v.Findings) == 0 {
					field = fmt.Sprintf("%s: %s = %v", name, at, wrong)
				}
			}
		})
	}
	return field, tried
}

// leftOut names the first number or choice without which the rule gives a GO.
func leftOut(t *testing.T, rule judge) (field string, tried int) {
	for name, fresh := range map[string]func(require.TestingT) lift.Lift{"slings": goodLift, "end hooks": hookLift} {
		count := fresh(t)
		numbers(reflect.ValueOf(&count).Elem(), "", func(at string, x reflect.Value) {
			if x.IsZero() || at == ".Questions.Seated" && name == "slings" || slices.Contains(mayBeEmpty(), at) {
				return
			}
			tried++
			if rule(spoilt(fresh(t), at, reflect.Value.SetZero)).Go {
				field = name + ": " + at
			}
		})
	}
	return field, tried
}

// What may be left empty, because empty has a meaning of its own that is no less
// safe, or because the lift doesn't ask for it.
func mayBeEmpty() []string {
	return append(unasked(), ".Piece.Slabs[0]", ".Piece.Slabs[1]", ".Rig.Links[0].OwnMass", ".Rig.Links[5].ChokerLoad", ".Piece.Middle", ".Piece.Density", ".Piece.Extra", ".Piece.Balance", ".Piece.Reading.Section", ".Piece.Reading.Length",
		".Piece.Species.HeartMoisture", ".Piece.Species.SapMoisture", ".Piece.Species.MeanMoisture", ".Piece.Species.Shrinkage",
		".Piece.Species.BarkVolume", ".Piece.Species.BarkGravity", ".Piece.Species.BarkMoisture",
		".Rig.FloorAngle", ".Rig.HouseFloor", ".Rig.HouseMargin", ".Rig.EndHookBand.Low", ".Rig.SecondLeg", ".Rig.Headroom", ".Rig.HookToYoke", ".Rig.Clearance")
}

// Every number of a lift, one at a time, made into one that nobody can mean.
func TestNoNumberThatIsNoneIsEverAGo(t *testing.T) {
	field, tried := letThrough(t, lift.Check)
	require.Empty(t, field)
	require.Greater(t, tried, 500)
}

// Every number and every choice of a lift, one at a time, left out.
func TestNothingLeftOutMakesAGoUnlessItMayBeEmpty(t *testing.T) {
	field, tried := leftOut(t, lift.Check)
	require.Empty(t, field)
	require.Greater(t, tried, 80)
}

// Both are seen to fail with rules that put something in the place of what is
// not known.
func TestAGuessInPlaceOfAnUnknownIsFoundOut(t *testing.T) {
	for name, guess := range map[string]func(l *lift.Lift){
		"a rating": func(l *lift.Lift) { l.Rig.Links[2].RatedLoad = orElse(l.Rig.Links[2].RatedLoad, 900) },
		"a span":   func(l *lift.Lift) { l.Span = orElse(l.Span, 1.1) },
		"a weight": func(l *lift.Lift) { l.Rig.Links[4].OwnMass = orElse(l.Rig.Links[4].OwnMass, 18) },
	} {
		rule := func(l lift.Lift) lift.Verdict {
			guess(&l)
			return lift.Check(l)
		}
		field, _ := letThrough(t, rule)
		require.NotEmpty(t, field, name)
		field, _ = leftOut(t, rule)
		require.NotEmpty(t, field, name)
	}
}

func orElse(x, guess float64) float64 {
	if !(x > 0) || math.IsInf(x, 1) {
		return guess
	}
	return x
}
