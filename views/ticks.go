package views

import (
	"slices"
	"unicode/utf8"
)

// TickGroup is several ticks of one name under one heading, each sent with a
// value of its own. Make it with [Frame.TicksField].
type TickGroup struct {
	*Frame
	Name   string
	Legend string
	Hint   string
	Ticks  []Tick
}

// Tick is one of a group.
type Tick struct {
	Value, Text string
	Ticked      bool
}

// TicksField is a group of ticks; a problem with it goes by its name.
func (f *Frame) TicksField(name, legend string, ticks []Tick) TickGroup {
	f.noteTicks(name, legend, ticks)
	return TickGroup{Frame: f, Name: name, Legend: legend, Ticks: ticks}
}

// WithHint adds a line that says how to fill it in.
func (g TickGroup) WithHint(hint string) TickGroup { g.Hint = hint; return g }

// Wrong is what is wrong with the group, or "".
func (g TickGroup) Wrong() string { return g.Problem(g.Name) }

// longTick is how many letters of a tick stand beside another on a phone.
const longTick = 26

// Short tells whether two of them stand beside each other on a phone.
func (g TickGroup) Short() bool {
	return !slices.ContainsFunc(g.Ticks, func(t Tick) bool { return utf8.RuneCountInString(t.Text) > longTick })
}
