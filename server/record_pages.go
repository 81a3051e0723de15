package server

import (
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) recordRoutes() {
	s.get("/record", signedIn, s.showRecord)
	s.get("/record/:seq", signedIn, s.showEntry)
}

// entriesAPage is how many entries a page of the record shows.
const entriesAPage = 50

type recordPage struct {
	*views.Frame
	Form    recordForm
	People  []views.Choice
	Machine []views.Choice
	Kinds   []views.Choice
	Entries []entryLine
	Search  *searched // nil where no words are looked for
	Pager   views.Pager
	Size    int64
	Glance  *dayGlance // one day at a glance, when a day is asked for
	Earlier string     // address of the day before the one shown
	Later   string
	Today   string
	Lately  *checkGrid // the checks of the last days, where nothing else is asked for
}

// recordForm is the filter as typed.
type recordForm struct{ Q, Day, Equipment, Person, Kind string }

// Beside is the filter that a new query keeps.
func (f recordForm) Beside() map[string]string {
	beside := map[string]string{"day": f.Day, "equipment": f.Equipment, "person": f.Person, "kind": f.Kind}
	maps.DeleteFunc(beside, func(_, value string) bool { return value == "" })
	return beside
}

// Filtered tells whether any filter is set.
func (p recordPage) Filtered() bool { return p.Form != recordForm{} }

// Open keeps the form unfolded while it does more than show one day.
func (p recordPage) Open() bool {
	return p.Form.Equipment+p.Form.Person+p.Form.Kind != "" || len(p.Problems) > 0
}

// DayField asks for the day.
func (p recordPage) DayField() views.Field {
	field := p.TextField("day", p.T("Day"), p.Form.Day)
	field.Kind = "date"
	return field
}

// entryLine is one entry in the list.
type entryLine struct {
	Seq   int64
	Entry string   // address of the entry itself
	Hits  []string // texts of it that were found and that it doesn't say
	told
}

func (s *Server) showRecord(v *visit) error {
	page := recordPage{Frame: v.frame("The record"), Form: recordForm{Q: strings.TrimSpace(v.Query("q")), Day: v.Query("day"), Equipment: v.Query("equipment"), Person: v.Query("person"), Kind: v.Query("kind")}}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	page.choices(v, plant, people)
	head, err := v.desk.Head(v.ctx())
	if err != nil {
		return err
	}
	page.Size, page.Today = head.Size, v.now.In(v.zone).Format(time.DateOnly)
	filter, from, problems := page.filter(v)
	page.Search = page.queryOf(s.readDates(page.Frame), &problems)
	if page.Problems = problems; len(problems) > 0 {
		page.Search = nil
		return v.show("record", page, problems)
	}
	page.Title = plain.Say("The record: %d entries", head.Size)
	if page.Search != nil {
		page.Title = plain.Say("Looked for in the record: %s", page.Search.Query.Text)
	} else if !from.IsZero() {
		if page.Glance, err = v.glance(from, unseen{}); err != nil {
			return err
		}
		page.Title = page.Glance.Title
		page.Earlier, page.Later = page.otherDay(from, -1), page.otherDay(from, 1)
	}
	entries, texts, more, err := page.entries(v, filter)
	if err != nil {
		return err
	}
	t, err := v.teller(entries)
	if err != nil {
		return err
	}
	for i, e := range entries {
		line := entryLine{Seq: e.Seq, Entry: "/record/" + strconv.FormatInt(e.Seq, 10), told: t.tell(e)}
		if page.Search != nil {
			line.Hits = page.Search.Hits(texts[i], page.Say(line.Said))
		}
		page.Entries = append(page.Entries, line)
	}
	page.page(entries, filter, more)
	if !page.Filtered() && page.Search == nil {
		if page.Lately, err = v.lately(page.Frame); err != nil {
			return err
		}
	}
	return v.show("record", page, nil)
}

// entries are those the page shows, found by words or chosen by the filter alone.
func (p *recordPage) entries(v *visit, filter store.Filter) (entries []store.Entry, texts [][]string, more bool, err error) {
	if p.Search == nil {
		entries, more, err = v.desk.Entries(v.ctx(), filter)
		return entries, nil, more, err
	}
	found, more, err := p.search(v, filter)
	for _, one := range found {
		entries, texts = append(entries, one.Entry), append(texts, one.Texts)
	}
	return entries, texts, more, err
}

func (p *recordPage) choices(v *visit, plant procedures.Plant, people []procedures.Person) {
	for _, e := range plant {
		p.Machine = append(p.Machine, views.Choice{Value: string(e.ID), Text: e.Name})
	}
	for _, one := range people {
		p.People = append(p.People, views.Choice{Value: string(one.ID), Text: v.called(one)})
	}
	for _, kind := range store.Kinds() {
		p.Kinds = append(p.Kinds, views.Offer(kind, p.Say(kindWords(kind))))
	}
}

// filter reads the form; from is the start of the day asked for, if any.
func (p *recordPage) filter(v *visit) (filter store.Filter, from time.Time, problems plain.Problems) {
	offered := func(choices []views.Choice, value string) bool {
		return value == "" || slices.ContainsFunc(choices, func(c views.Choice) bool { return c.Value == value })
	}
	problems.Unless(offered(p.Machine, p.Form.Equipment), "equipment", "a piece of equipment of this mill")
	problems.Unless(offered(p.People, p.Form.Person), "person", "a person of this mill")
	problems.Unless(offered(p.Kinds, p.Form.Kind), "kind", "a kind from the list")
	if p.Form.Day != "" {
		var err error
		from, err = time.ParseInLocation(time.DateOnly, p.Form.Day, v.zone)
		problems.Unless(err == nil && from.Year() >= 2000 && from.Year() <= 9000, "day", "a day, such as 2026-03-02")
	}
	filter = store.Filter{Day: p.Form.Day, Equipment: procedures.EquipmentID(p.Form.Equipment), Person: procedures.PersonID(p.Form.Person), Kind: p.Form.Kind, Limit: entriesAPage}
	for _, place := range []string{"before", "after"} {
		text := v.Query(place)
		if text == "" {
			continue
		}
		seq, err := strconv.ParseInt(text, 10, 64)
		problems.Unless(err == nil && seq >= 0, place, "the number of an entry; start from the newest")
		if place == "before" {
			filter.Before = seq
		} else {
			filter.Newer, filter.After = true, seq
		}
	}
	return filter, from, problems
}

func (p *recordPage) query() url.Values {
	query := url.Values{}
	for name, value := range map[string]string{"q": p.Form.Q, "day": p.Form.Day, "equipment": p.Form.Equipment, "person": p.Form.Person, "kind": p.Form.Kind} {
		if value != "" {
			query.Set(name, value)
		}
	}
	return query
}

func (p *recordPage) otherDay(from time.Time, days int) string {
	query := p.query()
	query.Set("day", from.AddDate(0, 0, days).Format(time.DateOnly))
	return "/record?" + query.Encode()
}

// place is the address of the page before or after an entry.
func (p *recordPage) place(side string, seq int64) string {
	query := p.query()
	query.Set(side, strconv.FormatInt(seq, 10))
	return "/record?" + query.Encode()
}

// page makes the links to what lies before and after the entries shown.
func (p *recordPage) page(entries []store.Entry, f store.Filter, more bool) {
	if len(entries) == 0 {
		return
	}
	newest, oldest := entries[0].Seq, entries[len(entries)-1].Seq
	var newer, older string
	if f.Newer && more || !f.Newer && f.Before > 0 {
		newer = p.place("after", newest)
	}
	if !f.Newer && more || f.Newer {
		older = p.place("before", oldest)
	}
	p.Pager = p.PagerFor(newer, older, int(newest), int(oldest))
}

type entryPage struct {
	*views.Frame
	Entry    entryLine
	Entered  string
	Happened string
	Phone    string // what the phone's own clock said
	Subject  string
	ID       string
	Leaf     string
	Hash     string
	Head     string
	Size     int64
	Path     int // hashes on the way to the root
	Proven   bool
	Newer    string
	Older    string
	Gone     []goneLine     // what of it is no longer kept
	Export   string         // address of an export it is in
	Drop     string         // address at which something of it is dropped, "" where nothing may be by this visitor
	Kept     plain.Sentence // what keeps something of it from being dropped
}

func (s *Server) showEntry(v *visit) error {
	seq, err := strconv.ParseInt(v.Params("seq"), 10, 64)
	if err != nil || seq < 0 {
		return store.ErrNotFound
	}
	e, leaf, err := v.desk.Leaf(v.ctx(), seq)
	if err != nil {
		return err
	}
	t, err := v.teller([]store.Entry{e})
	if err != nil {
		return err
	}
	line := entryLine{Seq: seq, told: t.tell(e)}
	page := entryPage{Frame: v.frame("Entry %[1]d: %[2]s", seq, line.Kind), Entry: line, Subject: e.Subject, ID: e.ID, Leaf: string(leaf)}
	page.Entered = page.Exact(e.At)
	day := e.At.In(v.zone).Format(time.DateOnly)
	page.Export = exportLink(store.Selection{From: day, Until: day})
	if e.Subject != "" {
		page.Export = exportLink(store.Selection{Subject: e.Subject})
	}
	if !line.Late.IsZero() {
		page.Happened = page.Exact(e.Happened)
	}
	if phone := line.Clock.Phone; !phone.IsZero() {
		page.Phone = page.ExactThere(phone)
	}
	proof, proven := v.desk.Prove(v.ctx(), seq, leaf)
	page.Proven, page.Hash, page.Size, page.Path = proven == nil, proof.Leaf.String(), proof.Head.Size, len(proof.Path)
	if page.Proven {
		page.Head = proof.Head.Root.String()
	} else {
		s.log.Warn("an entry does not lie under the record's root", "seq", seq, "err", proven)
	}
	if seq > 0 {
		page.Older = "/record/" + strconv.FormatInt(seq-1, 10)
	}
	if seq+1 < proof.Head.Size {
		page.Newer = "/record/" + strconv.FormatInt(seq+1, 10)
	}
	if page.Gone, err = v.goneFrom(seq, t); err != nil {
		return err
	}
	if v.person.Role == procedures.Supervisor {
		may := false
		if may, page.Kept, err = v.droppable(seq); err != nil {
			return err
		}
		if may {
			page.Drop = dropPath(store.Going{Seq: seq})
		}
	}
	return v.show("entry", page, nil)
}

// versionQuery is the end of an address that names a version.
func versionQuery(version int) string { return "?version=" + strconv.Itoa(version) }

// Line is a line of the day with the page's words.
func (p recordPage) Line(line dayLine) any {
	return struct {
		*views.Frame
		Line dayLine
	}{p.Frame, line}
}

// Pick is a choice of the filter, always a list, in which nothing chosen is all.
func (p recordPage) Pick(name, label, value string, choices []views.Choice) views.Field {
	return p.ChoiceField(name, label, value, choices)
}
