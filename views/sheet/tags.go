package sheet

// Tag is a card to cut out and hang up.
type Tag struct {
	Signal Signal
	Word   string // of the signal
	Legend string // in large letters
	Number string // in a ring beside it, "" for none
	Text   string
	Lines  []string // as for a name, one under the other
	Small  string   // at the foot
}

// Tags sets cards to cut out, six to a page, on as many pages as they want.
func Tags(paper Paper, about About, tags []Tag) *Sheet {
	const across, down = 3, 2
	s := New(paper, about)
	top, bottom := s.y, s.bottom
	wide, high := (s.right-s.left)/across, (bottom-top)/down
	for i := range tags {
		place := i % (across * down)
		if place == 0 && i > 0 {
			s.page(about)
		}
		s.tag(&tags[i], s.left+wide*float64(place%across), top+high*float64(place/across), wide, high)
	}
	return s
}

func (s *Sheet) tag(t *Tag, x, y, wide, high float64) {
	const (
		inset = 9.0
		hole  = 7.0
		panel = 30.0
	)
	s.pdf.SetLineWidth(0.5)
	s.pdf.SetDashPattern([]float64{4, 3}, 0)
	s.pdf.Rect(x, y, wide, high, "D")
	s.pdf.SetDashPattern(nil, 0)
	s.pdf.Circle(x+wide/2, y+inset+hole, hole, "D")
	left, inner, at := x+inset, wide-2*inset, y+2*inset+2*hole

	red, green, blue, dark := t.Signal.colours()
	s.pdf.SetFillColor(red, green, blue)
	s.pdf.Rect(left, at, inner, panel, "F")
	ink := 255
	if dark {
		ink = 0
	}
	s.pdf.SetTextColor(ink, ink, ink)
	size := s.fits("B", t.Word, inner-2*inset, 20)
	s.text("B", size, left+(inner-s.width(t.Word))/2, at+(panel-size)/2, t.Word)
	s.pdf.SetTextColor(0, 0, 0)
	at += panel + inset

	broad := inner
	if t.Number != "" {
		const ring = 15.0
		broad -= 2*ring + 6
		s.pdf.SetLineWidth(1.5)
		s.pdf.Circle(left+inner-ring, at+ring, ring, "D")
		size := s.fits("B", t.Number, 1.4*ring, 18)
		s.text("B", size, left+inner-ring-s.width(t.Number)/2, at+ring-size*0.52, t.Number)
	}
	for _, line := range s.lines("B", 17, []string{t.Legend}, broad) {
		s.text("B", 17, left, at, line)
		at += 17 * leading
	}
	at = max(at, y+2*inset+2*hole+panel+inset+36)

	// The rest in the largest letters with which it fits, the lines of it apart
	// enough to write on by hand.
	foot := y + high - inset
	for size := 10.0; ; size -= 0.25 {
		small := min(size, 7.5)
		ends := at + float64(len(s.lines("", size, []string{t.Text}, inner)))*size*leading
		for _, line := range t.Lines {
			ends += size*0.9 + float64(len(s.lines("", size, []string{line}, inner)))*size*leading
		}
		ends += size + float64(len(s.lines("", small, []string{t.Small}, inner)))*small*leading
		if ends > foot && size > 5 {
			continue
		}
		s.full = s.full || ends > foot
		s.set("", size, left, &at, inner, t.Text)
		for _, line := range t.Lines {
			at += size * 0.9
			s.set("", size, left, &at, inner, line)
		}
		at = foot - float64(len(s.lines("", small, []string{t.Small}, inner)))*small*leading
		s.set("", small, left, &at, inner, t.Small)
		return
	}
}

// set sets a paragraph at y and moves y on.
func (s *Sheet) set(style string, size, x float64, y *float64, wide float64, text string) {
	for _, line := range s.lines(style, size, []string{text}, wide) {
		s.text(style, size, x, *y, line)
		*y += size * leading
	}
}

// fits is the size of letters, at most largest, at which text is no wider.
func (s *Sheet) fits(style, text string, wide, largest float64) float64 {
	size := largest
	for s.pdf.SetFont("Helvetica", style, size); s.width(text) > wide && size > 5; size -= 0.5 {
		s.pdf.SetFont("Helvetica", style, size-0.5)
	}
	return size
}
