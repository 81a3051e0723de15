// Package sheet sets a sheet of paper as a PDF: to hang up at a machine, to hand
// over, to cut up, or to keep on a phone. It knows nothing of what it prints; texts
// come in the reader's language. What the core fonts of PDF can't write is
// written with the letter it is made of, or as a question mark.
package sheet

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// Paper is the size of the sheet.
type Paper uint8

// The papers: 8½ by 11 in, and ISO 216 A4.
const (
	Letter Paper = iota
	A4
)

// About is what stands around the sheet and in the file's own description.
type About struct {
	Title string
	Mill  string
	Lang  string    // tag of the language, "en"
	Made  time.Time // also the date of the file
	// Foot stands at the bottom, a line each: what it is, of which version, when
	// it was made, until when it may be used.
	Foot []string
}

// All sizes are points, a 72nd of an inch.
const (
	margin   = 26.0
	body     = 8.5
	leading  = 1.22
	footSize = 7.5
)

// Sheet is a page being set from the top down. Make it with [New].
type Sheet struct {
	pdf         *fpdf.Fpdf
	left, right float64
	y, bottom   float64 // what is still free
	full        bool    // something did not fit
	pictures    int
}

// New begins a sheet, its title and foot already on it.
func New(paper Paper, about About) *Sheet {
	s := begun(paper, about)
	s.page(about)
	return s
}

// begun is a document without a page yet.
func begun(paper Paper, about About) *Sheet {
	size := "Letter"
	if paper == A4 {
		size = "A4"
	}
	pdf := fpdf.New("P", "pt", size, "")
	pdf.SetAutoPageBreak(false, margin)
	pdf.SetMargins(margin, margin, margin)
	pdf.SetCellMargin(0)
	pdf.SetTitle(about.Title, true)
	pdf.SetLang(about.Lang)
	pdf.SetCreator("Stillsaw", true)
	pdf.SetCreationDate(about.Made.UTC())
	pdf.SetModificationDate(about.Made.UTC())
	pdf.SetCatalogSort(true)
	return &Sheet{pdf: pdf}
}

// blank begins a page on which nothing stands yet.
func (s *Sheet) blank() {
	s.pdf.AddPage()
	wide, high := s.pdf.GetPageSize()
	s.left, s.right, s.y, s.bottom = margin, wide-margin, margin, high-margin
}

// page begins a page with title and foot.
func (s *Sheet) page(about About) {
	s.blank()
	s.foot(about)
	s.put("B", 15, about.Title)
	s.Space(2)
}

// foot sets the foot and takes its height off what is free.
func (s *Sheet) foot(about About) {
	lines := append([]string(nil), about.Foot...)
	if about.Mill != "" {
		lines = append([]string{about.Mill}, lines...)
	}
	all := s.lines("", footSize, lines, s.right-s.left)
	if len(all) == 0 {
		return
	}
	step := footSize * leading
	top := s.bottom - step*float64(len(all))
	s.pdf.SetLineWidth(0.5)
	s.pdf.Line(s.left, top-3, s.right, top-3)
	for i, line := range all {
		s.text("", footSize, s.left, top+step*float64(i), line)
	}
	s.bottom = top - 6
}

// Space leaves some points free.
func (s *Sheet) Space(points float64) { s.y += points }

// Text sets a paragraph.
func (s *Sheet) Text(text string) { s.put("", body, text) }

// Strong sets a paragraph in bold.
func (s *Sheet) Strong(text string) { s.put("B", body, text) }

// Facts sets names with their values in two columns, each over as many lines as
// it wants.
func (s *Sheet) Facts(facts [][2]string) {
	const apart = 14
	half, top := (len(facts)+1)/2, s.y
	left, right, lowest := s.left, s.right, s.y
	middle := (left + right) / 2
	for column, some := range [][][2]string{facts[:half], facts[half:]} {
		s.y = top
		if column == 0 {
			s.right = middle - apart/2
		} else {
			s.left, s.right = middle+apart/2, right
		}
		for _, one := range some {
			s.fact(one[0], one[1])
		}
		lowest = max(lowest, s.y)
	}
	s.left, s.right, s.y = left, right, lowest
}

func (s *Sheet) fact(name, value string) {
	const names = 58 // wide, unless a name is wider
	s.text("", body, s.left, s.y, name)
	s.paragraph("B", body, s.left+max(names, s.width(name)+4), value)
}

// List sets each text as a line of a list.
func (s *Sheet) List(texts []string) {
	const indent = 8
	for _, text := range texts {
		s.text("", body, s.left, s.y, "•")
		s.paragraph("", body, s.left+indent, text)
	}
}

func (s *Sheet) put(style string, size float64, text string) {
	s.paragraph(style, size, s.left, text)
}

func (s *Sheet) paragraph(style string, size, left float64, text string) {
	for _, line := range s.lines(style, size, []string{text}, s.right-left) {
		s.text(style, size, left, s.y, line)
		s.y += size * leading
	}
	s.full = s.full || s.y > s.bottom
}

// text sets one line whose top is at y.
func (s *Sheet) text(style string, size, x, y float64, line string) {
	s.pdf.SetFont("Helvetica", style, size)
	s.pdf.Text(x, y+size*0.93, encoded(line))
}

// lines breaks texts to a width.
func (s *Sheet) lines(style string, size float64, texts []string, width float64) (all []string) {
	s.pdf.SetFont("Helvetica", style, size)
	for _, text := range texts {
		all = append(all, broken(text, width, s.width)...)
	}
	return all
}

// width is that of a text in the font set last.
func (s *Sheet) width(text string) float64 { return s.pdf.GetStringWidth(encoded(text)) }

// Write writes the file, or an error where what was set did not fit the sheet.
func (s *Sheet) Write(out io.Writer) error {
	if s.full {
		return fmt.Errorf("sheet: more was set than fits one page")
	}
	var whole bytes.Buffer
	if err := s.pdf.Output(&whole); err != nil {
		return fmt.Errorf("sheet: %w", err)
	}
	_, err := whole.WriteTo(out)
	return err
}
