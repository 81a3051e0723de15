package sheet_test

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"strings"
	"testing"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"stillsaw/views/sheet"
)

func report() *sheet.Report {
	return sheet.NewReport(sheet.Letter, sheet.Running{
		About: sheet.About{Title: "T", Mill: "Mill", Lang: "en", Made: made, Foot: []string{"foot"}}, Head: "head",
		Page: func(n int, of string) string { return fmt.Sprintf("Page %d of %s", n, of) },
	})
}

// pages are the texts of a report's pages, read back by another library.
func pages(t *testing.T, r *sheet.Report) []string {
	t.Helper()
	texts, _ := pagesAndFile(t, r)
	return texts
}

func pagesAndFile(t *testing.T, r *sheet.Report) ([]string, string) {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, r.Write(&out))
	file, err := pdf.NewReader(bytes.NewReader(out.Bytes()), int64(out.Len()))
	require.NoError(t, err)
	var texts []string
	for n := range file.NumPage() {
		text, err := file.Page(n + 1).GetPlainText(nil)
		require.NoError(t, err)
		texts = append(texts, strings.Join(strings.Fields(text), " "))
	}
	return texts, out.String()
}

func lines(n int) (all []sheet.Line) {
	for i := range n {
		all = append(all, sheet.Line{When: fmt.Sprintf("%02d:%02d", i/60%24, i%60), What: fmt.Sprintf("what%d happened", i), Who: fmt.Sprintf("who%d", i), More: []string{fmt.Sprintf("more%d", i)}})
	}
	return all
}

func TestReportGoesOnOverPagesAndLosesNothing(t *testing.T) {
	r := report()
	r.Title("Title")
	r.Table(lines(200))
	r.Facts([][2]string{{"name", strings.Repeat("value ", 4000)}})
	r.List([]string{"item", strings.Repeat("item ", 3000)})
	all := pages(t, r)
	require.Greater(t, len(all), 5)
	whole := strings.Join(all, " ")
	for i := range 200 {
		for _, word := range []string{"what%d ", "who%d ", "more%d "} {
			require.Contains(t, whole, fmt.Sprintf(word, i))
		}
	}
	require.Equal(t, 4000, strings.Count(whole, "value"))
	require.Equal(t, 3001, strings.Count(whole, "item"))
	for i, page := range all {
		require.Contains(t, page, fmt.Sprintf("Page %d of %d", i+1, len(all)))
		require.Contains(t, page, "Head")
		require.Contains(t, page, "foot")
	}
}

// What somebody wrote can't pass for the mark the number of pages replaces.
func TestNobodysWordsBecomeTheNumberOfPages(t *testing.T) {
	r := report()
	r.Text("a \x02n\x02 b {nb}")
	require.Contains(t, pages(t, r)[0], "a n b {nb}")
}

func TestWhatFitsOnePageInSmallerLettersStandsOnOne(t *testing.T) {
	for count, want := range map[int]int{5: 1, 30: 1, 38: 1, 200: 9} {
		r := report()
		r.OnePage(func() {
			r.Title("Day")
			r.Table(lines(count))
		})
		all := pages(t, r)
		if count < 200 {
			require.Len(t, all, want, count)
		} else {
			require.Greater(t, len(all), 3, "it does not fit, and is set large enough to read")
		}
		require.Contains(t, strings.Join(all, " "), fmt.Sprintf("what%d ", count-1))
	}
}

func TestWhatBelongsTogetherStandsOnOnePage(t *testing.T) {
	r := report()
	r.Table(lines(22))
	r.Together(func() {
		for i := range 30 {
			r.Text(fmt.Sprintf("together%d", i))
		}
	})
	all := pages(t, r)
	require.Len(t, all, 2)
	require.NotContains(t, all[0], "together")
	require.Contains(t, all[1], "together0")
	require.Contains(t, all[1], "together29")
}

func TestDaysBeginTheirOwnPageAndNoneIsEmpty(t *testing.T) {
	r := report()
	for i := range 3 {
		r.Fresh()
		r.Title(fmt.Sprintf("day%d", i))
	}
	require.Len(t, pages(t, r), 3)
}

func TestAHeadingStandsNotAloneAtTheFoot(t *testing.T) {
	for n := range 45 {
		r := report()
		for i := range 40 + n {
			r.Text(fmt.Sprintf("line%d", i))
		}
		r.Heading("heading")
		r.Text("below the heading")
		for _, page := range pages(t, r) {
			require.Equal(t, strings.Contains(page, "heading"), strings.Contains(page, "below"), n)
		}
	}
}

func TestPicturesStandInRowsWithTheirCaptions(t *testing.T) {
	r := report()
	var all []sheet.Captioned
	for i := range 14 {
		var small bytes.Buffer
		require.NoError(t, jpeg.Encode(&small, image.NewGray(image.Rect(0, 0, 40+i, 30)), nil))
		all = append(all, sheet.Captioned{Picture: sheet.Picture{JPEG: small.Bytes()}, Caption: fmt.Sprintf("caption%d", i)})
	}
	r.Pictures(all)
	r.Beside(sheet.Code{Size: 21, Black: func(x, y int) bool { return x == y }}, 90, func() { r.Exact("exact\n" + strings.Repeat("x", 300) + "\n") })
	texts, file := pagesAndFile(t, r)
	require.Len(t, texts, 2)
	whole := strings.Join(texts, " ")
	for i := range 14 {
		require.Contains(t, whole, fmt.Sprintf("caption%d", i))
	}
	require.Equal(t, 300, strings.Count(strings.ReplaceAll(whole, "exact", ""), "x"))
	require.Equal(t, 14, strings.Count(file, "/Subtype /Image"))
}

func TestTheSameReportIsTheSameFile(t *testing.T) {
	written := func() string {
		r := report()
		r.Hazard(sheet.Notice, "NOTICE", "a record is not a lock")
		r.Table(lines(90))
		var out bytes.Buffer
		require.NoError(t, r.Write(&out))
		return out.String()
	}
	require.Equal(t, written(), written())
}
