package sheet

import (
	"io"
	"strings"
)

// Running is what stands around every page of a [Report].
type Running struct {
	About
	// Head stands at the top of each page, beside the number of the page.
	Head string
	// Page says which page of how many one is; of is to stand in it as it is.
	Page func(n int, of string) string
	// Shown, where it is there, is asked for what is set in place of each text but
	// an exact one: something may have to be kept back.
	Shown func(text string) string
}

// Report is a document of as many pages as it wants, read and not hung up: what
// does not fit goes on to the next page. Make it with [NewReport].
type Report struct {
	s       *Sheet
	running Running
	page    int
	size    float64 // of its letters
	top     float64 // where a page's own content begins
	asking  bool    // nothing is set, only measured
	broken  bool    // while measuring: it wants another page
}

// Sizes of a report's letters, and how far they may shrink.
const (
	reportSize  = 8.8
	closest     = 6.6 // smallest to have something on one page
	sizeStep    = 0.2
	smallPrint  = 0.82 // of the size
	headingOver = 1.18
	titleSize   = 15.0
)

// pageTotal stands for the number of pages until that is known. No text of
// anybody's can hold it: control characters are left out of what is written.
const pageTotal = "\x02n\x02"

// NewReport begins a report; nothing is on its first page yet.
func NewReport(paper Paper, running Running) *Report {
	s := begun(paper, running.About)
	s.pdf.AliasNbPages(pageTotal)
	r := &Report{s: s, running: running, size: reportSize}
	r.next()
	return r
}

// next begins the next page, with what runs over all of them.
func (r *Report) next() {
	if r.asking {
		r.broken = true
		r.s.y = r.top
		return
	}
	r.page++
	s := r.s
	s.blank()
	s.foot(r.running.About)
	s.text("", footSize, s.left, s.y, shortened(capital(r.running.Head), s.right-s.left-90, s.width))
	before, after, _ := strings.Cut(r.running.Page(r.page, pageTotal), pageTotal)
	s.pdf.SetFont("Helvetica", "", footSize)
	wide := s.width(before + "000" + after)
	s.text("", footSize, s.right-wide, s.y, before)
	at := s.right - wide + s.width(before)
	s.pdf.Text(at, s.y+footSize*0.93, pageTotal)
	if after != "" {
		s.text("", footSize, at+s.width("000"), s.y, after)
	}
	s.y += footSize * leading
	s.pdf.SetLineWidth(0.5)
	s.pdf.Line(s.left, s.y+1, s.right, s.y+1)
	s.y += 7
	r.top = s.y
}

// room goes on to the next page unless so much is free on this one.
func (r *Report) room(high float64) {
	if r.s.y+high > r.s.bottom && r.s.y > r.top {
		r.next()
	}
}

// Fresh goes on to a page on which nothing stands.
func (r *Report) Fresh() {
	if r.s.y > r.top {
		r.next()
	}
}

// OnePage sets what set sets in letters small enough for what is free of the
// page, as far as they can be read; else it goes on over several pages.
func (r *Report) OnePage(set func()) {
	if r.fits(reportSize, set) || !r.fits(closest, set) {
		r.size = reportSize
		set()
		return
	}
	size := reportSize - sizeStep
	for size > closest && !r.fits(size, set) {
		size -= sizeStep
	}
	r.size = max(size, closest)
	set()
	r.size = reportSize
}

// fits tells whether what set sets in letters of that size goes on the page.
func (r *Report) fits(size float64, set func()) bool {
	y := r.s.y
	r.size, r.asking, r.broken = size, true, false
	set()
	r.asking, r.s.y = false, y
	return !r.broken
}

// Together keeps what set sets on one page, if one page can hold it.
func (r *Report) Together(set func()) {
	if r.asking {
		set()
		return
	}
	if !r.fits(r.size, set) {
		r.Fresh()
	}
	set()
}

// Title sets a line that says the answer of what follows.
func (r *Report) Title(text string) {
	r.room(titleSize * 3)
	r.paragraph("B", titleSize*r.size/reportSize, r.s.left, r.s.right, capital(text))
	r.Space(3)
}

// Heading sets the name of what follows, not alone at the foot of a page.
func (r *Report) Heading(text string) {
	size := r.size * headingOver
	r.Space(size * 0.5)
	r.room(size*leading + 2.5*r.size*leading)
	r.paragraph("B", size, r.s.left, r.s.right, capital(text))
}

// Space leaves some points free, none at the head of a page.
func (r *Report) Space(points float64) {
	if r.s.y > r.top {
		r.s.y += points
	}
}

// Text sets a paragraph.
func (r *Report) Text(text string) { r.paragraph("", r.size, r.s.left, r.s.right, text) }

// Strong sets a paragraph in bold.
func (r *Report) Strong(text string) { r.paragraph("B", r.size, r.s.left, r.s.right, text) }

// Small sets a paragraph in small print.
func (r *Report) Small(text string) {
	r.paragraph("", r.size*smallPrint, r.s.left, r.s.right, text)
}

// Exact sets lines letter by letter, such as a checkpoint, in small print. One
// too wide is broken where it must be.
func (r *Report) Exact(text string) {
	size := r.size * smallPrint
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n")
		r.s.pdf.SetFont("Courier", "", size)
		for {
			head, rest := line, ""
			if r.s.width(line) > r.s.right-r.s.left {
				head, rest = headOf(line, r.s.right-r.s.left, r.s.width)
			}
			r.room(size * leading)
			if !r.asking {
				r.s.pdf.SetFont("Courier", "", size)
				r.s.pdf.Text(r.s.left, r.s.y+size*0.93, encoded(head))
			}
			r.s.y += size * leading
			if line = rest; line == "" {
				break
			}
		}
	}
}

// List sets each text as a line of a list.
func (r *Report) List(texts []string) {
	for _, text := range texts {
		r.room(r.size * leading)
		r.one("", r.size, r.s.left, "•")
		r.paragraph("", r.size, r.s.left+8, r.s.right, text)
	}
}

// Facts sets names with their values, one under the other.
func (r *Report) Facts(facts [][2]string) {
	wide := 0.0
	r.s.pdf.SetFont("Helvetica", "", r.size)
	for _, one := range facts {
		wide = max(wide, r.s.width(one[0]))
	}
	wide = min(wide, (r.s.right-r.s.left)*0.35) + 10
	for _, one := range facts {
		r.columns([]column{{r.s.left, r.s.left + wide - 6, []styled{{"", one[0]}}}, {r.s.left + wide, r.s.right, []styled{{"B", one[1]}}}})
	}
}

// Line is one line of a [Report.Table]: when, what, and who. More is set under
// What, each a paragraph of its own. Bad lines are set in bold.
type Line struct {
	When, What, Who string
	More            []string
	Bad             bool
}

// Table sets lines of what happened, one after the other, the whole of a line
// on one page where it fits.
func (r *Report) Table(lines []Line) {
	s := r.s
	when := 0.0
	s.pdf.SetFont("Helvetica", "", r.size)
	for i := range lines {
		when = max(when, s.width(lines[i].When))
	}
	if when > 0 {
		when = min(when, 150*r.size/reportSize) + 8
	}
	who := (s.right - s.left) * 0.22
	for i := range lines {
		line := &lines[i]
		style := ""
		if line.Bad {
			style = "B"
		}
		right := s.right - who - 8
		if line.Who == "" {
			right = s.right
		}
		what := column{left: s.left + when, right: right, texts: []styled{{style, line.What}}}
		for _, more := range line.More {
			what.texts = append(what.texts, styled{"", more})
		}
		columns := []column{{left: s.left, right: s.left + when, texts: []styled{{"", line.When}}}, what,
			{left: s.right - who, right: s.right, texts: []styled{{"", line.Who}}}}
		r.columns(columns)
		s.y += r.size * 0.16
	}
}

type styled struct{ style, text string }

// column is texts set under each other between two edges.
type column struct {
	left, right float64
	texts       []styled
}

// lines breaks the texts of a column to its width.
func (c column) lines(r *Report) (lines []styled) {
	for _, one := range c.texts {
		for _, line := range r.s.lines(one.style, r.size, strings.Split(r.shown(one.text), "\n"), c.right-c.left) {
			lines = append(lines, styled{one.style, line})
		}
	}
	return lines
}

// columns sets texts beside each other, line by line: on one page where they
// fit, else over pages.
func (r *Report) columns(columns []column) {
	each := make([][]styled, len(columns))
	most := 0
	for i, c := range columns {
		each[i] = c.lines(r)
		most = max(most, len(each[i]))
	}
	if high := float64(most) * r.size * leading; high < r.s.bottom-r.top {
		r.room(high)
	}
	for n := range most {
		r.room(r.size * leading)
		for i, lines := range each {
			if n < len(lines) {
				r.one(lines[n].style, r.size, columns[i].left, lines[n].text)
			}
		}
		r.s.y += r.size * leading
	}
}

// one sets one line at the present height.
func (r *Report) one(style string, size, x float64, line string) {
	if !r.asking {
		r.s.text(style, size, x, r.s.y, line)
	}
}

func (r *Report) paragraph(style string, size, left, right float64, text string) {
	for _, line := range r.s.lines(style, size, strings.Split(r.shown(text), "\n"), right-left) {
		r.room(size * leading)
		r.one(style, size, left, line)
		r.s.y += size * leading
	}
}

// shown is text, or what is set in its place.
func (r *Report) shown(text string) string {
	if r.running.Shown == nil {
		return text
	}
	return r.running.Shown(text)
}

// Hazard sets a hazard message, as [Sheet.Hazard] does.
func (r *Report) Hazard(signal Signal, word, text string) {
	high := r.s.hazardHigh(text)
	r.room(high)
	if r.asking {
		r.s.y += high
		return
	}
	r.s.Hazard(signal, word, text)
}

// Write writes the file.
func (r *Report) Write(out io.Writer) error {
	r.s.full = false // what does not fit a page went on to the next
	return r.s.Write(out)
}
