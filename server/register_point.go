package server

import (
	"math"
	"strconv"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// tapWide is how wide the photo is shown where it is tapped, in CSS pixels: what
// the browser sends counts in these, and a narrow phone has room for them.
const tapWide = 288

type pointPage struct {
	*views.Frame
	Back       string
	At         string // address of this page
	Photo      *markedPhoto
	Wide, High int
	Fields     []views.Field
	Submission string
	Seen       string
}

func (s *Server) showPoint(v *visit) error {
	_, e, err := v.piece()
	if err != nil {
		return err
	}
	d, err := v.device(e)
	if err != nil {
		return err
	}
	left, top := percents(d.Point)
	return v.pointPage(e, d, left, top, store.NewID(), store.Mark(e), nil)
}

// percents is the point as one would type it, "" where nothing is marked.
func percents(at procedures.Point) (left, top string) {
	if (at == procedures.Point{}) {
		return "", ""
	}
	return percent(at.X), percent(at.Y)
}

func percent(share float64) string {
	return strconv.FormatFloat(math.Round(share*1000)/10, 'f', -1, 64)
}

func (v *visit) pointPage(e procedures.Equipment, d procedures.Device, left, top, submission, seen string, problems plain.Problems) error {
	if at, wrong := readPoint(v.typedIn, left, top); len(wrong) == 0 {
		d.Point = at
	}
	photo, err := v.marked(d)
	if err != nil {
		return err
	}
	if photo == nil {
		return store.ErrNotFound
	}
	back := machinePath(e.ID) + "/device/" + string(d.ID)
	page := pointPage{Frame: v.frame("%[1]s: where %[2]s is in the photo", e.Name, d.Label), Back: back, At: back + "/point", Photo: photo,
		Wide: tapWide, High: max(1, tapWide*photo.Height/max(1, photo.Width)), Submission: submission, Seen: seen}
	page.Problems = problems
	page.Fields = []views.Field{
		page.NumberField("left", page.T("From the left edge"), left).WithUnit(page.T("% of the width")),
		page.NumberField("top", page.T("From the upper edge"), top).WithUnit(page.T("% of the height"))}
	return v.show("device-point", page, problems)
}

// readPoint reads both percentages.
func readPoint(in measures, left, top string) (procedures.Point, plain.Problems) {
	var problems plain.Problems
	read := func(field, text string) float64 {
		before := len(problems)
		text = in.pointedUpTo(100, field, text, &problems)
		if len(problems) > before {
			return 0
		}
		share, err := checklists.ParseNumber(text)
		ok := err == nil && share >= 0 && share <= 100
		problems.Unless(ok, field, "a number from 0 to 100; tap the photo and it is filled in")
		if !ok {
			return 0
		}
		return share / 100
	}
	at := procedures.Point{X: read("left", left), Y: read("top", top)}
	return at, problems
}

// setPoint takes a tap on the photo, which shows the mark there and keeps
// nothing, or the signature under a mark.
func (s *Server) setPoint(v *visit) error {
	_, e, err := v.piece()
	if err != nil {
		return err
	}
	d, err := v.device(e)
	if err != nil {
		return err
	}
	if x, y := v.typed("tap.x"), v.typed("tap.y"); x != "" && y != "" {
		left, top := tapped(x, v.typed("wide")), tapped(y, v.typed("high"))
		return v.pointPage(e, d, left, top, store.NewID(), store.Mark(e), nil)
	}
	left, top := v.typed("left"), v.typed("top")
	at, problems := readPoint(v.typedIn, left, top)
	unsigned, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, unsigned...); len(problems) == 0 {
		d.Point = at
		err := v.desk.EditRegister(v.ctx(), v.submission(), v.since(), e.ID, v.person, v.now, func(p procedures.Plant) (procedures.Plant, error) { return p.KeepDevice(e.ID, d) })
		if err == nil {
			return v.moveOn(machinePath(e.ID), "equipment")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.again(problems, stands{mark: store.Mark(e), page: func() error { return s.showPoint(v) }},
		func() error {
			return v.pointPage(e, d, left, top, v.submission(), v.typed("seen"), named(problems, "point", "left"))
		})
}

// tapped is a tap as a percentage of the edge it was tapped along, kept within
// it; "" for what is no number.
func tapped(at, edge string) string {
	x, err := strconv.ParseFloat(at, 64)
	whole, wrong := strconv.ParseFloat(edge, 64)
	if err != nil || wrong != nil || !(whole > 0) || math.IsNaN(x) {
		return ""
	}
	return percent(min(1, max(0, x/whole)))
}
