package server

import (
	"reflect"
	"strconv"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func inspectionOperations() []operation {
	return []operation{
		reads("listInspections", "/inspections", "/record", "Signed inspections, newest first", listInspections,
			parameter{name: "list", says: "only of this list"}, beforeParameter(), limitParameter()),
		reads("getInspection", "/inspections/{inspection}", "/inspections/:id", "One signed inspection, with what was added to it", getInspection),
		writes("signInspection", fiber.MethodPost, "/inspections", "/inspections/:id/sign", "Sign a whole inspection: every item of the version in force answered, or nothing is kept", signWhole),
		writes("amendInspection", fiber.MethodPost, "/inspections/{inspection}/amendments", "/inspections/:id/amend", "Sign answers to items of a signed inspection that were left unchecked", amendForAPI),
		{id: "keepPhoto", method: fiber.MethodPost, path: "/photos", like: "POST /inspections/:id/answers", about: "Keep a photo, to be named by its digest in an answer",
			media: "image/*", out: reflect.TypeFor[apiPhoto](), run: keepPhotoForAPI},
	}
}

type apiInspection struct {
	ID      checklists.InspectionID `json:"id"`
	List    checklists.ListID       `json:"list"`
	Version int                     `json:"version"`
	Title   string                  `json:"title"`
	Signer  procedures.PersonID     `json:"signer"`
	Began   time.Time               `json:"began"`
	At      time.Time               `json:"at" says:"signed, by the server's clock"`
	Late    bool                    `json:"late" says:"signed after the shift had started"`
	Entry   int64                   `json:"entry" says:"its place in the record"`
	Answers []apiAnswer             `json:"answers"`
	Added   []apiAmendment          `json:"added,omitzero"`
}

type apiAmendment struct {
	Signer  procedures.PersonID `json:"signer"`
	At      time.Time           `json:"at"`
	Answers []apiAnswer         `json:"answers"`
}

type apiAnswer struct {
	apiAnswerPost
	By    procedures.PersonID   `json:"by"`
	At    time.Time             `json:"at"`
	Under procedures.LockoutID  `json:"under,omitzero" says:"the lockout it was done under"`
	Run   checklists.RunCheckID `json:"run,omitzero" says:"the run check it was done in"`
}

type apiAnswerPost struct {
	Item     checklists.ItemID   `json:"item" says:"id of the item; of a repeated one with its number, as the signed inspection has it"`
	Result   string              `json:"result,omitzero" says:"left out of a number: it follows from the limits" oneof:"ok|defect|not-checked"`
	Number   *float64            `json:"number,omitzero" says:"in the unit of the item"`
	Text     string              `json:"text,omitzero" says:"words, or the word chosen"`
	Note     string              `json:"note,omitzero" says:"what is wrong, or why it was not checked"`
	Photo    string              `json:"photo,omitzero" says:"digest of a kept photo"`
	Person   procedures.PersonID `json:"person,omitzero"`
	Severity string              `json:"severity,omitzero" oneof:"stop|mend"`
	StopGap  string              `json:"stop_gap,omitzero"`
	MendBy   time.Time           `json:"mend_by,omitzero"`
	Replaced bool                `json:"replaced,omitzero" says:"of a meter: it was changed or set back since it was last read"`
}

func answerForAPI(a checklists.Answer) apiAnswer {
	return apiAnswer{By: a.By, At: a.At, Under: a.Under, Run: a.Run, apiAnswerPost: apiAnswerPost{Item: a.Item, Result: string(a.Result), Number: a.Number, Text: a.Text, Note: a.Note, Photo: a.Photo,
		Person: a.Person, Severity: string(a.Severity), StopGap: a.StopGap, MendBy: a.MendBy, Replaced: a.Replaced}}
}

func inspectionForAPI(in checklists.Inspection, entry int64) apiInspection {
	return apiInspection{ID: in.ID, List: in.List, Version: in.Version, Title: in.Title, Signer: in.Signer, Began: in.Began, At: in.At, Late: in.Late, Entry: entry,
		Answers: each(in.Answers, answerForAPI)}
}

func listInspections(c *call) (items[apiInspection], error) {
	page := items[apiInspection]{Items: []apiInspection{}}
	limit, err := c.limit()
	if err != nil {
		return page, err
	}
	before, err := c.wholeQuery("before", 0)
	if err != nil {
		return page, err
	}
	signed, entries, more, err := c.desk.InspectionPage(c.ctx(), checklists.ListID(c.Query("list")), before, limit)
	for i, in := range signed {
		page.Items = append(page.Items, inspectionForAPI(in, entries[i]))
	}
	if more {
		page.Next = strconv.FormatInt(entries[len(entries)-1], 10)
	}
	return page, err
}

func getInspection(c *call) (apiInspection, error) {
	id := checklists.InspectionID(c.Params("inspection"))
	in, entry, err := c.desk.Inspection(c.ctx(), id)
	if err != nil {
		return apiInspection{}, err
	}
	out := inspectionForAPI(in, entry)
	added, err := c.desk.Amendments(c.ctx(), id)
	out.Added = each(added, func(a checklists.Amendment) apiAmendment {
		return apiAmendment{a.Signer, a.At, each(a.Answers, answerForAPI)}
	})
	return out, err
}

type apiInspectionPost struct {
	signature
	List    checklists.ListID `json:"list"`
	Version int               `json:"version" says:"the one the answers were given to"`
	Answers []apiAnswerPost   `json:"answers"`
}

func signWhole(c *call, b apiInspectionPost) (apiDone, error) {
	answers, err := c.answers(b.Answers)
	if err != nil {
		return apiDone{}, err
	}
	return done(c.desk.InspectWhole(c.ctx(), c.submission(), b.List, b.Version, answers, c.person, c.now))
}

// answers are the answers that were sent; each photo has to be one kept here.
func (c *call) answers(sent []apiAnswerPost) ([]checklists.Answer, error) {
	answers := make([]checklists.Answer, 0, len(sent))
	var bad plain.Problems
	for _, a := range sent {
		bad.Add("", c.kept(string(a.Item)+".photo", a.Photo))
		answers = append(answers, checklists.Answer{Item: a.Item, Result: checklists.Result(a.Result), Number: a.Number, Text: a.Text, Note: a.Note, Photo: a.Photo, Person: a.Person,
			Severity: checklists.Severity(a.Severity), StopGap: a.StopGap, MendBy: a.MendBy.UTC(), Replaced: a.Replaced})
	}
	return answers, bad.Err()
}

type apiAmendmentPost struct {
	signature
	Answers []apiAnswerPost `json:"answers" says:"only to items answered with not-checked"`
}

func amendForAPI(c *call, b apiAmendmentPost) (apiDone, error) {
	if len(b.Answers) == 0 {
		return apiDone{}, wrongField("answers", "an answer to at least one item")
	}
	answers, err := c.answers(b.Answers)
	if err != nil {
		return apiDone{}, err
	}
	id := checklists.InspectionID(c.Params("inspection"))
	return done(id, c.desk.AmendInspection(c.ctx(), c.submission(), id, answers, c.person, c.now))
}

// kept asks that a photo is one kept at the mill; none is none.
func (c *call) kept(field, digest string) error {
	if digest == "" {
		return nil
	}
	if _, _, err := c.desk.PhotoSize(c.ctx(), digest); err != nil {
		return wrongField(field, "the digest of a photo kept here")
	}
	return nil
}

type apiPhoto struct {
	Digest string `json:"digest"`
}

// keepPhotoForAPI keeps a picture as a phone's is kept: made anew, so that place,
// time and device it carried are gone.
func keepPhotoForAPI(c *call) (any, error) {
	switch c.Get(fiber.HeaderContentType) {
	case "image/jpeg", "image/png":
	default:
		return nil, fail(fiber.StatusUnsupportedMediaType, "Send a photo", "The header Content-Type says image/jpeg or image/png.")
	}
	if err := c.keyed(); err != nil {
		return nil, err
	}
	sent := c.Body()
	if len(sent) > photoMost {
		return nil, tooLarge()
	}
	photo, problems, err := c.s.decode(c.ctx(), "photo", func() ([]byte, error) { return sent, nil })
	if err != nil || len(problems) > 0 {
		if err == nil {
			err = problems.Err()
		}
		return nil, err
	}
	digest, err := c.desk.KeepPhoto(c.ctx(), photo, c.now)
	return apiPhoto{digest}, err
}
