package sheet

// Item is one entry of a flow. With a Lead before it, as a number, its text is
// set in from that; one with neither lead nor picture is a heading.
type Item struct {
	Lead    string
	Text    string
	After   string // set apart under the text
	Picture *Picture
}

func (i *Item) heading() bool { return i.Lead == "" && i.Picture == nil }

// Of a flow that must fit what is free of the sheet.
const (
	flowLargest  = 10.0
	flowSmallest = 4.6
	flowStep     = 0.1
	gutter       = 12.0 // between two columns
	tight        = 1.12 // a line over its letters
	pictureHigh  = 7.0  // a picture over the letters beside it
)

// flow is a way to set items: in that many columns, with letters of that size.
type flow struct {
	columns int
	size    float64
}

// Flow sets items one after the other in up to three columns, in the largest
// letters with which all of them fit what is free. Where even small ones don't,
// the sheet is too full and [Sheet.Write] says so.
func (s *Sheet) Flow(items []Item) { s.pour(items, flowLargest) }

// wallLargest is of a sheet that is read off a wall.
const wallLargest = 22.0

// Large is [Sheet.Flow] in letters to be read from a few steps away, as far as
// there is room for such.
func (s *Sheet) Large(items []Item) { s.pour(items, wallLargest) }

// Big sets one line in the largest letters with which it fits, such as a number
// to call.
func (s *Sheet) Big(text string) {
	const largest = 26
	s.put("B", s.fits("B", text, s.right-s.left, largest), text)
}

func (s *Sheet) pour(items []Item, largest float64) {
	best := flow{}
	for columns := 1; columns <= 3; columns++ {
		for size := largest; size > max(best.size, flowSmallest-flowStep/2); size -= flowStep {
			if f := (flow{columns, size}); s.run(items, f, false) {
				best = f
				break
			}
		}
	}
	if best.columns == 0 {
		s.full = true
		return
	}
	s.run(items, best, true)
	s.y = s.bottom
}

// run goes through the items and tells whether they fit; it sets them if asked.
func (s *Sheet) run(items []Item, f flow, set bool) bool {
	wide := (s.right-s.left+gutter)/float64(f.columns) - gutter
	lead := 0.0
	s.pdf.SetFont("Helvetica", "B", f.size)
	for i := range items {
		lead = max(lead, s.width(items[i].Lead))
	}
	if lead > 0 {
		lead += f.size * 0.4
	}
	column, y := 0, s.y
	for i := range items {
		high := s.item(&items[i], f.size, 0, 0, wide, lead, false)
		need := high
		if items[i].heading() && i+1 < len(items) { // it doesn't stand alone at a foot
			need += s.item(&items[i+1], f.size, 0, 0, wide, lead, false)
		}
		if y+need > s.bottom && y > s.y {
			column, y = column+1, s.y
		}
		if column >= f.columns || y+high > s.bottom {
			return false
		}
		if set {
			s.item(&items[i], f.size, s.left+float64(column)*(wide+gutter), y, wide, lead, true)
		}
		y += high
	}
	return true
}

// item measures one item, and sets it at x, y if asked.
func (s *Sheet) item(i *Item, size, x, y, wide, lead float64, set bool) float64 {
	top, step := y, size*tight
	text := func(style string, at, width float64, said string) {
		for _, line := range s.lines(style, size, []string{said}, width) {
			if set {
				s.text(style, size, at, y, line)
			}
			y += step
		}
	}
	if i.heading() {
		y += size * 0.35
		text("B", x, wide, i.Text)
		return y - top
	}
	if set && i.Lead != "" {
		s.text("B", size, x, y, i.Lead)
	}
	at, left := x+lead, wide-lead
	lowest := top
	if i.Picture != nil {
		const aspect = 4.0 / 3
		broad := min(pictureHigh*size*aspect, left*0.45)
		if set {
			broad = s.picture(i.Picture, at, y+1, broad, pictureHigh*size)
		}
		lowest = top + pictureHigh*size + 3
		at, left = at+broad+3, left-min(pictureHigh*size*aspect, left*0.45)-3
	}
	text("", at, left, i.Text)
	if i.After != "" {
		text("I", at, left, i.After)
	}
	return max(y, lowest) + size*0.15 - top
}
