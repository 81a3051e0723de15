package sheet_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"stillsaw/views/sheet"
)

var made = time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)

// read is a PDF read back by a library that had no part in writing it.
func read(t *testing.T, raw []byte) (pages int, text string, box [4]float64) {
	t.Helper()
	r, err := pdf.NewReader(bytes.NewReader(raw), int64(len(raw)))
	require.NoError(t, err)
	text, err = r.Page(1).GetPlainText(nil)
	require.NoError(t, err)
	media := r.Page(1).V.Key("MediaBox")
	if media.Len() == 0 {
		media = r.Page(1).V.Key("Parent").Key("MediaBox")
	}
	require.Equal(t, 4, media.Len())
	for i := range box {
		box[i] = media.Index(i).Float64()
	}
	return r.NumPage(), strings.Join(strings.Fields(text), " "), box
}

// shown is every text that was set in one piece.
func shown(t *testing.T, raw []byte) map[string]bool {
	t.Helper()
	r, err := pdf.NewReader(bytes.NewReader(raw), int64(len(raw)))
	require.NoError(t, err)
	rows, err := r.Page(1).GetTextByRow()
	require.NoError(t, err)
	words := map[string]bool{}
	for _, row := range rows {
		for _, word := range row.Content {
			words[word.S] = true
		}
	}
	return words
}

func written(t *testing.T, s *sheet.Sheet) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, s.Write(&out))
	return out.Bytes()
}

// Letter is 8½ by 11 in; A4 is 210 by 297 mm, ISO 216. A point is 1/72 in.
func TestPaperHasItsSize(t *testing.T) {
	for paper, want := range map[sheet.Paper][2]float64{sheet.Letter: {612, 792}, sheet.A4: {210 / 25.4 * 72, 297 / 25.4 * 72}} {
		pages, _, box := read(t, written(t, sheet.New(paper, sheet.About{Title: "T", Made: made})))
		require.Equal(t, 1, pages)
		require.InDelta(t, want[0], box[2]-box[0], 0.1)
		require.InDelta(t, want[1], box[3]-box[1], 0.1)
	}
}

// What the mill types and Stillsaw prints stands in the file letter by letter.
func TestEverySignPrints(t *testing.T) {
	const signs = "½ ¼ ¾ ° – ’ … × · ± m³ €, Žižkov, Müller, naïve, «ÆØÅ» 17 3/8 in"
	s := sheet.New(sheet.Letter, sheet.About{Title: "Yoke (2nd hole)", Mill: `Fern\hollow`, Made: made, Foot: []string{"made – then"}})
	s.Text(signs)
	s.Text("Łódź −5 日")
	_, text, _ := read(t, written(t, s))
	require.Contains(t, text, signs)
	require.Contains(t, text, "Yoke (2nd hole)")
	require.Contains(t, text, `Fern\hollow`)
	require.Contains(t, text, "made – then")
	require.Contains(t, text, "?ódz -5 ?", "a letter the fonts lack goes without its marks, or as a question mark")
}

func TestTheSameSheetIsTheSameFile(t *testing.T) {
	make := func() []byte {
		s := sheet.New(sheet.A4, sheet.About{Title: "T", Mill: "M", Lang: "en", Made: made, Foot: []string{"f"}})
		s.Hazard(sheet.Warning, "WARNING", "hot")
		return written(t, s)
	}
	require.Equal(t, make(), make())
}

func TestHazardsStandWithTheirWord(t *testing.T) {
	s := sheet.New(sheet.Letter, sheet.About{Title: "T", Made: made})
	for signal, word := range map[sheet.Signal]string{sheet.Danger: "DANGER", sheet.Warning: "WARNING", sheet.Caution: "CAUTION", sheet.Notice: "NOTICE"} {
		s.Hazard(signal, word, "why "+word)
	}
	_, text, _ := read(t, written(t, s))
	for _, word := range []string{"DANGER", "WARNING", "CAUTION", "NOTICE"} {
		require.Contains(t, text, "why "+word)
		require.Equal(t, 2, strings.Count(text, word))
	}
}

func numbers(rows, columns int) sheet.Table {
	t := sheet.Table{Corner: "kind"}
	for c := range columns {
		t.Heads = append(t.Heads, fmt.Sprint(c))
	}
	for r := range rows {
		row := sheet.Row{Name: fmt.Sprintf("name-%d", r)}
		for c := range columns {
			row.Cells = append(row.Cells, fmt.Sprint(1000*r+c))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func TestTablesOfAnySizeStandWholeOnOnePage(t *testing.T) {
	for _, size := range [][2]int{{0, 3}, {1, 1}, {3, 25}, {40, 25}, {60, 13}, {118, 13}, {119, 13}} {
		s := sheet.New(sheet.Letter, sheet.About{Title: "T", Made: made, Foot: []string{"foot"}})
		s.Text("above")
		table := numbers(size[0], size[1])
		s.Fill(table)
		raw := written(t, s)
		pages, _, _ := read(t, raw)
		require.Equal(t, 1, pages)
		words := shown(t, raw)
		for _, row := range table.Rows {
			require.True(t, words[row.Name], "%v %s", size, row.Name)
			for _, cell := range row.Cells {
				require.True(t, words[cell], "%v %s", size, cell)
			}
		}
	}
}

func TestSheetThatDoesNotHoldEverythingIsNoSheet(t *testing.T) {
	s := sheet.New(sheet.Letter, sheet.About{Title: "T", Made: made})
	s.Fill(numbers(900, 13))
	require.Error(t, s.Write(&bytes.Buffer{}))
	s = sheet.New(sheet.Letter, sheet.About{Title: "T", Made: made})
	for range 90 {
		s.Text("one more line")
	}
	require.Error(t, s.Write(&bytes.Buffer{}))
}

func TestLongWordsBreakAndNothingIsLost(t *testing.T) {
	long := strings.Repeat("abcdefghij", 40)
	s := sheet.New(sheet.A4, sheet.About{Title: "T", Made: made})
	s.List([]string{long, "short"})
	_, text, _ := read(t, written(t, s))
	require.Contains(t, strings.ReplaceAll(text, " ", ""), long)
	require.Contains(t, text, "short")
}

func TestTitlesBeginWithACapital(t *testing.T) {
	r := report()
	r.Title("été 2026")
	r.Heading("jeudi")
	text := strings.Join(pages(t, r), " ")
	require.Contains(t, text, "Été 2026")
	require.Contains(t, text, "Jeudi")
}

// A flow keeps every item, in columns, and says so when even small letters
// don't fit.
func TestFlowSetsEverythingOrSaysThatItDoesNotFit(t *testing.T) {
	items := func(n int) (all []sheet.Item) {
		for i := range n {
			all = append(all, sheet.Item{Lead: fmt.Sprint(i + 1), Text: fmt.Sprintf("Step%d turns the valve until it is shut and stays so", i+1), After: fmt.Sprintf("Proof%d", i+1)})
		}
		return append([]sheet.Item{{Text: "Heading"}}, all...)
	}
	s := sheet.New(sheet.Letter, sheet.About{Title: "T", Made: made})
	s.Beside(sheet.Code{Size: 21, Black: func(x, y int) bool { return (x+y)%2 == 0 }}, 70, func() { s.Text("beside the code") })
	s.Flow(items(80))
	pages, text, _ := read(t, written(t, s))
	require.Equal(t, 1, pages)
	require.Contains(t, text, "beside the code")
	for i := range 80 {
		require.Contains(t, text, fmt.Sprintf("Step%d ", i+1))
		require.Contains(t, text, fmt.Sprintf("Proof%d", i+1))
	}
	s = sheet.New(sheet.Letter, sheet.About{Title: "T", Made: made})
	s.Flow(items(2000))
	require.ErrorContains(t, s.Write(&bytes.Buffer{}), "more was set than fits")
}

func TestDamagedPictureIsAnErrorAndNoFile(t *testing.T) {
	s := sheet.New(sheet.A4, sheet.About{Title: "T", Made: made})
	s.Flow([]sheet.Item{{Lead: "1", Text: "x", Picture: &sheet.Picture{JPEG: []byte("no picture")}}})
	require.Error(t, s.Write(&bytes.Buffer{}))
}

func TestTagsAreSixToAPage(t *testing.T) {
	for tags, pages := range map[int]int{1: 1, 6: 1, 7: 2, 13: 3} {
		s := sheet.Tags(sheet.Letter, sheet.About{Title: "T", Made: made, Foot: []string{"f"}}, make([]sheet.Tag, tags))
		n, _, _ := read(t, written(t, s))
		require.Equal(t, pages, n, tags)
	}
}
