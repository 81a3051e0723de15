// Package starters says what a mill starts with, its lists, lockout procedures,
// jobs, equipment and hoist, in the language they are drafted in. From then on they
// are the mill's own text. The numbers, clauses and ids of a draft stay as they are.
package starters

import (
	"embed"
	"encoding/json"
	"fmt"
	"path"
	"regexp"
	"slices"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
)

//go:embed *.json
var files embed.FS

// Words are the texts of the starters in one language. The zero value leaves them
// in English.
type Words struct {
	whole map[string]string
	parts []pattern
	bare  bool // what stands in a text stays as it was typed
}

// pattern is a text that holds a number, or another text.
type pattern struct {
	read         *regexp.Regexp
	begins, ends string // what stands before and after all it holds
	said         string
}

// patternOf reads text, which has a "%".
func patternOf(text, said string) pattern {
	read := regexp.QuoteMeta(text)
	read = strings.NewReplacer("%s", "(.+?)", "%d", `(\d+)`, "%g", `([\d.]+)`).Replace(read)
	begins, _, _ := strings.Cut(text, "%")
	ends := text[strings.LastIndex(text, "%")+1:]
	if ends != "" && strings.Contains("sdg", ends[:1]) {
		ends = ends[1:]
	}
	return pattern{regexp.MustCompile("^" + read + "$"), begins, ends, said}
}

// held are what text has in the places of p; nil where it is no such text. Most are
// told apart by how they begin or end, at a hundredth of what the reading costs.
func (p pattern) held(text string) []string {
	if !strings.HasPrefix(text, p.begins) || !strings.HasSuffix(text, p.ends) {
		return nil
	}
	if found := p.read.FindStringSubmatch(text); found != nil {
		return found[1:]
	}
	return nil
}

// Languages are those the starters are in, English first.
func Languages() ([]string, error) {
	found, err := files.ReadDir(".")
	tags := []string{"en"}
	for _, file := range found {
		tags = append(tags, strings.TrimSuffix(file.Name(), path.Ext(file.Name())))
	}
	return tags, err
}

// In are the words of a language by its tag; English, and a language the starters
// are not in, leave them as they are. An error is a fault of the build.
func In(tag string) (Words, error) {
	known, err := Languages()
	if err != nil || tag == "en" || !slices.Contains(known, tag) {
		return Words{}, err
	}
	raw, err := files.ReadFile(tag + ".json")
	if err != nil {
		return Words{}, err
	}
	w := Words{}
	if err := json.Unmarshal(raw, &w.whole); err != nil {
		return Words{}, fmt.Errorf("starters %s: %w", tag, err)
	}
	for text, said := range w.whole {
		if strings.Contains(text, "%") {
			w.parts = append(w.parts, patternOf(text, said))
		}
	}
	return w, nil
}

// Text is one text in these words; one they don't hold stays as it is.
func (w Words) Text(text string) string {
	if said, ok := w.text(text); ok {
		return said
	}
	return text
}

func (w Words) text(text string) (string, bool) {
	if w.whole == nil || text == "" {
		return text, true
	}
	if said, ok := w.whole[text]; ok {
		return said, true
	}
	for _, p := range w.parts {
		if held := p.held(text); held != nil {
			return w.filled(p.said, held), true
		}
	}
	for at := len(text) - 2; at > 0; at-- { // sentences, the longest beginning first
		if text[at] != ' ' || !strings.ContainsRune(".?", rune(text[at-1])) {
			continue
		}
		head, known := w.text(text[:at])
		rest, also := w.text(text[at+1:])
		if known && also {
			return head + " " + rest, true
		}
	}
	return text, false
}

// filled puts what stood in a text into its words: one thing wherever they name it,
// several in order.
func (w Words) filled(said string, values []string) string {
	in := func(value string) string {
		if w.bare {
			return value
		}
		return w.Text(value)
	}
	if len(values) == 1 {
		return strings.NewReplacer("%s", in(values[0]), "%d", values[0], "%g", values[0]).Replace(said)
	}
	var out strings.Builder
	for _, value := range values {
		before, after, _ := strings.Cut(said, "%s")
		out.WriteString(before + in(value))
		said = after
	}
	return out.String() + said
}

// source is where a rule comes from: what is cited stays as published, only the
// words beside it are put into the language.
func (w Words) source(text string) string {
	if said, ok := w.whole[text]; ok {
		return said
	}
	each := strings.Split(text, "; ")
	for i, one := range each {
		each[i] = w.cited(one)
	}
	return strings.Join(each, "; ")
}

func (w Words) cited(text string) string {
	if said, ok := w.whole[text]; ok {
		return said
	}
	for _, one := range []string{"common practice, no source", "from memory", "good practice elsewhere", "US Army sawmill manual lesson", "OSHA advice on combustible dust",
		"US Army sawmill manual, about 1/32 in each side", "university extension guide to small sawmills", "the figure is", "European machinery rules", "New Zealand sawmill lockout sheet", "a band mill rule"} {
		if said := w.whole[one]; said != "" {
			text = strings.ReplaceAll(text, one, said)
		}
	}
	return text
}

// List is a draft of a list.
func (w Words) List(l checklists.List) checklists.List {
	l.Title, l.Items = w.Text(l.Title), slices.Clone(l.Items)
	for i := range l.Items {
		item := &l.Items[i]
		item.Station, item.Prompt, item.How, item.Source = w.Text(item.Station), w.Text(item.Prompt), w.Text(item.How), w.source(item.Source)
		if said := w.whole[item.Limits.Unit]; said != "" {
			item.Limits.Unit = said
		}
	}
	return l
}

// Lists are drafts of lists.
func (w Words) Lists(all []checklists.List) []checklists.List {
	said := make([]checklists.List, len(all))
	for i, l := range all {
		said[i] = w.List(l)
	}
	return said
}

// Plant is the equipment.
func (w Words) Plant(plant procedures.Plant) procedures.Plant {
	plant = slices.Clone(plant)
	for i := range plant {
		e := &plant[i]
		e.Name, e.Energies, e.Devices = w.Text(e.Name), w.energies(e.Energies), w.devices(e.Devices)
	}
	return plant
}

func (w Words) energies(all []procedures.Energy) []procedures.Energy {
	all = slices.Clone(all)
	for i := range all {
		e := &all[i]
		e.Source, e.Hazard, e.Relief, e.Zero = w.Text(e.Source), w.Text(e.Hazard), w.Text(e.Relief), w.Text(e.Zero)
	}
	return all
}

func (w Words) devices(all []procedures.Device) []procedures.Device {
	all = slices.Clone(all)
	for i := range all {
		all[i].Label, all[i].Place = w.Text(all[i].Label), w.Text(all[i].Place)
	}
	return all
}

// Procedure is a draft of a lockout procedure.
func (w Words) Procedure(p procedures.Procedure) procedures.Procedure {
	p.Title, p.Purpose, p.Scope, p.Rules = w.Text(p.Title), w.Text(p.Purpose), w.Text(p.Scope), w.Text(p.Rules)
	p.Authorization, p.Enforcement, p.Techniques = w.Text(p.Authorization), w.Text(p.Enforcement), w.Text(p.Techniques)
	p.Energies, p.Devices = w.energies(p.Energies), w.devices(p.Devices)
	p.Sources, p.Steps = slices.Clone(p.Sources), slices.Clone(p.Steps)
	for i := range p.Sources {
		p.Sources[i] = w.Text(p.Sources[i])
	}
	for i := range p.Steps {
		p.Steps[i].Text = w.Text(p.Steps[i].Text)
	}
	return p
}

// Drafted is a draft written from the mill's own register: what the program says in
// it, around the mill's words, which stay as they were entered.
func (w Words) Drafted(p procedures.Procedure) procedures.Procedure {
	w.bare = true
	said := w.Procedure(p)
	said.Title, said.Energies, said.Devices = p.Title, p.Energies, p.Devices
	for i, step := range p.Steps {
		said.Steps[i].Text = w.step(p, step)
	}
	return said
}

// WaitNotes are the notes on where the wait of a step comes from in every language
// but English. The program writes such a note anew once the coast time is measured,
// in the language the draft has it in, whatever its reader's is.
func WaitNotes() ([]procedures.WaitNote, error) {
	tags, err := Languages()
	if err != nil {
		return nil, err
	}
	var all []procedures.WaitNote
	for _, tag := range tags[1:] {
		w, err := In(tag)
		if err != nil {
			return nil, err
		}
		english := procedures.EnglishWaitNote()
		all = append(all, procedures.WaitNote{Measured: w.whole[english.Measured], Unmeasured: w.whole[english.Unmeasured]})
	}
	return all, nil
}

// step is the text of a drafted step, in which may stand what the register says of
// its energy, and at whose end may stand where its wait comes from.
func (w Words) step(p procedures.Procedure, step procedures.Step) string {
	text, _ := procedures.CutWaitNote(step.Text)
	note := strings.TrimPrefix(step.Text, text)
	if note != "" {
		note = " " + w.Text(strings.TrimSpace(note))
	}
	for _, e := range p.Energies {
		for _, own := range []string{e.Relief, e.Zero} {
			own = " " + strings.TrimSpace(own)
			if head, is := strings.CutSuffix(text, own); is && e.ID == step.Energy && own != " " {
				return w.Text(head) + own + note
			}
		}
	}
	return w.Text(text) + note
}

// Tasks are the jobs.
func (w Words) Tasks(all []procedures.Task) []procedures.Task {
	all = slices.Clone(all)
	for i := range all {
		all[i].Title, all[i].Note, all[i].Measure = w.Text(all[i].Title), w.Text(all[i].Note), w.Text(all[i].Measure)
	}
	return all
}

// Rig is a draft of a load path.
func (w Words) Rig(r lift.Rig) lift.Rig {
	r.Name, r.Links = w.Text(r.Name), slices.Clone(r.Links)
	for i := range r.Links {
		r.Links[i].Name = w.Text(r.Links[i].Name)
	}
	return r
}
