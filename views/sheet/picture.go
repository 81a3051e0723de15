package sheet

import (
	"bytes"
	"fmt"

	"codeberg.org/go-pdf/fpdf"
)

// Picture is a JPEG, with a place in it ringed where Marked. X and Y are shares
// of its width from the left and of its height from the top, 0 to 1.
type Picture struct {
	JPEG   []byte
	Marked bool
	X, Y   float64
}

// picture sets p with its upper left corner at x, y, within wide and high, and
// returns how wide it became.
func (s *Sheet) picture(p *Picture, x, y, wide, high float64) float64 {
	s.pictures++
	name := fmt.Sprintf("picture %d", s.pictures)
	options := fpdf.ImageOptions{ImageType: "JPG"}
	info := s.pdf.RegisterImageOptionsReader(name, options, bytes.NewReader(p.JPEG))
	if info == nil || s.pdf.Err() || info.Width() <= 0 || info.Height() <= 0 {
		return 0 // Write tells the error
	}
	scale := min(wide/info.Width(), high/info.Height())
	wide, high = info.Width()*scale, info.Height()*scale
	s.pdf.ImageOptions(name, x, y, wide, high, false, options, 0, "")
	if p.Marked {
		around := min(wide, high) / 7
		s.pdf.SetLineWidth(around / 2.2)
		s.pdf.SetDrawColor(255, 255, 255)
		s.pdf.Circle(x+p.X*wide, y+p.Y*high, around, "D")
		s.pdf.SetLineWidth(around / 4)
		s.pdf.SetDrawColor(0xc8, 0x10, 0x2e)
		s.pdf.Circle(x+p.X*wide, y+p.Y*high, around, "D")
		s.pdf.SetDrawColor(0, 0, 0)
	}
	return wide
}

// Code is a code of black and white squares, Size of them a side without the
// quiet margin around it.
type Code struct {
	Size  int
	Black func(x, y int) bool
}

// Beside sets a code of that side, in points, at the right, and what set sets
// at the left of it.
func (s *Sheet) Beside(code Code, side float64, set func()) {
	top, right := s.y, s.right
	s.code(code, side)
	s.right = right - side - 4
	set()
	s.right, s.y = right, max(s.y, top+side)
	s.full = s.full || s.y > s.bottom
}

// code sets a code in the upper right corner of what is free.
func (s *Sheet) code(code Code, side float64) {
	const quiet = 4 // squares around it; ISO/IEC 18004, from memory
	top, right := s.y, s.right
	square := side / float64(code.Size+2*quiet)
	s.pdf.SetFillColor(0, 0, 0)
	for y := range code.Size {
		for x := 0; x < code.Size; x++ {
			run := 0
			for x+run < code.Size && code.Black(x+run, y) {
				run++
			}
			if run > 0 {
				s.pdf.Rect(right-side+square*float64(x+quiet), top+square*float64(y+quiet), square*float64(run), square, "F")
				x += run
			}
		}
	}
}
