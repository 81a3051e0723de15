package server

import (
	"errors"
	"io"

	"github.com/goccy/go-yaml"
	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// listSchema is where the form of a list's file is published; it stays.
const listSchema = "/lists/schema.json"

func (s *Server) showListSchema(v *visit) error {
	v.Set(fiber.HeaderContentType, "application/schema+json")
	return v.Send(checklists.FileSchema())
}

// exportList sends a list as a file: the version in force, the version or the
// draft the address names.
func (s *Server) exportList(v *visit) error {
	id := v.Params("id")
	var l checklists.List
	switch word := v.Query("version"); {
	case word == draftWord:
		d, err := v.listToEdit(id)
		if err != nil {
			return err
		}
		l = d.list
	case word != "":
		if whole(word) < 1 {
			return store.ErrNotFound
		}
		var err error
		if l, err = v.desk.List(v.ctx(), checklists.ListID(id), whole(word)); err != nil {
			return err
		}
	default:
		inForce, err := v.desk.ListInForce(v.ctx(), checklists.ListID(id), v.now)
		if errors.Is(err, store.ErrNotFound) {
			var d listDraft
			d, err = v.listToEdit(id)
			l = d.list
		} else if err == nil {
			l, err = listIn(inForce.Doc)
		}
		if err != nil {
			return err
		}
	}
	file, err := l.Export()
	if err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		d, err := v.listToEdit(id)
		if err != nil {
			return err
		}
		return v.listEditPage(d, "", problems)
	}
	name, kind := id+".yaml", "application/yaml; charset=utf-8"
	if v.Query("format") == "json" {
		if file, err = yaml.YAMLToJSON(file); err != nil {
			return err
		}
		name, kind = id+".json", fiber.MIMEApplicationJSONCharsetUTF8
	}
	v.Attachment(name)
	v.Set(fiber.HeaderContentType, kind)
	return v.Send(file)
}

// importPage takes a list's file, and gives it back to be mended where it can't
// be read.
type importPage struct {
	*views.Frame
	Text  string
	Wrong []checklists.FileProblem
	Field views.Field
}

func (s *Server) showImport(v *visit) error { return v.importPage("", nil) }

func (v *visit) importPage(text string, wrong checklists.FileProblems) error {
	page := importPage{Frame: v.frame("Bring in a list from a file"), Text: text, Wrong: wrong}
	var problems plain.Problems
	if len(wrong) > 0 {
		page.Title = plain.Say("The file can't be taken as it is: %d things to put right", len(wrong))
		problems = wrong.Problems()
		page.Problems = problems
	}
	page.Field = page.AreaField("text", page.T("The list as text"), text)
	return v.show("list-import", page, problems)
}

// importList takes a file, or the text of one, as the draft of the list it
// names. A draft that stands there already is not overwritten.
func (s *Server) importList(v *visit) error {
	text, err := v.uploaded("file")
	if err != nil {
		return err
	}
	if text == "" {
		text = lines(v.FormValue("text"))
	}
	l, err := checklists.Import([]byte(text))
	var wrong checklists.FileProblems
	if errors.As(err, &wrong) {
		return v.importPage(text, wrong)
	}
	if err != nil {
		return err
	}
	l = l.AsDraft()
	now, err := v.listToEdit(string(l.ID))
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	if now.revision > 0 && len(checklists.Compare(now.list, l)) == 0 {
		return v.moveOn("/lists/"+string(l.ID)+"/edit", "imported-same")
	}
	if now.revision > 0 { // both are shown, against the newest version or, where there is none, the draft
		base := listDraft{list: now.list, revision: now.revision, over: now.over}
		if now.over > 0 {
			if base.list, err = v.desk.List(v.ctx(), l.ID, now.over); err != nil {
				return err
			}
		}
		return v.fileOverDraft(base, l)
	}
	if err := v.keepList(now, l); err != nil {
		problems, other := problemsOf(err)
		if other != nil {
			return other
		}
		return v.importPage(text, checklists.FileProblems{{Line: 1, Field: "file", Want: problems[0].Want}})
	}
	return v.moveOn("/lists/"+string(l.ID)+"/edit", "imported")
}

// plainID tells whether an id can stand in an address.
func plainID(id string) bool { return checklists.ListID(id).Usable() }

// uploaded is the text of a file sent in field, "" for none.
func (v *visit) uploaded(field string) (string, error) {
	form, err := v.MultipartForm()
	if err != nil || len(form.File[field]) == 0 {
		return "", nil // sent without a file
	}
	file, err := form.File[field][0].Open()
	if err != nil {
		return "", err
	}
	const most = 4 << 20 // more than any list's file; what is longer is refused by its form
	text, err := io.ReadAll(io.LimitReader(file, most))
	return string(text), errors.Join(err, file.Close())
}
