package server

import (
	"math"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// track is what is known of the carriage a piece is set down on; the zero value
// is of a landing place that is no carriage.
type track struct {
	Carriage   bool
	Headblocks []float64
	Mark       float64
	ID         procedures.EquipmentID // "" when read back from the record
}

func trackOf(plant procedures.Plant, lands procedures.EquipmentID) track {
	e, _ := plant.Find(lands)
	if e.Kind != procedures.Carriage {
		return track{}
	}
	return track{Carriage: true, Headblocks: e.Headblocks, Mark: e.LandingMark, ID: e.ID}
}

// landingView is how the piece comes to lie on the carriage.
type landingView struct {
	Known    bool // where the headblocks are
	Enter    string
	HalfMark plain.Metres
	Balance  plain.Metres
	Bears    []bearing // the headblocks it lies on
	Overhang [2]plain.Metres
	Rests    bool
	Why      plain.Sentence // why it doesn't rest
	Drawing  landingDrawing
}

type bearing struct {
	Number int
	At     plain.Metres // from the zero mark
	Share  plain.Fraction
	Mass   plain.Kilograms
	Shared bool // the share is determinate
}

// landing fills in the landing on a carriage; elsewhere there is none.
func (a *liftAnswer) landing(j *judged) {
	if !j.Track.Carriage {
		return
	}
	view := &landingView{HalfMark: a.HalfMark, Balance: a.Balance}
	a.Landing = view
	if len(j.Track.Headblocks) == 0 {
		if a.Person.Supervises() && j.Track.ID != "" {
			view.Enter = machinePath(j.Track.ID) + "/edit"
		}
		return
	}
	lies, err := lift.Land(j.Lift.Piece, j.Track.Headblocks, j.Track.Mark)
	if err != nil {
		return // the findings say what is wrong with the piece
	}
	view.Known, view.Balance, view.Overhang, view.Rests, view.Why = true, lies.Balance, lies.Overhang, lies.Rests, lies.Said
	on := map[int]bool{}
	for i, block := range lies.Bears {
		on[block] = true
		b := bearing{Number: block + 1, At: plain.Metres(j.Track.Headblocks[block])}
		if len(lies.Share) == len(lies.Bears) {
			b.Share, b.Shared = plain.Fraction(lies.Share[i]), true
			b.Mass = plain.Kilograms(lies.Share[i]) * j.Verdict.Weight.Upper
		}
		view.Bears = append(view.Bears, b)
	}
	view.Drawing = drawLanding(a.Frame, &j.Lift.Piece, &j.Track, float64(lies.Balance), on)
}

// landingDrawing is the piece on the headblocks, seen from the side to scale,
// small end toward the zero mark of the track.
type landingDrawing struct {
	W, H    px
	Alt     string
	Piece   string
	Half    stroke
	Balance spot
	Track   stroke
	Mark    spot // the carriage's mark for the half length
	Blocks  []block
	Low     px // level of the numbers
}

type block struct {
	Middle, Left, Wide, Top, High px
	Number                        int
	Bears                         bool
}

const (
	landWide  = 316.0 // what of the view box the track and the piece share
	landThick = 90.0  // the thickest the piece is drawn
	blockHigh = 24.0
	blockWide = 0.1 // m, as a headblock's knee is drawn
)

func drawLanding(f *views.Frame, p *lift.Piece, t *track, balance float64, on map[int]bool) landingDrawing {
	small := t.Mark - p.Length/2
	left, right := small, small+p.Length
	for _, at := range t.Headblocks {
		left, right = math.Min(left, at-blockWide), math.Max(right, at+blockWide)
	}
	smallUp, smallDown, largeUp, largeDown, _ := outline(p)
	thick := math.Max(smallUp+smallDown, largeUp+largeDown)
	scale := math.Min(landWide/(right-left), landThick/thick)
	from := (drawnWide - (right-left)*scale) / 2
	x := func(m float64) px { return px(from + (m-left)*scale) }
	bed := px(28 + thick*scale) // what the piece lies on
	up := func(m float64) px { return bed - px(m*scale) }
	d := landingDrawing{W: drawnWide, H: bed + blockHigh + 46, Low: bed + blockHigh + 22,
		Track: stroke{x(left) - 8, bed + blockHigh, x(right) + 8, bed + blockHigh}, Mark: spot{x(t.Mark), bed + blockHigh}}
	for _, corner := range []spot{{x(small), bed}, {x(small), up(smallUp + smallDown)}, {x(small + p.Length), up(largeUp + largeDown)}, {x(small + p.Length), bed}} {
		d.Piece += corner.X.String() + "," + corner.Y.String() + " "
	}
	d.Half = stroke{x(t.Mark), up(thick) - 10, x(t.Mark), bed + blockHigh}
	d.Balance = spot{x(small + balance), up(thick / 2)}
	wide := px(math.Max(blockWide*scale, 6))
	for i, at := range t.Headblocks {
		d.Blocks = append(d.Blocks, block{Middle: x(at), Left: x(at) - wide/2, Wide: wide, Top: bed, High: blockHigh, Number: i + 1, Bears: on[i]})
	}
	d.Alt = f.T("The piece on the headblocks from the side, to scale, small end on the left.")
	return d
}

// lengthTyped is a length as a person would type it in the mill's unit.
func (r *reader) lengthTyped(m float64) string {
	return r.filled(m, r.lengthSize, lift.LongestMeant) + " " + r.length.String()
}
