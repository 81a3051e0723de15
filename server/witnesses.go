package server

import (
	"net/url"
	"path/filepath"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) witnessRoutes() {
	s.post("/witness/add-checkpoint", anyone, s.addCheckpoint)
	s.get("/witnesses", supervisors, s.showWitnesses)
	s.post("/witnesses", supervisors, s.setUpWitness)
	s.post("/witnesses/logs", supervisors, s.enterLog)
	s.get("/witnesses/logs/checkpoint", supervisors, s.heldCheckpoint)
	s.post("/witnesses/logs/remove", supervisors, s.removeLog)
	s.post("/witnesses/alarms/:id", supervisors, s.closeAlarm)
	s.post("/witnesses/:id/try", supervisors, s.tryWitness)
	s.post("/witnesses/:id/switch", supervisors, s.switchWitness)
	s.post("/witnesses/:id/remove", supervisors, s.removeWitness)
}

type witnessesPage struct {
	*views.Frame
	Submission string
	Alarms     []alarmLine
	Witnesses  []witnessLine
	Fields     []views.Field // of a new one
	Logs       []seenLogLine
	LogFields  []views.Field
	Address    string // of this Stillsaw as a witness
	Key        string // it cosigns with
	OwnKey     string // of this mill's checkpoints, "" for none
	Again      bool   // the form of a new log came back
}

// alarmLine is an alarm as a page shows it.
type alarmLine struct {
	Said   plain.Sentence
	Raised time.Time
	Close  string // address
}

type witnessLine struct {
	Kind     plain.Sentence
	Place    string
	Key      string
	On, Good bool
	Answer   plain.Sentence
	Size     int64 // that it holds
	Sent     time.Time
	Tried    time.Time
	Since    time.Time
	SameDisk bool
	Try      string
	Switch   string
	Remove   string
}

type seenLogLine struct {
	Name, Origin string
	Prints       []string // fingerprints of its keys
	Size         int64
	Seen         time.Time
	Refused      time.Time
	Remove       string // address
	Held, Other  string // addresses of what was cosigned last, and of what does not go on from it
}

// witnessForms is what was typed.
type witnessForms struct{ Kind, Place, Verifier, Name, Keys string }

func (s *Server) showWitnesses(v *visit) error {
	return v.witnessesPage(witnessForms{Kind: string(checklists.WitnessFolder)}, nil)
}

func (v *visit) witnessesPage(form witnessForms, problems plain.Problems) error {
	page := witnessesPage{Frame: v.frame("Nobody but this computer holds the record"), Submission: store.NewID(), Address: v.BaseURL() + "/witness", Again: form.Name+form.Keys != ""}
	page.Problems = problems
	var err error
	if page.Alarms, err = v.alarmLines(); err != nil {
		return err
	}
	all, err := v.desk.Witnesses(v.ctx())
	if err != nil {
		return err
	}
	good, beside := 0, 0 // beside the database a folder is nowhere else
	for _, w := range all {
		line := v.witnessLine(w)
		page.Witnesses = append(page.Witnesses, line)
		switch {
		case line.SameDisk:
			beside++
		case line.On && line.Good:
			good++
		}
	}
	switch {
	case len(page.Alarms) > 0:
		page.Title = plain.Say("A witness does not agree with the record")
	case beside == len(all): // nobody elsewhere was asked
	case good < len(all):
		page.Title = plain.Say("Witnesses: %[1]d of %[2]d hold the record elsewhere", good, len(all))
	case good > 0:
		page.Title = plain.Say("Witnesses: %d, all hold the record", good)
	}
	page.Fields = []views.Field{
		page.ChoiceField("kind", page.T("What it is"), form.Kind, []views.Choice{
			{Value: string(checklists.WitnessFolder), Text: page.T("A folder on another disk or another computer")},
			{Value: string(checklists.WitnessMail), Text: page.T("A mailbox of somebody outside the mill")},
			{Value: string(checklists.WitnessStillsaw), Text: page.T("Another mill's Stillsaw")}}),
		page.TextField("place", page.T("Where it is"), form.Place).WithHint(page.T("The whole path of the folder, the e-mail address, or the address the other Stillsaw shows on its page Witnesses.")),
		page.TextField("verifier", page.T("Witness key of the other Stillsaw"), form.Verifier).WithHint(page.T("As its page Witnesses shows it; empty for a folder or a mailbox.")),
	}
	page.LogFields = []views.Field{
		page.TextField("name", page.T("What that mill is called"), form.Name),
		page.AreaField("keys", page.T("The key its checkpoints are signed with"), form.Keys).WithHint(page.T("As its supervisor reads it to you or sends it; after a change of key the former and the new one, a line each. Compare the fingerprint by telephone.")),
	}
	if err := v.asWitness(&page); err != nil {
		return err
	}
	return v.show("witnesses", page, problems)
}

func (v *visit) witnessLine(w store.WitnessState) witnessLine {
	at := "/witnesses/" + url.PathEscape(string(w.ID))
	line := witnessLine{Kind: witnessHeading(w.Kind), Place: w.Place, Key: w.Verifier, On: w.On, Good: w.Answer.Good(), Answer: w.Answer.Said(w.Why), Size: w.Took.Size, Sent: w.Sent, Tried: w.Tried, Since: w.At,
		Try: at + "/try", Switch: at + "/switch", Remove: at + "/remove"}
	if w.Kind == checklists.WitnessFolder {
		line.SameDisk, _ = sameDisk(w.Place, filepath.Dir(v.s.store.Path()))
	}
	return line
}

// witnessHeading names a kind of witness over what is said of it.
func witnessHeading(kind checklists.WitnessKind) plain.Sentence {
	switch kind {
	case checklists.WitnessFolder:
		return plain.Say("Folder")
	case checklists.WitnessMail:
		return plain.Say("Mailbox")
	case checklists.WitnessStillsaw:
		return plain.Say("Another Stillsaw")
	}
	return plain.Say("Witness of a kind not known here")
}

// asWitness fills in what this Stillsaw holds of others.
func (v *visit) asWitness(page *witnessesPage) error {
	var err error
	if page.Key, err = v.desk.WitnessKey(); err != nil {
		return err
	}
	keys, err := v.desk.LogKeys(v.ctx())
	if err != nil {
		return err
	}
	if len(keys) > 0 {
		page.OwnKey = keys[len(keys)-1].Verifier
	}
	logs, err := v.desk.SeenLogs(v.ctx())
	if err != nil {
		return err
	}
	for _, l := range logs {
		query := "?origin=" + url.QueryEscape(l.Origin)
		line := seenLogLine{Name: l.Name, Origin: l.Origin, Size: l.Size, Seen: l.Seen, Refused: l.RefusedAt, Remove: "/witnesses/logs/remove" + query}
		for _, key := range l.Verifier {
			line.Prints = append(line.Prints, record.Fingerprint(key))
		}
		if l.Text != "" {
			line.Held = "/witnesses/logs/checkpoint" + query
		}
		if l.Refused != "" {
			line.Other = "/witnesses/logs/checkpoint" + query + "&refused=yes"
		}
		page.Logs = append(page.Logs, line)
	}
	return nil
}

// alarmLines are the alarms that stand.
func (v *visit) alarmLines() ([]alarmLine, error) {
	all, err := v.desk.WitnessAlarms(v.ctx())
	var lines []alarmLine
	for _, a := range all {
		lines = append(lines, alarmLine{Said: a.Said(), Raised: a.Raised, Close: "/witnesses/alarms/" + url.PathEscape(string(a.ID))})
	}
	return lines, err
}

// witnessDone ends an act on the page Witnesses: it is signed first.
func (v *visit) witnessDone(form witnessForms, done string, do func() error) error {
	return v.signedThen("/witnesses", done, do, func(problems plain.Problems) error { return v.witnessesPage(form, problems) })
}

func (s *Server) setUpWitness(v *visit) error {
	form := witnessForms{Kind: v.typed("kind"), Place: v.typed("place"), Verifier: v.typed("verifier")}
	asked := checklists.Witness{Kind: checklists.WitnessKind(form.Kind), Place: form.Place, Verifier: form.Verifier}
	return v.witnessDone(form, "witness", func() error {
		if asked.Kind == checklists.WitnessFolder && filepath.IsAbs(asked.Place) {
			if err := tryFolder(asked.Place); err != nil {
				return plain.Problems{{Field: "place", Want: plain.Say("a folder that is there and that this computer may write to: %s", err.Error())}}
			}
		}
		id, err := v.desk.SetUpWitness(v.ctx(), v.submission(), asked, v.person, v.now)
		if err != nil || asked.Kind == checklists.WitnessMail {
			return err
		}
		return v.give(id)
	})
}

// give gives a witness the present checkpoint at once.
func (v *visit) give(id checklists.WitnessID) error {
	w, err := v.desk.Witness(v.ctx(), id)
	if err != nil {
		return err
	}
	return v.s.giveWitness(v.ctx(), v.mill, v.desk, w, true)
}

func (s *Server) tryWitness(v *visit) error {
	id := checklists.WitnessID(v.Params("id"))
	if err := v.give(id); err != nil {
		return err
	}
	w, err := v.desk.Witness(v.ctx(), id)
	if err != nil {
		return err
	}
	done := "witness-not"
	switch {
	case w.Answer == checklists.WitnessQueued:
		done = "witness-mail"
	case w.Answer.Good():
		done = "witness-took"
	}
	return v.moveOn("/witnesses", done)
}

func (s *Server) switchWitness(v *visit) error {
	return v.witnessDone(witnessForms{Kind: string(checklists.WitnessFolder)}, "witness-switched", func() error {
		return v.desk.SwitchWitness(v.ctx(), v.submission(), checklists.WitnessID(v.Params("id")), v.typed("on") == "yes", v.person, v.now)
	})
}

func (s *Server) removeWitness(v *visit) error {
	return v.witnessDone(witnessForms{Kind: string(checklists.WitnessFolder)}, "witness-removed", func() error {
		return v.desk.RemoveWitness(v.ctx(), v.submission(), checklists.WitnessID(v.Params("id")), v.person, v.now)
	})
}

func (s *Server) closeAlarm(v *visit) error {
	return v.witnessDone(witnessForms{Kind: string(checklists.WitnessFolder)}, "alarm-closed", func() error {
		return v.desk.CloseWitnessAlarm(v.ctx(), v.submission(), checklists.AlarmID(v.Params("id")), v.typed("reason"), v.person, v.now)
	})
}

func (s *Server) enterLog(v *visit) error {
	form := witnessForms{Kind: string(checklists.WitnessFolder), Name: v.typed("name"), Keys: v.typed("keys")}
	return v.witnessDone(form, "witness-log", func() error {
		err := v.desk.EnterLog(v.ctx(), v.submission(), checklists.WitnessedLog{Name: form.Name, Verifier: strings.Fields(form.Keys)}, v.person, v.now)
		if problems, other := problemsOf(err); other == nil {
			for i := range problems {
				if problems[i].Field == "verifier" {
					problems[i].Field = "keys"
				}
			}
			return problems.Err()
		}
		return err
	})
}

func (s *Server) removeLog(v *visit) error {
	return v.witnessDone(witnessForms{Kind: string(checklists.WitnessFolder)}, "witness-log-removed", func() error {
		return v.desk.RemoveLog(v.ctx(), v.submission(), v.typed("origin"), v.person, v.now)
	})
}

// heldCheckpoint is what this Stillsaw holds of another mill's record, as a file.
func (s *Server) heldCheckpoint(v *visit) error {
	logs, err := v.desk.SeenLogs(v.ctx())
	if err != nil {
		return err
	}
	for _, l := range logs {
		text := l.Text
		if v.Query("refused") != "" {
			text = l.Refused
		}
		if l.Origin == v.Query("origin") && text != "" {
			v.Attachment("checkpoint.txt")
			v.Set("Content-Type", "text/plain; charset=utf-8")
			return v.SendString(text)
		}
	}
	return store.ErrNotFound
}
