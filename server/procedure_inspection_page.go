package server

import (
	"slices"
	"strconv"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// certificatePage shows the four things 29 CFR 1910.147(c)(6)(ii) asks to be
// certified, with the version; what followed stands beside them.
type certificatePage struct {
	*views.Frame
	Procedure  procedures.Procedure
	Machines   []string
	Day        string
	Included   []string // with whom it was gone over, and when
	Inspector  string
	Follows    []string // who was away, and when it follows
	TagLimits  bool
	Watched    string // address of the lockout that was watched
	ShownBy    string // who showed every step, where none was
	By         string
	In         procedures.ProcedureInspection
	Findings   []foundLine
	Newer      bool // a later version is in force
	Entry      int64
	Submission string
	Note       string
	Cautions   []plain.Sentence
}

// foundLine is one finding and what came of it.
type foundLine struct {
	procedures.Finding
	N              int
	Person, Owner  string
	Due            string
	Late           bool
	Done           *procedures.ActionDone
	DoneBy         string
	SeeTo          string // address that asks for the report, "" where it isn't the visitor's
	Asked          bool   // the form stands here
	KindWords      plain.Sentence
	RetrainAddress string
}

func (s *Server) showProcedureInspection(v *visit) error {
	asked, err := strconv.Atoi(v.Query("finding"))
	if err != nil {
		asked = -1
	}
	return v.certificatePage(asked, "", store.NewID(), nil)
}

func (v *visit) certificatePage(asked int, note, submission string, problems plain.Problems) error {
	in, err := v.desk.ProcedureInspection(v.ctx(), procedures.ProcedureInspectionID(v.Params("id")))
	if err != nil {
		return err
	}
	p, err := v.desk.Procedure(v.ctx(), in.Procedure, in.Version)
	if err != nil {
		return err
	}
	newest, err := v.desk.Published(v.ctx(), store.Procedures, string(in.Procedure), 0)
	if err != nil {
		return err
	}
	plant, names, err := v.plantAndNames()
	if err != nil {
		return err
	}
	page := certificatePage{Frame: v.frame("%s: inspected", p.Title), Procedure: p, Inspector: inspectorName(in, names), ShownBy: names[in.ShownBy], By: names[in.By], In: in, Newer: newest.Version > in.Version,
		TagLimits: len(in.TagLimits) > 0, Submission: submission, Note: note, Cautions: procedures.Cautions()}
	page.Problems = problems
	page.Title = plain.Say("%[1]s: inspected %[2]s, %[3]s", p.Title, page.Frame.Day(in.On), plain.Say("%d findings", len(in.Findings)))
	page.Day = page.Frame.Day(in.On)
	for _, id := range in.Equipment {
		page.Machines = append(page.Machines, nameIn(plant, id))
	}
	met, follows := inspectedDays(page.Frame, in.Reviewed, names)
	metToo, followsToo := inspectedDays(page.Frame, in.Affected, names)
	page.Included, page.Follows = together(met, metToo), together(follows, followsToo)
	if in.Watched != "" {
		page.Watched = "/lockouts/" + string(in.Watched)
	}
	entries, _, err := v.desk.Entries(v.ctx(), store.Filter{Kind: store.KindProcedureInspected, Subject: string(in.ID), Limit: 1})
	if err != nil {
		return err
	}
	if len(entries) > 0 {
		page.Entry = entries[0].Seq
	}
	if page.Findings, err = v.foundLines(page.Frame, in, names, asked); err != nil {
		return err
	}
	return v.show("procedure-certificate", page, problems)
}

// together is both lists, each line once: who locks out by a procedure may work
// at its machine too.
func together(first, second []string) []string {
	all := slices.Clone(first)
	for _, line := range second {
		if !slices.Contains(all, line) {
			all = append(all, line)
		}
	}
	return all
}

func (v *visit) foundLines(f *views.Frame, in procedures.ProcedureInspection, names map[procedures.PersonID]string, asked int) ([]foundLine, error) {
	done, err := v.desk.FindingsSeenTo(v.ctx())
	if err != nil {
		return nil, err
	}
	lines := make([]foundLine, len(in.Findings))
	for i, one := range in.Findings {
		line := foundLine{Finding: one, N: i, Person: names[one.Person], Owner: names[one.Owner], Due: f.Day(one.Due), KindWords: one.Kind.Words(), Late: v.now.After(one.Due)}
		for j := range done {
			if done[j].Inspection == in.ID && done[j].Finding == i {
				line.Done, line.DoneBy = &done[j], names[done[j].By]
			}
		}
		if line.Done == nil && v.person.Works() && (v.person.ID == one.Owner || v.person.Supervises()) {
			line.SeeTo = "/procedure-inspections/" + string(in.ID) + "?finding=" + strconv.Itoa(i) + "#f-note"
			line.Asked = asked == i
		}
		if one.Person != "" && v.person.Supervises() {
			line.RetrainAddress = trainFor(procedures.AuthorizedLevel, one.Person, in.Procedure)
		}
		lines[i] = line
	}
	return lines, nil
}

func (s *Server) seeToFinding(v *visit) error {
	id := procedures.ProcedureInspectionID(v.Params("id"))
	if _, err := v.desk.ProcedureInspection(v.ctx(), id); err != nil {
		return err
	}
	at := whole(v.typed("finding"))
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		err := v.desk.SeeToFinding(v.ctx(), v.submission(), id, at, v.typed("note"), v.person, v.now)
		if err == nil {
			return v.moveOn("/procedure-inspections/"+string(id), "seen-to")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.certificatePage(at, v.typed("note"), v.submission(), problems)
}

// inspectedDays says with whom it was gone over and when.
func inspectedDays(f *views.Frame, reviews []procedures.Review, names map[procedures.PersonID]string) (met, follows []string) {
	for _, r := range reviews {
		if r.On.IsZero() {
			follows = append(follows, f.T("%[1]s, %[2]s", names[r.Person], f.Day(r.FollowUp)))
		} else {
			met = append(met, f.T("%[1]s, %[2]s", names[r.Person], f.Day(r.On)))
		}
	}
	return met, follows
}
