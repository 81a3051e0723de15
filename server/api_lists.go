package server

import (
	"errors"
	"strconv"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func listOperations() []operation {
	return []operation{
		reads("listLists", "/lists", "/lists", "Every list, with the version in force", listListsForAPI),
		reads("getList", "/lists/{list}", "/lists/:id/export", "The version in force, in the words of the exported file", func(c *call) (apiList, error) {
			p, err := c.desk.ListInForce(c.ctx(), checklists.ListID(c.Params("list")), c.now)
			return listForAPI(p, err)
		}),
		reads("listVersions", "/lists/{list}/versions", "/lists/:id/versions", "Every version of a list, newest first", listVersionsForAPI),
		reads("getVersion", "/lists/{list}/versions/{version}", "/lists/:id/export", "One version", func(c *call) (apiList, error) {
			n, err := strconv.Atoi(c.Params("version"))
			if err != nil || n < 1 {
				return apiList{}, store.ErrNotFound
			}
			p, err := c.desk.Published(c.ctx(), store.Lists, c.Params("list"), n)
			return listForAPI(p, err)
		}),
		reads("getDraft", "/lists/{list}/draft", "/lists/:id/export", "The draft of the next version, or what one would begin from: the newest version", getDraft),
		writes("putDraft", fiber.MethodPut, "/lists/{list}/draft", "/lists/:id/edit", "Keep a draft of the next version, unless somebody changed it since it was read", putDraft),
		reads("compareList", "/lists/{list}/compare", "/lists/:id/compare", "What differs between two versions, item by item", compareForAPI,
			parameter{name: "from", says: "a version, or draft; the version in force where it is left out"}, parameter{name: "to", says: "a version, or draft, which it is where it is left out"}),
		writes("publishList", fiber.MethodPost, "/lists/{list}/publish", "/lists/:id/publish", "Sign the draft and put it in force", publishForAPI),
	}
}

type apiListLine struct {
	ID       string    `json:"id"`
	Title    string    `json:"title"`
	Version  int       `json:"version" says:"in force"`
	InForce  time.Time `json:"in_force" says:"since when"`
	Schedule string    `json:"schedule" says:"when it falls due, in words"`
}

func listListsForAPI(c *call) (items[apiListLine], error) {
	published, err := c.desk.ListsInForce(c.ctx(), c.now)
	if err != nil {
		return items[apiListLine]{}, err
	}
	lines := make([]apiListLine, len(published))
	for i, p := range published {
		l, err := listIn(p.Doc)
		if err != nil {
			return items[apiListLine]{}, err
		}
		lines[i] = apiListLine{p.ID, p.Title, p.Version, l.InForce, scheduleWords(l.Schedule).String()}
	}
	return items[apiListLine]{Items: lines}, nil
}

type apiList struct {
	ID      string              `json:"id"`
	Version int                 `json:"version"`
	By      procedures.PersonID `json:"by" says:"who signed it"`
	At      time.Time           `json:"at"`
	List    listFile            `json:"list"`
}

func listForAPI(p store.Publication, err error) (apiList, error) {
	if err != nil {
		return apiList{}, err
	}
	l, err := listIn(p.Doc)
	if err != nil {
		return apiList{}, err
	}
	file, err := fileOf(l)
	return apiList{p.ID, p.Version, p.By, p.At, file}, err
}

// fileOf is a list in the words of its file, as JSON.
func fileOf(l checklists.List) (listFile, error) {
	file, err := l.Export()
	if err != nil {
		return nil, err
	}
	text, err := yaml.YAMLToJSON(file)
	return listFile(text), err
}

type apiVersion struct {
	Version int                 `json:"version"`
	Title   string              `json:"title"`
	By      procedures.PersonID `json:"by"`
	At      time.Time           `json:"at" says:"when it was signed"`
	InForce time.Time           `json:"in_force" says:"from when on it holds, unless a higher one does"`
	Now     bool                `json:"now" says:"this is the one in force"`
	Repeats int                 `json:"repeats,omitzero" says:"the earlier version it publishes anew"`
}

func listVersionsForAPI(c *call) (items[apiVersion], error) {
	id := c.Params("list")
	published, err := c.desk.Versions(c.ctx(), checklists.ListID(id))
	if err != nil {
		return items[apiVersion]{}, err
	}
	if len(published) == 0 {
		return items[apiVersion]{}, store.ErrNotFound
	}
	versions, err := c.versionsOf(id)
	if err != nil {
		return items[apiVersion]{}, err
	}
	inForce, _ := checklists.InForceAt(versions, c.now)
	out := make([]apiVersion, len(published))
	for i, p := range published {
		l := versions[i]
		out[i] = apiVersion{p.Version, p.Title, p.By, p.At, l.InForce, l.Version == inForce.Version, l.Repeats}
	}
	return items[apiVersion]{Items: out}, nil
}

type apiDraft struct {
	Revision int       `json:"revision" says:"of the draft, 0 where there is none yet; sent back with what is put"`
	Over     int       `json:"over" says:"the newest version, 0 where there is none; sent back with what is put"`
	Saved    *apiSaved `json:"saved,omitzero"`
	List     listFile  `json:"list"`
}

type apiSaved struct {
	By       procedures.PersonID `json:"by,omitzero"`
	Name     string              `json:"name,omitzero"`
	At       time.Time           `json:"at,omitzero"`
	Revision int                 `json:"revision"`
}

func getDraft(c *call) (apiDraft, error) {
	d, err := c.listToEdit(c.Params("list"))
	if err != nil {
		return apiDraft{}, err
	}
	file, err := fileOf(d.list)
	if err != nil {
		return apiDraft{}, err
	}
	saved, err := c.saved(d)
	return apiDraft{d.revision, d.over, saved, file}, err
}

// saved is who left a draft as it stands; nil for no draft.
func (c *call) saved(d listDraft) (*apiSaved, error) {
	if d.revision == 0 {
		return nil, nil
	}
	names, err := c.names()
	return &apiSaved{d.by, names[d.by], d.at, d.revision}, err
}

type apiDraftPut struct {
	Revision int      `json:"revision" says:"as it was read"`
	Over     int      `json:"over" says:"as it was read"`
	List     listFile `json:"list"`
}

func putDraft(c *call, b apiDraftPut) (apiDone, error) {
	l, err := checklists.Import(b.List)
	if err != nil {
		return apiDone{}, err
	}
	id := c.Params("list")
	if string(l.ID) != id || !plainID(id) {
		return apiDone{}, wrongField("list.id", "%s, as in the address: small letters, digits and dashes", id)
	}
	err = c.keepList(listDraft{revision: b.Revision, over: b.Over}, l.AsDraft())
	if errors.Is(err, store.ErrChanged) {
		return apiDone{}, c.changedBy(id)
	}
	return done(id, err)
}

// changedBy is the answer to a draft that somebody else saved or published
// meanwhile, with how it stands now.
func (c *call) changedBy(id string) error {
	now, err := c.listToEdit(id)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	f := failureOf(store.ErrChanged)
	f.Saved, err = c.saved(now)
	if err != nil {
		return err
	}
	return f
}

type apiChange struct {
	Item    string           `json:"item,omitzero" says:"left out for the list as a whole"`
	Kind    string           `json:"kind" oneof:"added|removed|moved|changed"`
	Prompt  string           `json:"prompt"`
	Fields  []apiFieldChange `json:"fields"`
	Loosens bool             `json:"loosens" says:"it asks less than before"`
	Rule    string           `json:"rule,omitzero" says:"where what it asks less of comes from: publishing it needs a reason"`
}

type apiFieldChange struct {
	Field  string `json:"field"`
	Name   string `json:"name"`
	Before string `json:"before"`
	After  string `json:"after"`
}

// versionFor is the version the address names by parameter.
func (c *call) versionFor(name, otherwise string) (checklists.List, error) {
	id := c.Params("list")
	word := c.Query(name, otherwise)
	if word == draftWord {
		d, err := c.listToEdit(id)
		if err == nil {
			d.list, err = c.counted(d.list)
		}
		return d.list, err
	}
	n, err := strconv.Atoi(word)
	if err != nil || n < 1 {
		return checklists.List{}, wrongField(name, "the number of a version, or %s", draftWord)
	}
	return c.desk.List(c.ctx(), checklists.ListID(id), n)
}

func compareForAPI(c *call) (items[apiChange], error) {
	inForce, err := c.desk.ListInForce(c.ctx(), checklists.ListID(c.Params("list")), c.now)
	if err != nil {
		return items[apiChange]{}, err
	}
	before, err := c.versionFor("from", strconv.Itoa(inForce.Version))
	if err != nil {
		return items[apiChange]{}, err
	}
	after, err := c.versionFor("to", draftWord)
	return itemsOf(checklists.Compare(before, after), func(one checklists.Change) apiChange {
		return apiChange{Item: string(one.Item), Kind: string(one.Kind), Prompt: one.Prompt, Loosens: one.Loosens, Rule: one.Rule,
			Fields: each(one.Fields, func(f checklists.FieldChange) apiFieldChange {
				return apiFieldChange{f.Field, f.Name.String(), f.Before.String(), f.After.String()}
			})}
	}), err
}

type apiPublish struct {
	signature
	Revision int               `json:"revision" says:"of the draft that was read"`
	Over     int               `json:"over" says:"the newest version as it was read"`
	From     time.Time         `json:"from,omitzero" says:"in force from then on; left out: from now"`
	Reasons  map[string]string `json:"reasons,omitzero" says:"why less is asked, by the id of the item; by the empty text for the list as a whole"`
}

func publishForAPI(c *call, b apiPublish) (apiDone, error) {
	id := c.Params("list")
	if answered, err := c.desk.Answered(c.ctx(), c.submission()); err != nil || answered {
		return done(id, err)
	}
	d, err := c.listToEdit(id)
	if err != nil {
		return apiDone{}, err
	}
	if d.revision == 0 {
		return apiDone{}, plain.Refuse("", "There is no draft of this list. Keep one first.")
	}
	draft, err := store.DraftOf(store.Lists, id, d.list.Title, d.list)
	if err != nil {
		return apiDone{}, err
	}
	var bad plain.Problems
	bad.Unless(b.From.IsZero() || b.From.After(c.now), "from", "a day and time to come")
	if err := bad.Err(); err != nil {
		return apiDone{}, err
	}
	draft.Revision, draft.From, draft.Reasons = b.Revision, b.From, map[checklists.ItemID]string{}
	for item, reason := range b.Reasons {
		draft.Reasons[checklists.ItemID(item)] = reason
	}
	err = c.desk.ReleaseList(c.ctx(), c.submission(), store.Release{Draft: draft, Over: b.Over}, c.person, c.now)
	if errors.Is(err, store.ErrChanged) {
		return apiDone{}, c.changedBy(id)
	}
	return done(id, err)
}
