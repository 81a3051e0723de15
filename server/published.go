package server

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) publishedRoutes() {
	s.get("/published", signedIn, s.showPublished)
	s.post("/published", supervisors, s.publishRead)
}

type publishedPage struct {
	*views.Frame
	Submission string
	Drafts     []draftLine
	Sorts      []sortInForce
	Publishers []string // who may publish
	MayPublish bool
}

type draftLine struct {
	Sort     plain.Sentence
	Title    string
	Href     string
	Since    time.Time
	Tick     views.Field
	Revision string // name of the hidden field
	Read     int    // the revision that was on the screen
	Publish  string // page of its own on which it is published, "" where a tick does it
}

type sortInForce struct {
	Heading plain.Sentence
	Docs    []documentInForce
}

type documentInForce struct {
	Title, Href, Edit string
	Version           int
	By                string
	At                time.Time
	Inspect           *inspectionDue // a procedure's yearly inspection, where it is near or over
}

// addresses of a document: to read it in force, and to read and edit its draft.
func documentPages(sort store.Sort, id string) (read, edit string) {
	switch sort {
	case store.Procedures:
		read = "/procedures/" + id
	case store.Rigs:
		read = "/rigs/" + id
	default:
		read = "/lists/" + id
	}
	return read, read + "/edit"
}

func sortWords(sort store.Sort) plain.Sentence {
	switch sort {
	case store.Lists:
		return plain.Say("List")
	case store.Procedures:
		return plain.Say("Procedure")
	case store.Rigs:
		return plain.Say("Rig")
	}
	return plain.Say("not known")
}

func (s *Server) showPublished(v *visit) error { return v.publishedPage(nil) }

func (v *visit) publishedPage(problems plain.Problems) error {
	page := publishedPage{Frame: v.frame("Lists, procedures, rigs"), Submission: store.NewID(), MayPublish: v.person.Supervises()}
	page.Problems = problems
	if len(problems) > 0 {
		page.Submission = v.submission()
	}
	drafts, err := v.desk.Drafts(v.ctx())
	if err != nil {
		return err
	}
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	names := map[procedures.PersonID]string{}
	for _, p := range people {
		names[p.ID] = p.Name
		if p.Now(v.now).Supervises() {
			page.Publishers = append(page.Publishers, p.Name)
		}
	}
	written, err := v.desk.InForce(v.ctx(), store.Procedures)
	if err != nil {
		return err
	}
	lists, err := v.desk.InForce(v.ctx(), store.Lists)
	if err != nil {
		return err
	}
	for _, d := range drafts {
		line := page.draft(v, d)
		// Of a next version its author says what changed.
		if d.Sort == store.Procedures && page.MayPublish && slices.ContainsFunc(written, func(p store.Publication) bool { return p.ID == d.ID }) {
			line.Publish = "/procedures/" + d.ID + "/publish"
		}
		if d.Sort == store.Lists && page.MayPublish && slices.ContainsFunc(lists, func(p store.Publication) bool { return p.ID == d.ID }) {
			line.Publish = "/lists/" + d.ID + "/publish"
		}
		page.Drafts = append(page.Drafts, line)
	}
	due, _, err := v.inspectionsDue()
	if err != nil {
		return err
	}
	count := 0
	for _, sort := range []struct {
		of      store.Sort
		heading plain.Sentence
	}{{store.Lists, plain.Say("Lists in force")}, {store.Procedures, plain.Say("Procedures in force")}, {store.Rigs, plain.Say("Rigs in force")}} {
		published, err := v.desk.InForce(v.ctx(), sort.of)
		if sort.of == store.Lists {
			published, err = v.desk.ListsInForce(v.ctx(), v.now)
		}
		if err != nil {
			return err
		}
		one := sortInForce{Heading: sort.heading}
		for _, p := range published {
			read, edit := documentPages(p.Sort, p.ID)
			doc := documentInForce{Title: p.Title, Href: read, Edit: edit, Version: p.Version, By: names[p.By], At: p.At}
			if of, is := due[procedures.ProcedureID(p.ID)]; is && p.Sort == store.Procedures {
				doc.Inspect = &of
			}
			one.Docs = append(one.Docs, doc)
			count++
		}
		page.Sorts = append(page.Sorts, one)
	}
	switch {
	case len(drafts) == 0:
		page.Title = plain.Say("In force: %d documents, no draft waits", count)
	case count == 0:
		page.Title = plain.Say("Nothing is in force: %d drafts to read", len(drafts))
	default:
		page.Title = plain.Say("In force: %[1]d documents; drafts to read: %[2]d", count, len(drafts))
	}
	return v.show("published", page, problems)
}

func (p *publishedPage) draft(v *visit, d store.Draft) draftLine {
	_, edit := documentPages(d.Sort, d.ID)
	name := "publish." + string(d.Sort) + "." + d.ID
	line := draftLine{Sort: sortWords(d.Sort), Title: d.Title, Href: edit, Since: d.At, Revision: "revision." + string(d.Sort) + "." + d.ID, Read: d.Revision}
	if d.Sort == store.Lists && !p.MayPublish {
		line.Href = "/lists/" + d.ID + "?draft=yes"
	} else if !p.MayPublish {
		line.Href = ""
	}
	line.Tick = p.TickField(name, p.T("I have read %s", d.Title), v.Method() == fiber.MethodPost && v.typed(name) == "yes")
	return line
}

// publishRead puts the ticked drafts in force under one signature.
func (s *Server) publishRead(v *visit) error {
	problems, err := v.sign()
	if err != nil {
		return err
	}
	read := v.draftsRead()
	problems.Unless(len(read) > 0, "publish", "tick what you have read")
	if len(problems) > 0 {
		return v.publishedPage(problems)
	}
	err = v.desk.PublishAll(v.ctx(), v.submission(), read, v.person, v.now, numberOf)
	if err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.publishedPage(problems)
	}
	return v.moveOn("/published", "published")
}

// draftsRead are the ticked drafts, each with the revision that was on the screen.
func (v *visit) draftsRead() (read []store.Draft) {
	v.Context().PostArgs().VisitAll(func(name, value []byte) {
		what, ticked := strings.CutPrefix(string(name), "publish.")
		sort, id, whole := strings.Cut(what, ".")
		if !ticked || !whole || string(value) != "yes" {
			return
		}
		revision, err := strconv.Atoi(v.typed("revision." + what))
		if err != nil {
			revision = -1 // what was read is not known, so it is not what stands there
		}
		read = append(read, store.Draft{Sort: store.Sort(sort), ID: id, Revision: revision})
	})
	return read
}

// numberOf is the check and numbering of a sort; a list has its own.
func numberOf(sort store.Sort) store.Number {
	switch sort {
	case store.Procedures:
		return store.NumberProcedure
	case store.Rigs:
		return store.NumberRig
	}
	return nil
}
