package table

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// Writer writes rows. Make it with [NewWriter] and end with [Writer.Close].
type Writer struct {
	out     *bufio.Writer
	columns []column
}

// NewWriter begins a table with its header row.
func NewWriter(out io.Writer) (*Writer, error) {
	w := &Writer{out: bufio.NewWriter(out), columns: columns()}
	var names []string
	for _, c := range w.columns {
		names = append(names, c.name)
	}
	return w, w.record(names)
}

// Write writes one row.
func (w *Writer) Write(r Row) error {
	cells := make([]string, len(w.columns))
	for i, c := range w.columns {
		cells[i] = c.write(&r)
	}
	return w.record(cells)
}

// Close writes what is still held back; it does not close what is written to.
func (w *Writer) Close() error { return w.out.Flush() }

// record writes cells as RFC 4180 has it.
func (w *Writer) record(cells []string) error {
	for i, cell := range cells {
		if i > 0 {
			w.out.WriteByte(',')
		}
		if !strings.ContainsAny(cell, ",\"\r\n") && strings.TrimSpace(cell) == cell {
			w.out.WriteString(cell)
			continue
		}
		w.out.WriteByte('"')
		w.out.WriteString(strings.ReplaceAll(cell, `"`, `""`))
		w.out.WriteByte('"')
	}
	_, err := w.out.WriteString("\r\n") // the first error of all, as package bufio keeps it
	return err
}

// Read reads what [Writer] writes and calls each with every row. It also takes
// lines ended by LF alone, as some programs save them, columns this program
// does not know after those it knows, and a byte order mark. An error names the
// line and the column.
func Read(in io.Reader, each func(Row) error) error {
	p := parser{in: bufio.NewReader(in), line: 1}
	if mark, err := p.in.Peek(3); err == nil && string(mark) == "\uFEFF" {
		if _, err := p.in.Discard(3); err != nil {
			return err
		}
	}
	known := columns()
	head, err := p.record()
	if err != nil {
		return fmt.Errorf("table: header: %w", err)
	}
	for i, c := range known {
		if i >= len(head) || head[i] != c.name {
			return fmt.Errorf("table: column %d is not %s: this is no export of the record, or of an older form", i+1, c.name)
		}
	}
	for {
		line := p.line
		cells, err := p.record()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("table: %w", err)
		}
		if len(cells) != len(head) {
			return fmt.Errorf("table: line %d has %d columns, the header %d", line, len(cells), len(head))
		}
		var r Row
		for i, c := range known {
			if err := c.read(&r, cells[i]); err != nil {
				return fmt.Errorf("table: line %d, %s: %w", line, c.name, err)
			}
		}
		if err := each(r); err != nil {
			return err
		}
	}
}

// parser takes records apart.
type parser struct {
	in   *bufio.Reader
	line int
}

// record is the next record, io.EOF at the end.
func (p *parser) record() (cells []string, err error) {
	var cell strings.Builder
	for begun := false; ; begun = true {
		c, err := p.in.ReadByte()
		switch {
		case errors.Is(err, io.EOF) && !begun:
			return nil, io.EOF
		case errors.Is(err, io.EOF):
			return append(cells, cell.String()), nil
		case err != nil:
			return nil, err
		case c == '"' && cell.Len() == 0:
			if err := p.quoted(&cell); err != nil {
				return nil, err
			}
		case c == '"':
			return nil, fmt.Errorf("line %d: a quotation mark in the middle of a cell", p.line)
		case c == ',':
			cells = append(cells, cell.String())
			cell.Reset()
		case c == '\r':
			if next, err := p.in.ReadByte(); err != nil || next != '\n' {
				return nil, fmt.Errorf("line %d: a bare carriage return", p.line)
			}
			p.line++
			return append(cells, cell.String()), nil
		case c == '\n':
			p.line++
			return append(cells, cell.String()), nil
		default:
			cell.WriteByte(c)
		}
		if cell.Len() > cellMost {
			return nil, fmt.Errorf("line %d: a cell of more than %d bytes", p.line, cellMost)
		}
	}
}

// cellMost is more than any cell of a record holds.
const cellMost = 16 << 20

// quoted reads a quoted cell whose first mark was read, and the comma or end of
// line stays to be read.
func (p *parser) quoted(cell *strings.Builder) error {
	began := p.line
	for {
		c, err := p.in.ReadByte()
		if err != nil {
			return fmt.Errorf("line %d: a quotation mark is not closed", began)
		}
		if c == '\n' {
			p.line++
		}
		if c != '"' {
			if cell.WriteByte(c); cell.Len() > cellMost {
				return fmt.Errorf("line %d: a cell of more than %d bytes", began, cellMost)
			}
			continue
		}
		next, err := p.in.Peek(1)
		switch {
		case errors.Is(err, io.EOF), err == nil && strings.ContainsRune(",\r\n", rune(next[0])):
			if !utf8.ValidString(cell.String()) {
				return fmt.Errorf("line %d: a cell is not UTF-8", began)
			}
			return nil
		case err != nil:
			return err
		case next[0] == '"':
			if _, err := p.in.Discard(1); err != nil {
				return err
			}
			cell.WriteByte('"')
		default:
			return fmt.Errorf("line %d: something stands after a quotation mark", p.line)
		}
	}
}
