package table_test

import (
	"bytes"
	"encoding/csv"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/server/table"
)

func written(t require.TestingT, rows ...table.Row) string {
	var out bytes.Buffer
	w, err := table.NewWriter(&out)
	require.NoError(t, err)
	for _, r := range rows {
		require.NoError(t, w.Write(r))
	}
	require.NoError(t, w.Close())
	return out.String()
}

func readBack(t require.TestingT, text string) (rows []table.Row) {
	require.NoError(t, table.Read(strings.NewReader(text), func(r table.Row) error {
		rows = append(rows, r)
		return nil
	}))
	return rows
}

// A table read as any program reads one: RFC 4180 by the standard library.
func cells(t require.TestingT, text string) [][]string {
	all, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	return all
}

func place(t require.TestingT, column string) int {
	for i, c := range table.Columns() {
		if c.Name == column {
			return i
		}
	}
	require.FailNow(t, "no column "+column)
	return 0
}

// Known answers: the formulas of the usual warnings stay text, numbers stay
// numbers.
func TestAFormulaInANoteStaysText(t *testing.T) {
	low := -40.5
	for _, note := range []string{`=HYPERLINK("http://x","y")`, "+1", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "'quoted", "＝1+1"} {
		text := written(t, table.Row{Note: note, ItemText: note, Reading: &low})
		row := cells(t, text)[1]
		for _, column := range []string{"note", "item"} {
			require.True(t, strings.HasPrefix(row[place(t, column)], "'"), "%q", note)
		}
		require.Equal(t, "-40.5", row[place(t, "reading")])
		require.Equal(t, note, readBack(t, text)[0].Note)
	}
	require.Equal(t, "5-6 in, loose", cells(t, written(t, table.Row{Note: "5-6 in, loose"}))[1][place(t, "note")], "a sign inside is harmless")
}

// RFC 4180: section 2, rules 1 (CRLF), 3 (header), 5 to 7 (quotation marks).
func TestTheTableIsAsRFC4180HasIt(t *testing.T) {
	text := written(t, table.Row{Seq: 7, Note: "said \"no\",\nthen went"}, table.Row{})
	require.True(t, strings.HasSuffix(text, "\r\n"))
	lines := strings.Split(text, "\r\n")
	require.Len(t, lines, 4, "header, two rows and the end: the line broken in the note is no CR LF")
	require.True(t, strings.HasPrefix(lines[0], "seq,entry_id,kind,"))
	require.Contains(t, lines[1], "\"said \"\"no\"\",\nthen went\"")
	all := cells(t, text)
	require.Len(t, all, 3)
	require.Equal(t, "said \"no\",\nthen went", all[1][place(t, "note")])
	require.Equal(t, "0", all[2][0])
}

// rows draws rows in which every field may hold anything.
func rows() *rapid.Generator[table.Row] {
	any := rapid.OneOf(rapid.String(), rapid.StringMatching(`[=+\-@'\t\r\n", ]{0,3}.{0,4}[",\r\n ]?`))
	return rapid.Custom(func(t *rapid.T) (r table.Row) {
		v := reflect.ValueOf(&r).Elem()
		for i := range v.NumField() {
			switch f := v.Field(i).Addr().Interface().(type) {
			case *string:
				*f = any.Draw(t, "text")
			case *int64:
				*f = rapid.Int64().Draw(t, "whole")
			case *bool:
				*f = rapid.Bool().Draw(t, "yes")
			case **float64:
				if rapid.Bool().Draw(t, "said") {
					x := rapid.Float64().Draw(t, "number")
					*f = &x
				}
			case *time.Time:
				if rapid.Bool().Draw(t, "known") {
					zone := time.FixedZone("", 60*rapid.IntRange(-18*60, 18*60).Draw(t, "offset"))
					*f = time.UnixMilli(rapid.Int64Range(0, 4e12).Draw(t, "at")).In(zone)
				}
			default:
				t.Fatalf("a field of an unknown sort: %T", f)
			}
		}
		return r
	})
}

func TestEveryRowComesBackAsItWas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOfN(rows(), 0, 4).Draw(t, "rows")
		text := written(t, want...)
		got := readBack(t, text)
		require.Len(t, got, len(want))
		for i := range want {
			requireSame(t, want[i], got[i])
		}
		require.Equal(t, text, written(t, got...), "written again it is the same, byte for byte")
		for _, row := range cells(t, text)[1:] {
			for i, c := range table.Columns() {
				if cell := row[i]; cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r") {
					require.Contains(t, numbers, c.Name, "%q", cell)
				}
			}
		}
	})
}

// numbers are the columns in which a minus sign is one.
var numbers = []string{"seq", "rows", "list_version", "reading", "reading_si", "low", "high", "phone_skew_s", "checkpoint_size"}

// requireSame compares field by field: of times instant and offset count.
func requireSame(t require.TestingT, want, got table.Row) {
	a, b := reflect.ValueOf(want), reflect.ValueOf(got)
	for i := range a.NumField() {
		if at, ok := a.Field(i).Interface().(time.Time); ok {
			read := b.Field(i).Interface().(time.Time)
			require.Equal(t, at.Format(time.RFC3339Nano), read.Format(time.RFC3339Nano), a.Type().Field(i).Name)
			continue
		}
		require.Equal(t, a.Field(i).Interface(), b.Field(i).Interface(), a.Type().Field(i).Name)
	}
}

func TestADamagedTableIsRefusedSayingWhere(t *testing.T) {
	good := written(t, table.Row{Seq: 1}, table.Row{Seq: 2})
	head, rest, _ := strings.Cut(good, "\r\n")
	second := len(head) + 2 + strings.Index(rest, "\r\n") + 2
	for broken, want := range map[string]string{
		"":                                    "header",
		"a,b\r\n":                             "column 1 is not seq",
		head + "\r\n1,2\r\n":                  "line 2 has 2 columns",
		good[:second] + "x" + good[second+1:]: "line 3, seq",
		good + "\"open":                       "line 4: a quotation mark is not closed",
		good + "a\"b":                         "line 4: a quotation mark in the middle",
		good + "\"a\"b":                       "line 4: something stands after",
		good + "a\rb":                         "bare carriage return",
		good + "\"\xff\"":                     "not UTF-8",
	} {
		require.ErrorContains(t, table.Read(strings.NewReader(broken), func(table.Row) error { return nil }), want)
	}
	require.Len(t, readBack(t, "\uFEFF"+strings.ReplaceAll(strings.ReplaceAll(good, "\r\n", "\n"), "\n", ",new\n")), 2, "saved again by another program, with a column more")
}

func TestEveryColumnIsDocumented(t *testing.T) {
	raw, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	place := 0
	for _, c := range table.Columns() {
		line := "\n| `" + c.Name + "` | " + c.About + " |"
		at := strings.Index(string(raw), line)
		require.Greater(t, at, place, "in this order: %s", strings.TrimSpace(line))
		place = at
	}
}

// NIST SP 811 (2008), appendix B.9, from memory: inch 2.54 E-02 m, foot 3.048
// E-01 m, pound 4.535 924 E-01 kg, psi 6.894 757 E+03 Pa, inch of water
// (conventional) 2.490 889 E+02 Pa, foot per minute 5.08 E-03 m/s, rpm 1/60 1/s.
func TestReadingsInSI(t *testing.T) {
	for _, tc := range []struct {
		x    float64
		unit string
		want float64
		si   string
	}{
		{0.25, "in", 0.00635, "m"}, {6, "ft", 1.8288, "m"}, {100, "lb", 45.359237, "kg"}, {100, "psi", 689475.7, "Pa"},
		{4, "in w.g.", 996.3556, "Pa"}, {4000, "ft/min", 20.32, "m/s"}, {600, "rpm", 10, "1/s"}, {1.5, "h", 5400, "s"}, {12, "%", 0.12, "1"},
	} {
		got, unit, ok := table.SI(tc.x, tc.unit)
		require.True(t, ok, tc.unit)
		require.Equal(t, tc.si, unit)
		require.InDelta(t, tc.want, got, 1e-9*tc.want, tc.unit)
	}
	_, _, ok := table.SI(3, "wires")
	require.False(t, ok, "a count has no unit")
}
