package sheet

import "math"

// Table is a table with a name at the head of each row. Cells stand in columns
// of one width, at the right of it.
type Table struct {
	Corner string
	Heads  []string
	Lead   []Row // stand under the heads, again in each block
	Rows   []Row
}

// Row is a line of a table. Cells missing at its end are left empty.
type Row struct {
	Name  string
	Cells []string
}

// Of a table that must fill what is free of the sheet.
const (
	largest  = 10.0 // size of its letters
	smallest = 4.5
	between  = 14.0 // two blocks
	air      = 1.2  // row over letters
	gap      = 3.0  // left of a cell
	under    = 1.5  // a rule and what stands over it
)

// block is one way to set a table: in so many blocks side by side, at that size.
type block struct {
	n          int
	size       float64
	high       float64 // of a row
	name, cell float64 // widths
}

// Fill sets the table in what is free, in one, two or three blocks side by side,
// whichever has the larger letters. Where even that is too small to read, the
// sheet is too full and [Sheet.Write] says so.
func (s *Sheet) Fill(t Table) {
	best := block{}
	for n := 1; n <= 3; n++ {
		if b := s.fit(&t, n); b.size > best.size+0.2 {
			best = b
		}
	}
	if best.size < smallest {
		s.full = true
		return
	}
	top, each := s.y, rowsOf(len(t.Rows), best.n)
	wide := (s.right-s.left+between)/float64(best.n) - between
	for i := 0; i*each < len(t.Rows) || i == 0; i++ {
		rows := t.Rows[min(i*each, len(t.Rows)):min((i+1)*each, len(t.Rows))]
		s.block(&t, rows, best, s.left+float64(i)*(wide+between), top)
	}
	s.y = top + best.high*float64(each+1+len(t.Lead)) + 2*under
}

func rowsOf(rows, blocks int) int { return max(1, (rows+blocks-1)/blocks) }

// fit is how large the table can be in n blocks.
func (s *Sheet) fit(t *Table, n int) block {
	lines := float64(rowsOf(len(t.Rows), n) + 1 + len(t.Lead))
	wide := (s.right-s.left+between)/float64(n) - between
	size := math.Min(largest, (s.bottom-s.y-2*under-2)/lines/air)
	// At ten points, what name and cells want; letters scale with it.
	name, cell := s.widths(t)
	if want := (name + (cell)*float64(len(t.Heads))) / 10; want > 0 {
		size = math.Min(size, (wide-gap*float64(len(t.Heads)))/want)
	}
	b := block{n: n, size: size, high: math.Min(size*1.45, (s.bottom-s.y-2*under-2)/lines), name: name * size / 10}
	b.cell = cell*size/10 + gap
	// What is left over goes to the columns, up to what is pleasant to read.
	if free := wide - b.name - b.cell*float64(len(t.Heads)); free > 0 && len(t.Heads) > 0 {
		b.cell += math.Min(free/float64(len(t.Heads)), size*1.2)
	}
	return b
}

// widths are those of the widest name and the widest cell, at ten points.
func (s *Sheet) widths(t *Table) (name, cell float64) {
	name = s.widest("B", t.Corner)
	for _, rows := range [][]Row{t.Lead, t.Rows} {
		for _, r := range rows {
			name = math.Max(name, s.widest("", r.Name))
			cell = math.Max(cell, s.widest("", r.Cells...))
		}
	}
	for _, r := range t.Lead {
		name = math.Max(name, s.widest("B", r.Name))
	}
	return name, math.Max(cell, s.widest("B", t.Heads...))
}

func (s *Sheet) widest(style string, texts ...string) (most float64) {
	s.pdf.SetFont("Helvetica", style, 10)
	for _, text := range texts {
		most = math.Max(most, s.width(text))
	}
	return most
}

func (s *Sheet) block(t *Table, rows []Row, b block, x, y float64) {
	wide := b.name + b.cell*float64(len(t.Heads))
	s.row(b, "B", Row{t.Corner, t.Heads}, x, y)
	y += b.high + under
	s.pdf.SetLineWidth(0.6)
	s.pdf.Line(x, y-under/2, x+wide, y-under/2)
	for _, r := range t.Lead {
		s.row(b, "B", r, x, y)
		y += b.high
	}
	if len(t.Lead) > 0 {
		y += under
		s.pdf.Line(x, y-under/2, x+wide, y-under/2)
	}
	for i, r := range rows {
		if i%2 == 1 {
			s.pdf.SetFillColor(0xe9, 0xe9, 0xe4)
			s.pdf.Rect(x-1, y, wide+2, b.high, "F")
		}
		s.row(b, "", r, x, y)
		y += b.high
	}
}

func (s *Sheet) row(b block, style string, r Row, x, y float64) {
	s.pdf.SetFont("Helvetica", style, b.size)
	name := shortened(r.Name, b.name+gap/2, s.width)
	drop := (b.high - b.size) / 2
	s.text(style, b.size, x, y+drop, name)
	for i, cell := range r.Cells {
		s.text(style, b.size, x+b.name+b.cell*float64(i+1)-s.width(cell), y+drop, cell)
	}
}
