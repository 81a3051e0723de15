package sheet

// Captioned is a picture with what stands under it.
type Captioned struct {
	Picture Picture
	Caption string
}

// Of pictures in a report.
const (
	pictureColumns = 3
	pictureMost    = 150.0 // high
)

// Pictures sets pictures in rows, each with its caption.
func (r *Report) Pictures(all []Captioned) {
	s := r.s
	wide := (s.right-s.left+gutter)/pictureColumns - gutter
	size := r.size * smallPrint
	for start := 0; start < len(all); start += pictureColumns {
		row := all[start:min(start+pictureColumns, len(all))]
		under := 0
		for i := range row {
			under = max(under, len(s.lines("", size, []string{r.shown(row[i].Caption)}, wide)))
		}
		high := pictureMost + 3 + float64(under)*size*leading
		r.room(high)
		if r.asking {
			s.y += high + 6
			continue
		}
		for i := range row {
			x := s.left + float64(i)*(wide+gutter)
			s.picture(&row[i].Picture, x, s.y, wide, pictureMost)
			y := s.y + pictureMost + 3
			s.set("", size, x, &y, wide, r.shown(row[i].Caption))
		}
		s.y += high + 6
	}
}

// Beside sets a code of that side, in points, at the right, and what set sets at
// the left of it, on one page.
func (r *Report) Beside(code Code, side float64, set func()) {
	s := r.s
	r.Together(func() {
		r.room(side)
		top, page, right := s.y, r.page, s.right
		if !r.asking {
			s.code(code, side)
		}
		s.right = right - side - 6
		set()
		if s.right = right; page == r.page {
			s.y = max(s.y, top+side)
		}
	})
}
