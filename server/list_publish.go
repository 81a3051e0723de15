package server

import (
	"errors"
	"net/url"
	"strconv"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// listPublishPage is what a supervisor reads before signing a list's next
// version: what is missing, what differs, what it asks less of.
type listPublishPage struct {
	*views.Frame
	ID, Submission string
	Revision, Over int
	Anew           int // the older version published once more, 0: the draft
	InForce        int
	Gaps           []gapLink
	Changes        []listChange
	Reasons        []reasonField
	When           []views.Field
	Under          int              // inspections under way, which keep their version
	Coming         []plain.Sentence // versions to come, whose place this one takes
}

type gapLink struct {
	Said plain.Sentence
	Href string
}

// reasonField asks why less is asked of one demand.
type reasonField struct {
	Prompt, Source string
	Field          views.Field
}

func (s *Server) showListPublish(v *visit) error {
	return v.listPublishPage(store.NewID(), nil)
}

// toPublish is the draft, or the older version the address or form names.
func (v *visit) toPublish() (d listDraft, anew int, err error) {
	if d, err = v.listToEdit(v.Params("id")); err != nil {
		return d, 0, err
	}
	anew = wholeOr(v.FormValue("version"), 0)
	if anew == 0 {
		return d, 0, nil
	}
	if anew > d.over {
		return d, anew, store.ErrNotFound
	}
	old, err := v.desk.List(v.ctx(), checklists.ListID(v.Params("id")), anew)
	d.list = old.Anew()
	return d, anew, err
}

func (v *visit) listPublishPage(submission string, problems plain.Problems) error {
	d, anew, err := v.toPublish()
	if err != nil {
		return err
	}
	id := v.Params("id")
	page := listPublishPage{ID: id, Submission: submission, Revision: d.revision, Over: d.over, Anew: anew, Frame: v.frame("%[1]s: publish version %[2]d", d.list.Title, d.over+1)}
	page.Problems = problems
	inForce, err := v.desk.ListInForce(v.ctx(), checklists.ListID(id), v.now)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	var before checklists.List
	if page.InForce = inForce.Version; inForce.Version > 0 {
		if before, err = listIn(inForce.Doc); err != nil {
			return err
		}
	}
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	after := d.list.Counted(facts.Mill.SetUp)
	var gaps plain.Problems
	gaps.Add("", after.Validate(facts.Plant))
	for _, gap := range gaps {
		link := gapLink{Said: gap.Want, Href: listPath(v.Ctx, "edit")}
		for _, item := range after.Items {
			if wrongWith(plain.Problems{gap}, checklists.ItemID("items."+string(item.ID))) {
				link.Said = plain.Say("%[1]s: %[2]s", string(item.ID), gap.Want)
				link.Href = "/lists/" + id + "/items/" + url.PathEscape(string(item.ID))
			}
		}
		page.Gaps = append(page.Gaps, link)
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page.changes(v, before, after, facts.Plant, names)
	if page.Under, page.Coming, err = v.aboutToPublish(id); err != nil {
		return err
	}
	switch {
	case len(page.Gaps) > 0:
		page.Title = plain.Say("%[1]s: not ready to publish, missing: %[2]d", after.Title, len(page.Gaps))
	case anew > 0 && anew == page.InForce && len(page.Coming) > 0:
		page.Title = plain.Say("%[1]s: keep version %[2]d, take back what is to come", after.Title, anew)
	case anew > 0:
		page.Title = plain.Say("%[1]s: publish version %[2]d once more", after.Title, anew)
	case page.InForce == 0:
		page.Title = plain.Say("%s: publish it for the first time", after.Title)
	case len(page.Changes) == 0:
		page.Title = plain.Say("%[1]s: nothing differs from version %[2]d", after.Title, page.InForce)
	}
	return v.show("list-publish", page, problems)
}

func (p *listPublishPage) changes(v *visit, before, after checklists.List, plant procedures.Plant, names map[procedures.PersonID]string) {
	right := versionWords(draftWord)
	if p.Anew > 0 {
		right = versionWords(strconv.Itoa(p.Anew))
	}
	if p.InForce > 0 {
		p.Changes = listChanges(p.Frame, before, after, versionWords(strconv.Itoa(p.InForce)), right, plant, names)
	}
	for _, l := range checklists.Loosens(before, after) {
		name := "reasons." + string(l.Item)
		p.Reasons = append(p.Reasons, reasonField{Prompt: l.Prompt, Source: l.Source, Field: p.AreaField(name, p.T("Why less is asked"), v.typed(name))})
	}
	when := v.typed("when")
	if when == "" {
		when = "now"
	}
	p.When = []views.Field{
		p.ChoiceField("when", p.T("In force"), when, []views.Choice{views.Offer("now", p.T("now, with my signature")), views.Offer("later", p.T("from a later time on"))}),
		p.MomentField("from", p.T("From, on the mill's clock"), v.typed("from")),
	}
}

// aboutToPublish is what else bears on a new version: inspections under way and
// versions that are signed and still to come.
func (v *visit) aboutToPublish(id string) (under int, coming []plain.Sentence, err error) {
	walks, err := v.desk.Walks(v.ctx())
	if err != nil {
		return 0, nil, err
	}
	for _, w := range walks {
		if string(w.List.ID) == id {
			under++
		}
	}
	versions, err := v.versionsOf(id)
	for _, l := range checklists.ToCome(versions, v.now) {
		coming = append(coming, plain.Say("Version %[1]d is signed and comes into force %[2]s; the one you publish now takes its place.", l.Version, l.InForce))
	}
	return under, coming, err
}

// publishList signs the version that was read.
func (s *Server) publishList(v *visit) error {
	problems, err := v.sign()
	if err != nil {
		return err
	}
	d, anew, err := v.toPublish()
	if err != nil {
		return err
	}
	draft, err := store.DraftOf(store.Lists, v.Params("id"), d.list.Title, d.list)
	if err != nil {
		return err
	}
	draft.Revision = wholeOr(v.typed("revision"), -1)
	if v.typed("when") == "later" {
		from, err := v.moment(v.typed("from"))
		problems.Unless(err == nil && from.After(v.now), "from", "a day and time to come")
		draft.From = from
	}
	draft.Reasons = map[checklists.ItemID]string{}
	asked, err := v.reasonsAsked()
	if err != nil {
		return err
	}
	for _, id := range asked {
		draft.Reasons[id] = v.typed("reasons." + string(id))
	}
	if len(problems) == 0 {
		release := store.Release{Draft: draft, Over: wholeOr(v.typed("over"), -1), Anew: anew > 0}
		err := v.desk.ReleaseList(v.ctx(), v.submission(), release, v.person, v.now)
		switch {
		case err == nil && draft.From.After(v.now):
			return v.moveOn("/lists/"+v.Params("id")+"/versions", "published-later")
		case err == nil:
			return v.moveOn("/lists/"+v.Params("id"), "published")
		case errors.Is(err, store.ErrChanged):
			problems = plain.Problems{{Want: v.saidChanged(d)}}
		default:
			if problems, err = problemsOf(err); err != nil {
				return err
			}
		}
	}
	return v.listPublishPage(v.submission(), problems)
}

// saidChanged says who changed what was about to be signed.
func (v *visit) saidChanged(now listDraft) plain.Sentence {
	if names, err := v.names(); err == nil && now.by != "" {
		return plain.Say("%[1]s saved this draft %[2]s, after you had opened this page. Read below how it stands now, then sign.", names[now.by], now.at)
	}
	return plain.Say("This list was changed after you had opened this page. Read below how it stands now, then sign.")
}

// reasonsAsked are the demands a form may give reasons for: of any item, and of
// the list as a whole.
func (v *visit) reasonsAsked() ([]checklists.ItemID, error) {
	versions, err := v.versionsOf(v.Params("id"))
	ids := []checklists.ItemID{""}
	for _, l := range versions {
		for _, item := range l.Items {
			ids = append(ids, item.ID)
		}
	}
	return ids, err
}

// versionsPage is every version of a list, newest first.
type versionsPage struct {
	*views.Frame
	ID       string
	Versions []versionLine
	Publish  bool
	TakeBack int // the version in force while a later one is to come; 0: nothing to take back
}

type versionLine struct {
	Version          int
	Title, By        string
	At, From         time.Time
	State            plain.Sentence
	Later, Now       bool
	Repeats, Earlier int
	Loosened         []checklists.Loosened
}

// overtaken tells whether a higher version was in force already when the time of
// this one came.
func overtaken(versions []checklists.List, l checklists.List) bool {
	then, _ := checklists.InForceAt(versions, l.InForce)
	return then.Version != l.Version
}

func (s *Server) showVersions(v *visit) error {
	id := v.Params("id")
	published, err := v.desk.Versions(v.ctx(), checklists.ListID(id))
	if err != nil {
		return err
	}
	if len(published) == 0 {
		return store.ErrNotFound
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	versions, err := v.versionsOf(id)
	if err != nil {
		return err
	}
	inForce, _ := checklists.InForceAt(versions, v.now)
	coming := map[int]bool{}
	for _, l := range checklists.ToCome(versions, v.now) {
		coming[l.Version] = true
	}
	page := versionsPage{Frame: v.frame("%[1]s: %[2]d versions", published[0].Title, len(published)), ID: id, Publish: v.person.Supervises()}
	if page.Publish && len(coming) > 0 {
		page.TakeBack = inForce.Version
	}
	for i, p := range published {
		l := versions[i]
		line := versionLine{Version: l.Version, Title: l.Title, By: names[p.By], At: p.At, From: l.InForce, Repeats: l.Repeats, Loosened: l.Loosened, Now: l.Version == inForce.Version, Later: coming[l.Version], Earlier: l.Version - 1}
		switch {
		case line.Now:
			line.State = plain.Say("in force")
		case line.Later:
			line.State = plain.Say("comes into force %s", l.InForce)
		case overtaken(versions, l):
			line.State = plain.Say("never came into force: a higher version took its place")
		default:
			line.State = plain.Say("no longer in force")
		}
		page.Versions = append(page.Versions, line)
	}
	return v.show("list-versions", page, nil)
}
