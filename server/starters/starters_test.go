package starters_test

import (
	"encoding/json"
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/sample"
	"stillsaw/server/starters"
)

// mills are set-ups that between them get every text of the starters.
func mills() (all []checklists.SetUp) {
	number := 0
	for _, drive := range []string{"electric", "engine", "tractor-shaft"} {
		for _, feed := range []string{"mandrel", "own-motor", "hydraulic", "hand"} {
			for _, dogs := range []string{"hand", "power"} {
				for _, collector := range []string{"none", "cyclone", "bag-house", "open-bag"} {
					for _, more := range []bool{false, true} {
						a := checklists.SetUp{Law: "us-federal", Drive: drive, Feed: feed, Dogs: dogs, Hoist: "electric", Collector: collector, Setworks: "hand", OffBearing: "none", Headblocks: 1, EntryPoints: 1}
						if more {
							a.Hoist, a.Setworks, a.OffBearing, a.Portable, a.IsolatorCutsPower, a.Headblocks = "hand-chain", "powered", "powered", true, true, 3
							a.SawDiameter, a.SpindleSpeed = 52*plain.Inch, 600
						}
						if number++; sample.Has(number, 7) {
							all = append(all, a)
						}
					}
				}
			}
		}
	}
	return all
}

// drafts are all a mill starts with, in words.
func drafts(a checklists.SetUp, w starters.Words) (lists []checklists.List, plant procedures.Plant, locks []procedures.Procedure, tasks []procedures.Task) {
	english := procedures.StarterPlant(a.Answers())
	for _, p := range procedures.StarterProcedures(english, a.Answers()) {
		locks = append(locks, w.Procedure(p))
	}
	return w.Lists(checklists.StarterLists(a, english)), w.Plant(english), locks, w.Tasks(procedures.StarterTasks(english, a.Answers()))
}

// textsOf are the strings of a value that are not ids.
func textsOf(value any) (texts []string) {
	var walk func(reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.String:
			if v.Type() == reflect.TypeFor[string]() {
				texts = append(texts, v.String())
			}
		case reflect.Struct:
			for i := range v.NumField() {
				if name := v.Type().Field(i).Name; name != "Clause" {
					walk(v.Field(i))
				}
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		}
	}
	walk(reflect.ValueOf(value))
	return texts
}

// cited is the same in every language.
var cited = regexp.MustCompile(`^(29 CFR|ASME|WAC|NFPA|MI R|34 Pa|California|in$|in w\.g\.$|psi$|rpm$|ft/min$|s$|%$|no$|main-hoist$|electric$|engine$)`)

func TestEveryTextOfTheStartersIsInEveryLanguage(t *testing.T) {
	tags, err := starters.Languages()
	require.NoError(t, err)
	require.Equal(t, []string{"en", "es", "fr"}, tags)
	for _, tag := range tags[1:] {
		words, err := starters.In(tag)
		require.NoError(t, err)
		left := map[string]bool{}
		for _, a := range mills() {
			lists, plant, locks, tasks := drafts(a, starters.Words{})
			listsIn, plantIn, locksIn, tasksIn := drafts(a, words)
			for _, pair := range [][2]any{{lists, listsIn}, {plant, plantIn}, {locks, locksIn}, {tasks, tasksIn}} {
				from, to := textsOf(pair[0]), textsOf(pair[1])
				require.Equal(t, len(from), len(to))
				for i := range from {
					if from[i] != "" && from[i] == to[i] && !cited.MatchString(from[i]) && words.Text(from[i]) == from[i] {
						left[from[i]] = true
					}
				}
			}
		}
		for i, link := range words.Rig(lift.StarterRig()).Links {
			if link.Name == lift.StarterRig().Links[i].Name {
				left[link.Name] = true
			}
		}
		same := map[string]bool{"Tractor": tag == "es"} // the same word
		for text := range left {
			require.True(t, same[text], "%s: %q", tag, text)
		}
	}
}

// A starter in another language is the same draft: ids, numbers, clauses and what
// is asked are as they were, and the rules accept it.
func TestStartersInAnotherLanguageAreTheSameDrafts(t *testing.T) {
	for _, tag := range []string{"es", "fr"} {
		words, err := starters.In(tag)
		require.NoError(t, err)
		for _, a := range mills() {
			lists, plant, locks, tasks := drafts(a, words)
			english, _, locksEnglish, tasksEnglish := drafts(a, starters.Words{})
			require.NoError(t, plant.Validate())
			for i, l := range lists {
				require.NoError(t, l.Validate(plant), "%s %s", tag, l.ID)
				for j, item := range l.Items {
					was := english[i].Items[j]
					require.Equal(t, figures(was.How+was.Prompt), figures(item.How+item.Prompt), item.Prompt)
					require.Equal(t, figures(was.Source), figures(item.Source), item.Source)
					item.Station, item.Prompt, item.How, item.Source, item.Limits.Unit = was.Station, was.Prompt, was.How, was.Source, was.Limits.Unit
					require.Equal(t, was, item)
				}
			}
			for i, p := range locks {
				require.NoError(t, p.Validate(), "%s %s", tag, p.ID)
				for j, step := range p.Steps {
					was := locksEnglish[i].Steps[j]
					require.Equal(t, figures(was.Text), figures(step.Text), step.Text)
					step.Text = was.Text
					require.Equal(t, was, step)
				}
			}
			for i, task := range tasks {
				was := tasksEnglish[i]
				task.Title, task.Note, task.Measure = was.Title, was.Note, was.Measure
				require.Equal(t, was, task)
			}
			rig := words.Rig(lift.StarterRig())
			require.NotEqual(t, lift.StarterRig().Name, rig.Name)
		}
	}
}

// figures are the numbers of a text in their order.
func figures(text string) string {
	return strings.Join(strings.FieldsFunc(text, func(r rune) bool { return r < '0' || r > '9' }), " ")
}

// Nothing is kept for texts the starters do not have, and both languages have the same.
func TestNoWordOfTheStartersIsLeftOver(t *testing.T) {
	var both []map[string]string
	for _, tag := range []string{"es", "fr"} {
		raw, err := os.ReadFile(tag + ".json")
		require.NoError(t, err)
		words := map[string]string{}
		require.NoError(t, json.Unmarshal(raw, &words))
		both = append(both, words)
	}
	require.Len(t, both[1], len(both[0]))
	var all strings.Builder
	for _, a := range mills() {
		lists, plant, locks, tasks := drafts(a, starters.Words{})
		for _, value := range []any{lists, plant, locks, tasks, lift.StarterRig()} {
			all.WriteString(strings.Join(textsOf(value), "\n") + "\n")
		}
	}
	said, later := all.String()+"Day\n", strings.Join(textsOf(draftedLater(t)), "\n")
	for text := range both[0] {
		require.Contains(t, both[1], text)
		read := strings.NewReplacer("%s", ".+?", "%d", `\d+`, "%g", `[\d.]+`).Replace(regexp.QuoteMeta(text))
		if used := regexp.MustCompile(read); !used.MatchString(later) {
			require.Regexp(t, used, said)
		}
	}
	for _, text := range both[1] {
		require.NotRegexp(t, " [:;?!»]", text, "a no-break space stands before it in French")
	}
}

// What is drafted later, from the register, is in the drafter's language as well; the
// mill's own words in it stay as they were entered.
func TestDraftsFromTheRegisterAreInEveryLanguage(t *testing.T) {
	for _, tag := range []string{"es", "fr"} {
		words, err := starters.In(tag)
		require.NoError(t, err)
		for _, english := range draftedLater(t) {
			said := words.Drafted(english)
			require.Equal(t, "Head saw", said.Title)
			require.Equal(t, english.Energies, said.Energies)
			require.Equal(t, english.Devices, said.Devices)
			for i, step := range said.Steps {
				was := english.Steps[i]
				require.NotEqual(t, was.Text, step.Text, "%s %s", tag, was.ID)
				for _, own := range []string{"Debarker", "Drum ", "Red ", "north post", "Own relief.", "Own zero."} {
					require.Equal(t, strings.Count(was.Text, own), strings.Count(step.Text, own), step.Text)
				}
				step.Text = was.Text
				require.Equal(t, was, step)
			}
		}
	}
}

// draftedLater are drafts of each machine of a mill, and of one with every kind of
// energy and device.
func draftedLater(t *testing.T) (all []procedures.Procedure) {
	t.Helper()
	some := mills()
	for i, a := range []checklists.SetUp{some[0], some[len(some)/2], some[len(some)-1]} {
		plant := procedures.StarterPlant(a.Answers())
		for _, e := range plant {
			for j := range e.Energies {
				if i == 1 && e.Energies[j].Kind == procedures.Rotation {
					e.Energies[j].Coast = 95500 * time.Millisecond
				}
			}
		}
		bare := everyEnergy() // of a machine without any device
		for i := range bare {
			bare[i].ID += "-bare"
		}
		plant = append(plant, procedures.Equipment{ID: "own", Name: "Debarker", Kind: procedures.OffBearing, Energies: everyEnergy(), Devices: everyDevice()},
			procedures.Equipment{ID: "bare", Name: "Debarker", Kind: procedures.OffBearing, Energies: bare})
		for _, e := range plant {
			if e.Kind != procedures.Site {
				p, err := plant.DraftProcedure("p", "Head saw", e.ID)
				require.NoError(t, err)
				all = append(all, p)
			}
		}
	}
	return all
}

func everyEnergy() (all []procedures.Energy) {
	for _, kind := range procedures.EnergyKinds() {
		all = append(all, procedures.Energy{ID: procedures.EnergyID("own-" + kind), Source: "Drum " + string(kind), Kind: kind, Magnitude: "5", Hazard: "Crushes.", Relief: "Own relief.", Zero: "Own zero."})
	}
	return all
}

func everyDevice() (all []procedures.Device) {
	for _, kind := range procedures.DeviceKinds() {
		d := procedures.Device{ID: procedures.DeviceID("own-" + kind), Label: "Red " + string(kind), Place: "north post", Kind: kind, Lockable: kind != procedures.Block}
		for _, e := range everyEnergy() {
			d.Cuts = append(d.Cuts, e.ID)
		}
		all = append(all, d)
	}
	return all
}

// Where a wait comes from is said anew once the coast time is measured, in the
// language the draft has it in, as is taking the measurement back.
func TestTheNoteOnAWaitFollowsTheMeasurementInEveryLanguage(t *testing.T) {
	notes, err := starters.WaitNotes()
	require.NoError(t, err)
	a := mills()[0]
	plant := procedures.StarterPlant(a.Answers())
	own, err := plant.DraftProcedure("own", "Head saw", "head-saw")
	require.NoError(t, err)
	for i, tag := range []string{"es", "fr"} {
		words, err := starters.In(tag)
		require.NoError(t, err)
		before, _, _ := strings.Cut(notes[i].Unmeasured, "%g")
		after, _, _ := strings.Cut(notes[i].Measured, "%g")
		require.NotEmpty(t, before)
		require.NotEmpty(t, after)
		for name, draft := range map[string]procedures.Procedure{
			"of set-up":         words.Procedure(procedures.StarterProcedures(plant, a.Answers())[0]),
			"from the register": words.Drafted(own),
		} {
			require.Equal(t, 1, said(draft, before), "%s %s", tag, name)
			require.Zero(t, said(draft, "not yet measured"), "%s %s", tag, name)
			form := draft.Wording()
			form.Notes, form.Coasts["saw-rotation"] = notes, 80*time.Second
			measured, err := draft.Reworded(form)
			require.NoError(t, err)
			require.Zero(t, said(measured, before), "%s %s", tag, name)
			require.Equal(t, 1, said(measured, after+"80 s"), "%s %s", tag, name)

			form = measured.Wording()
			form.Notes, form.Coasts["saw-rotation"] = notes, 0
			back, err := measured.Reworded(form)
			require.NoError(t, err)
			require.Equal(t, 1, said(back, before+"300 s"), "%s %s", tag, name)
			require.Zero(t, said(back, after), "%s %s", tag, name)
		}
	}
}

// said counts the steps that say so.
func said(p procedures.Procedure, words string) (steps int) {
	for _, s := range p.Steps {
		if strings.Contains(s.Text, words) {
			steps++
		}
	}
	return steps
}
