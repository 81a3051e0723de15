package sheet

// Signal is the word of a hazard with its colour, after ANSI Z535: Danger white
// on red, Warning black on orange, Caution black on yellow, Notice white on blue.
type Signal uint8

// The signals.
const (
	Danger Signal = iota
	Warning
	Caution
	Notice
)

// colours are those of the panel; dark tells whether its word is black.
func (s Signal) colours() (red, green, blue int, dark bool) {
	switch s {
	case Warning:
		return 0xff, 0x82, 0x00, true
	case Caution:
		return 0xff, 0xd1, 0x00, true
	case Notice:
		return 0x00, 0x5e, 0xb8, false
	}
	return 0xc8, 0x10, 0x2e, false
}

// Of a hazard message: the panel of its word, the free space in it and under it.
const (
	hazardPanel = 66.0
	hazardInset = 4.0
	hazardUnder = 3.0
)

// Hazard sets a hazard message: the signal word in its colour, with the safety
// alert symbol unless it is a notice, and beside it the text.
func (s *Sheet) Hazard(signal Signal, word, text string) {
	const (
		panel = hazardPanel
		inset = hazardInset
	)
	red, green, blue, dark := signal.colours()
	lines := s.hazardLines(text)
	high := s.hazardHigh(text) - hazardUnder
	s.pdf.SetLineWidth(1)
	s.pdf.SetFillColor(red, green, blue)
	s.pdf.SetDrawColor(red, green, blue)
	s.pdf.Rect(s.left, s.y, panel, high, "F")
	s.pdf.Rect(s.left, s.y, s.right-s.left, high, "D")
	s.pdf.SetDrawColor(0, 0, 0)
	s.word(word, s.left+inset, s.y+high/2, panel-2*inset, dark, signal)
	for i, line := range lines {
		s.text("", body, s.left+panel+inset, s.y+inset+body*leading*float64(i), line)
	}
	s.y += high + hazardUnder
	s.full = s.full || s.y > s.bottom
}

func (s *Sheet) hazardLines(text string) []string {
	return s.lines("", body, []string{text}, s.right-s.left-hazardPanel-2*hazardInset)
}

// hazardHigh is how much of the sheet a hazard message with that text takes.
func (s *Sheet) hazardHigh(text string) float64 {
	return max(2, float64(len(s.hazardLines(text))))*body*leading + 2*hazardInset + hazardUnder
}

// word sets the signal word, as large as fits, and the symbol before it.
func (s *Sheet) word(word string, x, middle, width float64, dark bool, signal Signal) {
	ink := 255
	if dark {
		ink = 0
	}
	if signal != Notice {
		const side = 11.0
		s.pdf.SetFillColor(ink, ink, ink)
		s.pdf.MoveTo(x+side/2, middle-side/2)
		s.pdf.LineTo(x+side, middle+side/2)
		s.pdf.LineTo(x, middle+side/2)
		s.pdf.ClosePath()
		s.pdf.DrawPath("F")
		red, green, blue, _ := signal.colours()
		s.pdf.SetTextColor(red, green, blue)
		s.text("B", 8, x+side/2-1.3, middle-3.2, "!")
		x, width = x+side+2, width-side-2
	}
	size := 10.0
	for s.pdf.SetFont("Helvetica", "B", size); s.width(word) > width && size > 4; size -= 0.5 {
		s.pdf.SetFont("Helvetica", "B", size-0.5)
	}
	s.pdf.SetTextColor(ink, ink, ink)
	s.text("B", size, x, middle-size/2, word)
	s.pdf.SetTextColor(0, 0, 0)
}
