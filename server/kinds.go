package server

import (
	"slices"

	"golang.org/x/text/collate"
	"golang.org/x/text/language"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// kindChoices are the kinds of wood to choose from, those of the mill's own list
// first.
func kindChoices(f *views.Frame, sawn []lift.Species) (choices []views.Choice) {
	here, others := "", ""
	if len(sawn) > 0 {
		here, others = f.T("Sawn here"), f.T("Other kinds")
	}
	for _, s := range inOrder(f, sawn) {
		choices = append(choices, views.Choice{Value: s.Common, Text: woodIn(f, s), Group: here})
	}
	for _, s := range inOrder(f, lift.AllSpecies()) {
		if !slices.Contains(sawn, s) {
			choices = append(choices, views.Choice{Value: s.Common, Text: woodIn(f, s), Group: others})
		}
	}
	return choices
}

// woodIn is what the reader calls a kind of wood.
func woodIn(f *views.Frame, s lift.Species) string { return lift.Wood(s.Common).In(f.Lang()) }

// inOrder are kinds of wood by their names in the reader's alphabet; in English
// they stand so already.
func inOrder(f *views.Frame, all []lift.Species) []lift.Species {
	if f.Lang() == "en" {
		return all
	}
	all = slices.Clone(all)
	by := collate.New(language.Make(f.Lang()))
	slices.SortStableFunc(all, func(a, b lift.Species) int { return by.CompareString(woodIn(f, a), woodIn(f, b)) })
	return all
}

// kindTick is one kind of wood to tick.
type kindTick struct {
	Name   string // by which it is kept
	Shown  string
	Ticked bool
}

// kindTicks are all kinds of the table.
func kindTicks(f *views.Frame, ticked []string) (ticks []kindTick) {
	for _, s := range inOrder(f, lift.AllSpecies()) {
		ticks = append(ticks, kindTick{s.Common, woodIn(f, s), slices.Contains(ticked, s.Common)})
	}
	return ticks
}

// woodsIn are kinds by their common names, as the reader calls them.
func woodsIn(f *views.Frame, kinds []string) (names []string) {
	for _, kind := range kinds {
		names = append(names, lift.Wood(kind).In(f.Lang()))
	}
	return names
}

// ofSawn fills in the kinds on the mill's own list where none were asked for, and
// says which kinds the chart has.
func (f *chartForm) ofSawn(sawn []lift.Species) plain.Sentence {
	var own []string
	for _, s := range sawn {
		own = append(own, s.Common)
	}
	slices.Sort(own)
	if len(f.Kinds) == 0 && !f.All {
		f.Kinds = own
	}
	switch {
	case len(f.Kinds) == 0:
		return plain.Say("all in the table")
	case slices.Equal(f.Kinds, own):
		return plain.Say("sawn here")
	}
	return plain.Say("as chosen")
}

// chartOfSawn is the address of the same chart for the mill's own list of kinds,
// "" where there is none, or where it is that chart.
func chartOfSawn(form chartForm, sawn []lift.Species) string {
	var kinds []string
	for _, s := range sawn {
		kinds = append(kinds, s.Common)
	}
	slices.Sort(kinds)
	if len(kinds) == 0 || slices.Equal(kinds, form.Kinds) {
		return ""
	}
	form.Kinds, form.All = kinds, false
	return "/lifts/chart?" + form.query()
}
