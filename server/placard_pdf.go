package server

import (
	"bytes"
	"errors"
	"image/jpeg"
	"strconv"

	"github.com/gofiber/fiber/v2"
	"github.com/kovidgoyal/imaging"
	"rsc.io/qr"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
	"stillsaw/views/sheet"
)

// Photos on the sheet: the longer edge in pixels, and the JPEG quality.
const (
	printedEdge   = 480
	printedDetail = 78
)

func (s *Server) placardFile(v *visit) error {
	c, err := v.placard()
	if err != nil {
		return err
	}
	page, err := v.placardSheet(c)
	if err != nil {
		return err
	}
	return v.sendSheet(page, "placard-"+c.ID+".pdf")
}

// paper is what the mill prints on.
func paper(units checklists.Units) sheet.Paper {
	if inches(units) {
		return sheet.Letter
	}
	return sheet.A4
}

func (v *visit) sendSheet(page *sheet.Sheet, name string) error {
	var out bytes.Buffer
	if err := page.Write(&out); err != nil {
		return err
	}
	v.Set(fiber.HeaderContentType, "application/pdf")
	v.Set(fiber.HeaderContentDisposition, `inline; filename="`+name+`"`)
	v.Set(fiber.HeaderCacheControl, "private, no-cache")
	return v.Send(out.Bytes())
}

// placardSheet sets the placard on one page.
func (v *visit) placardSheet(c *placard) (*sheet.Sheet, error) {
	code, err := qr.Encode(c.Address, qr.Q)
	if err != nil {
		return nil, err
	}
	s := sheet.New(paper(v.mill.Units), sheet.About{Title: c.Say(c.Title), Mill: v.mill.Name, Lang: c.Lang(), Made: c.At,
		Foot: []string{c.Signed() + " " + c.T("Take the old placard down."), c.T("Done by (name, date, times): ______________________________")}})
	s.Beside(sheet.Code{Size: code.Size, Black: code.Black}, 74, func() {
		cautions := c.Cautions()
		for i, caution := range cautions {
			if i == 0 {
				s.Hazard(sheet.Warning, c.T("WARNING"), c.Say(caution))
				continue
			}
			s.List([]string{c.Say(caution)})
		}
		s.Strong(c.WithoutNetwork())
		s.Text(c.Address)
	})
	s.Space(2)
	items := []sheet.Item{{Text: c.T("Energies")}}
	for _, energy := range c.Energies() {
		items = append(items, sheet.Item{Lead: "•", Text: energy})
	}
	items = append(items, sheet.Item{Text: c.T("Isolators")})
	for _, point := range c.Points {
		item := sheet.Item{Lead: "(" + strconv.Itoa(point.Device.Number) + ")", Text: point.Device.Label, After: c.T("no lock, hang a tag")}
		if point.Device.Place != "" {
			item.Text = c.T("%[1]s, %[2]s", point.Device.Label, point.Device.Place)
		}
		if point.Lockable {
			item.After = c.T("Lock no. ________")
		}
		if item.Picture, err = v.printed(point.Device); err != nil {
			return nil, err
		}
		items = append(items, item)
	}
	for _, stage := range c.Stages {
		items = append(items, sheet.Item{Text: c.T("%[1]s, %[2]s", stage.Words, stage.Clause)})
		if len(stage.Steps) == 0 {
			items = append(items, sheet.Item{Lead: "•", Text: c.T("Only now may a hand go in. Whoever reaches in has their own lock on.")},
				sheet.Item{Lead: "•", Text: c.Say(c.Card.HandOver)})
		}
		for _, step := range stage.Steps {
			text := step.Text
			if step.Point > 0 {
				text += " (" + strconv.Itoa(step.Point) + ")"
			}
			item := sheet.Item{Lead: strconv.Itoa(step.Number), Text: text}
			if !step.Asks.Empty() {
				item.After = c.Say(step.Asks)
			}
			items = append(items, item)
		}
	}
	s.Flow(items)
	return s, nil
}

// printed is the photo of a device's place, small, with its point ringed; nil
// where there is none.
func (v *visit) printed(d procedures.Device) (*sheet.Picture, error) {
	if d.Photo == "" {
		return nil, nil
	}
	photo, err := v.desk.Photo(v.ctx(), d.Photo)
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	picture, err := imaging.Decode(bytes.NewReader(photo.Bytes))
	if err != nil {
		return nil, err
	}
	var small bytes.Buffer
	if err := jpeg.Encode(&small, imaging.Fit(picture, printedEdge, printedEdge, imaging.Box), &jpeg.Options{Quality: printedDetail}); err != nil {
		return nil, err
	}
	return &sheet.Picture{JPEG: small.Bytes(), Marked: d.Point != procedures.Point{}, X: d.Point.X, Y: d.Point.Y}, nil
}
