package server

import (
	"errors"
	"io"
	"math"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/server/table"
	"stillsaw/views"
)

// tableChunk is how many entries are put into words at once.
const tableChunk = 200

// exportTable makes the table of an export. Its rows wait in a temporary file:
// a record of ten years does not fit the memory.
type exportTable struct {
	*views.Frame
	v       *visit
	asked   exportAsked
	unseen  unseen
	gone    string
	lists   map[string]checklists.List
	signed  store.Checkpoint
	file    *passingFile
	out     *table.Writer
	waiting []store.Exported
}

func (v *visit) tableOf(asked exportAsked) *exportTable {
	f := v.frame("Export")
	return &exportTable{Frame: f, v: v, asked: asked, unseen: unseen{word: f.T("withheld")}, gone: f.T("no longer kept"), lists: map[string]checklists.List{}}
}

func (x *exportTable) begin(c store.Checkpoint) (err error) {
	x.signed = c
	if x.unseen, err = x.v.unseen(x.asked.Withhold, x.unseen.word); err != nil {
		return err
	}
	file, err := x.v.desk.TempFile()
	if err != nil {
		return err
	}
	x.file = &passingFile{file}
	x.out, err = table.NewWriter(file)
	return err
}

func (x *exportTable) each(e store.Exported) error {
	if x.waiting = append(x.waiting, e); len(x.waiting) < tableChunk {
		return nil
	}
	return x.write()
}

// end copies the table to out.
func (x *exportTable) end(out io.Writer) error {
	if err := x.write(); err != nil {
		return err
	}
	if err := x.out.Close(); err != nil {
		return err
	}
	if _, err := x.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, err := io.Copy(out, x.file)
	return err
}

// drop removes the temporary file.
func (x *exportTable) drop() {
	if x.file == nil {
		return
	}
	if err := x.file.Close(); err != nil {
		x.v.s.log.Warn("a temporary file of an export stays behind", "err", err)
	}
}

// write writes the entries that wait.
func (x *exportTable) write() error {
	marked := make([]store.Entry, len(x.waiting))
	for i := range x.waiting {
		marked[i] = x.waiting[i].Marked(x.unseen.word, x.gone)
	}
	t, err := x.v.teller(marked)
	if err != nil {
		return err
	}
	t.names = x.unseen.names(t.names)
	for i, e := range x.waiting {
		rows, err := x.rows(e, marked[i], t)
		if err != nil {
			return err
		}
		for _, row := range rows {
			row.Of = int64(len(rows))
			if err := x.out.Write(row); err != nil {
				return err
			}
		}
	}
	x.waiting = x.waiting[:0]
	return nil
}

// rows are the rows of one entry.
func (x *exportTable) rows(e store.Exported, marked store.Entry, t teller) ([]table.Row, error) {
	c := e.Row.Columns
	said := t.tell(marked)
	row := table.Row{Seq: e.Row.Seq, Entry: c.ID, Kind: c.Kind, Sort: table.OfEntry, Day: c.Day, At: zoned(c.At, c.Offset), Happened: zoned(c.Happened, c.HappenedOffset), Late: !said.Late.IsZero(),
		ActorID: c.Actor, Subject: c.Subject, Said: x.Say(said.Said), Leaf: tlog.RecordHash(e.Row.Leaf).String(), Size: x.signed.Size, Root: x.signed.Root.String()}
	row.Actor = x.actor(t, c.Actor)
	if phone := said.Clock.Phone; !phone.IsZero() {
		skew := said.Clock.Skew().Seconds()
		row.Phone, row.Skew = phone.Truncate(time.Millisecond), &skew
	}
	x.equipment(&row, t, e.Equipment)
	if len(e.Photos) > 0 {
		row.Photo = e.Photos[0]
	}
	switch body := e.Entry.Body.(type) {
	case checklists.Inspection:
		row.ForShift = body.Late
		row.ListTitle = body.Title
		return x.answers(row, e, t, string(body.List), body.Version, body.Answers)
	case checklists.Amendment:
		row.Amends = string(body.Inspection)
		return x.answers(row, e, t, string(body.List), body.Version, body.Answers)
	default:
		err := x.figures(&row, body)
		x.cover(&row, e, "")
		return []table.Row{row}, err
	}
}

// actor names who acted, nobody where the program did or nobody was signed in.
func (x *exportTable) actor(t teller, id string) string {
	return t.names[procedures.PersonID(id)]
}

func (x *exportTable) equipment(row *table.Row, t teller, ids []procedures.EquipmentID) {
	var all, names []string
	for _, id := range ids {
		all, names = append(all, string(id)), append(names, x.Say(t.machine(id)))
	}
	row.EquipmentIDs, row.Equipment = strings.Join(all, " "), strings.Join(names, "; ")
}

// answers makes a row of each answer.
func (x *exportTable) answers(row table.Row, e store.Exported, t teller, id string, version int, answers []checklists.Answer) ([]table.Row, error) {
	list, err := x.list(id, version)
	if err != nil {
		return nil, err
	}
	row.Sort, row.ListID, row.ListVersion, row.ListTitle, row.Photo = table.OfAnswer, id, int64(version), list.Title, ""
	if len(answers) == 0 {
		x.cover(&row, e, "")
		return []table.Row{row}, nil
	}
	rows := make([]table.Row, len(answers))
	for i, a := range answers {
		item, _ := list.Item(a.Item)
		one := row
		one.ItemID, one.ItemText, one.Answer, one.Text, one.Note, one.Photo = string(a.Item), x.Say(item.Said()), string(a.Result), a.Text, a.Note, a.Photo
		one.Low, one.High, one.Unit = item.Limits.Low, item.Limits.High, item.Limits.Unit
		if a.Number != nil {
			read := asTyped(*a.Number)
			one.Reading = &read
			if si, unit, ok := table.SI(read, item.Limits.Unit); ok {
				si = asTyped(si)
				one.ReadingSI, one.UnitSI = &si, unit
			}
		}
		if a.Person != "" {
			one.Text = t.names[a.Person]
		}
		x.equipment(&one, t, []procedures.EquipmentID{item.Equipment})
		x.cover(&one, e, answerPath(i))
		rows[i] = one
	}
	return rows, nil
}

// list is a version of a list, read once.
func (x *exportTable) list(id string, version int) (checklists.List, error) {
	key := id + versionQuery(version)
	list, known := x.lists[key]
	if known {
		return list, nil
	}
	list, err := x.v.desk.List(x.v.ctx(), checklists.ListID(id), version)
	if errors.Is(err, store.ErrNotFound) {
		err = nil
	}
	x.lists[key] = list
	return list, err
}

// figures fills in what an entry without answers measured.
func (x *exportTable) figures(row *table.Row, body any) error {
	switch body := body.(type) {
	case store.Lift:
		j, err := readLift(body)
		if err != nil {
			return err
		}
		row.Answer = "no-go"
		if j.allowed() {
			row.Answer = "go"
		}
		x.mass(row, j.Verdict.Weight.Upper)
	case store.Coast:
		seconds := body.Seconds
		row.Reading, row.Unit, row.ReadingSI, row.UnitSI = &seconds, "s", &seconds, "s"
	case checklists.Defect:
		row.Note = body.What
		switch row.Kind {
		case store.KindMended:
			row.Note = body.MendNote
		case store.KindReturned:
			row.Note = body.ReturnNote
		}
	case checklists.DefectNote:
		row.Note = body.Text
	case checklists.Departure:
		row.Note = body.What
		if row.Kind == store.KindDepartureClosed {
			row.Note = body.Reason
		}
	case checklists.Incident:
		row.Note = body.What
	case store.LockoutAct:
		row.Note = body.Event.Note
	}
	return nil
}

// mass is a weight as the screens show it, whole, with the kilograms beside it.
func (x *exportTable) mass(row *table.Row, m plain.Kilograms) {
	shown, unit := float64(m), "kg"
	if inches(x.Units) {
		shown, unit = float64(m/plain.Pound), "lb"
	}
	shown = math.Round(shown)
	si := math.Round(float64(m)*10) / 10
	row.Reading, row.Unit, row.ReadingSI, row.UnitSI = &shown, unit, &si, "kg"
}

// zoned is t at an offset of so many minutes.
func zoned(t time.Time, minutes int) time.Time {
	if t.IsZero() {
		return t
	}
	return t.In(time.FixedZone("", 60*minutes))
}
