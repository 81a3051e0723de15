package server_test

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"stillsaw/server"
)

// lookAtPaper notes what a PDF says in English, read back by a library that had no
// part in writing it.
func (w *wordWalk) lookAtPaper(path, raw string) {
	w.t.Helper()
	paper, err := pdf.NewReader(strings.NewReader(raw), int64(len(raw)))
	require.NoError(w.t, err, path)
	for n := range paper.NumPage() {
		text, err := paper.Page(n + 1).GetPlainText(nil)
		require.NoError(w.t, err, path)
		// Read as one, own texts are whole but where columns stand between; read by
		// lines it is the other way round. English is what is left either way.
		left := strings.Fields(w.notOwn(strings.Join(strings.Fields(text), " ")))
		if len(left) == 0 {
			continue
		}
		for line := range strings.SplitSeq(text, "\n") {
			line = strings.Join(strings.Fields(line), " ")
			if w.notOwn(line) == "" {
				continue
			}
			words := strings.Fields(w.notOwn(w.withoutBroken(line)))
			if slices.ContainsFunc(words, func(word string) bool { return slices.Contains(left, word) }) {
				w.met[strings.Join(words, " ")+"   in   "+line] = path + " page " + strconv.Itoa(n+1)
			}
		}
	}
	w.papers++
}

// withoutBroken is a line of a PDF without what of the mill's own words was broken
// at its end, or goes on from the line before.
func (w *wordWalk) withoutBroken(line string) string {
	if w.ownText == "" {
		w.ownText = "\n" + strings.Join(w.own, "\n") + "\n"
	}
	blanks := func(at int) bool { return at == 0 || at == len(line) || line[at] == ' ' || line[at-1] == ' ' }
	if strings.Contains(w.ownText, " "+line+" ") {
		return ""
	}
	for at := range line { // the longest first
		if blanks(at) && strings.Contains(w.ownText, "\n"+line[at:]+" ") {
			line = line[:at]
			break
		}
	}
	for at := len(line); at > 0; at-- {
		if begin := strings.TrimSpace(line[:at]); blanks(at) && (strings.Contains(w.ownText, " "+begin+"\n") || strings.Contains(w.ownText, " "+strings.TrimRight(begin, ".,:;")+"\n")) {
			return line[at:]
		}
	}
	return line
}

var (
	calendarIn   = regexp.MustCompile(`/calendar/[a-z0-9]+\.ics`)
	calendarText = regexp.MustCompile(`(?m)^(?:X-WR-CALNAME|SUMMARY|DESCRIPTION):(.*)$`)
)

// lookAtCalendar notes what a calendar says in English.
func (w *wordWalk) lookAtCalendar(path string) {
	w.t.Helper()
	_, body := w.ask(path, nil)
	body = strings.ReplaceAll(body, "\r\n ", "") // RFC 5545, 3.1
	found := calendarText.FindAllStringSubmatch(body, -1)
	require.NotEmpty(w.t, found, body)
	for _, line := range found {
		w.read("the calendar", strings.NewReplacer(`\,`, ",", `\;`, ";", `\n`, " ").Replace(strings.TrimSpace(line[1])))
	}
	w.dates++
}

// lookAtLetters notes what the mails say in English.
func (w *wordWalk) lookAtLetters(s *server.Server) {
	w.t.Helper()
	letters, err := server.LettersOf(w.t.Context(), s, madeUp)
	require.NoError(w.t, err)
	require.NotEmpty(w.t, letters)
	for _, letter := range letters {
		for line := range strings.SplitSeq(letter, "\n") {
			w.read("a mail", line)
		}
	}
}
