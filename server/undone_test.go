package server_test

import (
	"html"
	"maps"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server"
)

// held is how the button of a form is pressed.
type held string

const (
	pressed held = ""       // as any button: what was done can be taken back, put right, or takes nothing away
	always  held = "always" // and held: nothing here brings back what was before
	some    held = "some"   // one button of several is held
)

// undoing says of an address that takes something in whether another act here can
// bring back what was before it, and by what, or why not. Entries stay on the record
// either way; whoever signs gives the PIN again, and that alone is a second thought.
type undoing struct {
	at   string
	how  held // or the selector of the choice that makes it so
	why  string
	page string // the template its form stands in, where the walk doesn't come to it
}

func undoings() []undoing {
	return []undoing{
		{"/stop-it", pressed, "a stop is never in the way of a second thought; a look and a signature end it", ""},
		{"/sign-in", pressed, "sign out", ""}, {"/sign-out", pressed, "sign in again", ""},
		{"/settings", pressed, "choose again", ""},
		{"/inspections/new", pressed, "nobody has to go on with a check begun", ""},
		{"/inspections/:id/answers", pressed, "answer again until it is signed", ""}, {"/inspections/:id/autosave", pressed, "the same", ""},
		{"/inspections/:id/run-check", pressed, "it ends by itself, or by a stop", ""},
		{"/inspections/:id/finish", pressed, "it waits, held, for a signature", ""},
		{"/inspections/:id/sign", pressed, "amended below what was signed; a stop holds the machine again", ""},
		{"/inspections/:id/amend", pressed, "amended again", ""},
		{"/inspections/:id/set-aside", always, "it counts as no check from then on", "set-aside"},
		{"/due/happened", pressed, "a fact, which only asks for a check", ""},
		{"/due/excuse", always, "a reason stands, and the miss is no longer open", "due-excuse"},
		{"/due/starters", pressed, "drafts are discarded", ""},
		{"/defects/:id/describe", pressed, "a further note says otherwise", ""}, {"/defects/:id/assign", pressed, "given to somebody else", ""}, {"/defects/:id/date", pressed, "another day", ""},
		{"/defects/:id/note", pressed, "a further note", ""}, {"/defects/:id/mend", pressed, "it stays held until another looks, who can say it isn't", ""},
		{"/defects/:id/run-check", pressed, "it ends by itself, or by a stop", ""}, {"/defects/:id/recheck", pressed, "answered again", ""},
		{"/defects/:id/return", pressed, "a stop holds it again", ""},
		{"/departures/new", pressed, "a fact, which holds; closed with a reason", ""}, {"/departures/:id/close", always, "what was closed isn't opened again, and its hold is over", "departure"},
		{"/incidents/new", pressed, "a fact, which holds; closed with a reason", ""}, {"/incidents/:id/actions", pressed, "another person, another day", ""},
		{"/incidents/:id/actions/:action", pressed, "a further measure is given", ""}, {"/incidents/:id/harm", pressed, "what is learned later is entered again", ""},
		{"/incidents/:id/close", always, "what was closed isn't opened again, and its hold is over", "incident"},
		{"/lifts/new", pressed, "checked again; one kept only stands there", ""}, {"/lifts/wait", pressed, "looked at again, or taken away", ""},
		{"/lifts/wait/:id/over", always, "what was typed is gone", "lift-new"},
		{"/lifts/weighed", pressed, "the signature is taken back", ""}, {"/lifts/shock-load", pressed, "a stop: never in the way", ""},
		{"/lifts/:id/run", pressed, "a fact", ""}, {"/lifts/:id/weighed", pressed, "the last reading counts; a supervisor puts one aside", ""},
		{"/lockouts/new", pressed, "called off", ""},
		{"/lockouts/:id/:act", some, "a lock that is off protects nobody; on again is a new lock. Acts that take none off: the next one (TestHeldButtonsAreWhereNothingIsUndone)", "lockout"},
		{"/locks/new", pressed, "put right or retired", ""}, {"/locks/edit", "[name=retire]:checked", "29 CFR 1910.147(c)(5)(ii): the number of a retired lock isn't given again", "lock"},
		{"/procedures/:id/inspections/new", always, "a certificate stays as it was signed, 29 CFR 1910.147(c)(6)(ii)", ""},
		{"/procedure-inspections/:id/findings", pressed, "reported again", ""},
		{"/gear/:rig", pressed, "inspected again; a part found bad is out until a qualified person says otherwise", ""}, {"/gear/:rig/:link/inspected", pressed, "the same", ""}, {"/gear/:rig/:link/measured", pressed, "measured again", ""},
		{"/equipment/:id/coast", pressed, "measured again", ""}, {"/equipment/new", pressed, "removed", ""}, {"/equipment/:id/edit", pressed, "changed again", ""},
		{"/equipment/:id/declare", pressed, "declared otherwise", ""}, {"/equipment/:id/affected", pressed, "said otherwise", ""},
		{"/equipment/:id/energy/:energy", pressed, "changed again", ""}, {"/equipment/:id/device/:device", pressed, "changed again", ""}, {"/equipment/:id/device/:device/point", pressed, "tapped again", ""},
		{"/equipment/:id/energy/:energy/remove", always, "entered again it is another, which no procedure in force speaks of", "machine"},
		{"/equipment/:id/device/:device/remove", always, "the same", ""}, {"/equipment/:id/remove", always, "entered again it is another piece with no history", ""},
		{"/blades/new", pressed, "changed, or scrapped", ""}, {"/blades/:id", "[value=scrapped]:checked", "a scrapped saw isn't fitted again", ""}, {"/blades/:id/edit", pressed, "changed again", ""},
		{"/safety/new", pressed, "changed", ""}, {"/safety/:id", pressed, "looked at again", ""}, {"/safety/:id/edit", "[name=retire]:checked", "what is gone is entered anew if it comes back", ""},
		{"/lists/new", pressed, "a draft is discarded", ""}, {"/lists/import", pressed, "a draft is discarded", ""},
		{"/lists/:id/edit", some, "a draft is changed again; a section taken out is gone with its items", ""}, {"/lists/:id/items/:item", pressed, "changed again", ""},
		{"/lists/:id/merge", pressed, "a draft is changed again", ""}, {"/lists/:id/discard", always, "all that was written is gone", "list-edit"},
		{"/lists/:id/publish", always, "it is in force, people check by it, and a version is never taken away", ""}, {"/published", always, "the same", ""},
		{"/procedures/new", pressed, "a draft is discarded", ""}, {"/procedures/:id/edit", some, "a draft is changed again; written anew it loses what stood there", ""},
		{"/procedures/:id/discard", always, "all that was written is gone", ""}, {"/procedures/:id/publish", always, "it is in force, people lock out by it, and a version is never taken away", ""},
		{"/rigs/new", pressed, "it is in force only once signed", ""}, {"/rigs/:id/edit", some, "a draft is changed again; put in force, people lift by it, and a version is never taken away", ""},
		{"/mill", pressed, "changed again", ""}, {"/mill/mail", pressed, "changed again", ""}, {"/mill/mail/test", pressed, "a mail of no consequence", ""}, {"/mill/mail/retry", pressed, "mail that was to go", ""}, {"/mill/mail/end", pressed, "whoever wants mail asks again", ""},
		{"/tasks", pressed, "each is taken off or changed", ""}, {"/tasks/new", pressed, "changed, or taken off", ""}, {"/tasks/:id", pressed, "changed again", ""}, {"/tasks/:id/remove", always, "entered again it is to be looked at anew", ""},
		{"/clock", always, "what was entered under a wrong time counts as looked at", "clock"},
		{"/help/emergency/edit", pressed, "signed again; in an emergency a number that is wrong is put right at once", ""},
		{"/reminders/mail", pressed, "asked for again, or ended", ""}, {"/calendar", pressed, "ended", ""}, {"/calendar/end", always, "the address is never good again", "calendar"},
		{"/verify", pressed, "it reads", ""}, {"/verify/compare", pressed, "it reads", ""}, {"/verify/key", always, "the secret part of the old key is gone", ""},
		{"/retention", always, "what is older goes the next night", ""}, {"/retention/run", always, "gone for good", "retention"}, {"/retention/drop", some, "the second page drops for good, the first only asks", "../parts/going"},
		{"/retention/holds", pressed, "lifted", ""}, {"/retention/holds/:id/lift", always, "what it kept may go the next night", "retention"},
		{"/mill/tokens", pressed, "taken back", ""}, {"/mill/tokens/:id/revoke", always, "it is never good again", "tokens"},
		{"/witnesses", pressed, "switched off or removed", ""}, {"/witnesses/logs", pressed, "removed", ""}, {"/witnesses/logs/remove", always, "what was seen of that mill is forgotten", "witnesses"},
		{"/witnesses/alarms/:id", always, "what was closed isn't opened again", "witnesses"}, {"/witnesses/:id/try", pressed, "it tries", ""}, {"/witnesses/:id/switch", pressed, "switched again", ""}, {"/witnesses/:id/remove", always, "what it holds is no longer known here", "witnesses"},
		{"/backups", pressed, "switched off or removed", ""}, {"/backups/:id/make", pressed, "a copy more", ""}, {"/backups/:id/switch", pressed, "switched again", ""}, {"/backups/:id/remove", always, "its secret is no longer known here", "backups"},
		{"/witness/add-checkpoint", pressed, "for programs: it has no form", ""},
		{"/program/edit", always, "it is in force, and a version is never taken away", ""},
		{"/contractors/new", pressed, "changed", ""}, {"/contractors/:id", pressed, "changed again", ""}, {"/training/new", pressed, "it ends on its day, and the right is taken off under People", ""},
		{"/people/new", pressed, "changed, or left", ""}, {"/people/me", pressed, "changed again", ""}, {"/people/me/phones", pressed, "sign in again there", ""},
		{"/people/:id", "[name=left]:checked", "who has left is signed out everywhere, and all that waits for a signature waits for nobody", ""},
		{"/people/roles", pressed, "taken back", ""},
	}
}

var holdIn = regexp.MustCompile(`<button\b[^>]*\bdata-hold="[^>]*>`)

// Every address that takes something in says whether that can be undone; the buttons
// of those that can't are held on every page, and no others.
func TestWhatCantBeUndoneIsHeldOnEveryPage(t *testing.T) {
	t.Parallel()
	s, st, people := demoServer(t)
	rows := map[string]undoing{}
	for _, u := range undoings() {
		require.NotContains(t, rows, u.at)
		require.NotEmpty(t, u.why, u.at)
		rows[u.at] = u
	}
	posts := map[string]bool{}
	var patterns []string
	for _, route := range server.RoutesOf(s) {
		if route.Method == http.MethodPost {
			require.Contains(t, rows, route.Path, "can it be undone?")
			posts[route.Path] = true
			patterns = append(patterns, route.Path)
		}
	}
	for at := range rows {
		require.Contains(t, posts, at, "nothing is sent there")
	}
	seen := map[string]bool{}
	walkPages(t, signedIn(t, s, st, people[0]), everyPage(s), func(path, body string, _ int) {
		for _, found := range formIn.FindAllStringSubmatch(body, -1) {
			if !strings.Contains(found[1], `method="post"`) {
				continue
			}
			to := path
			if action := attribute("action").FindStringSubmatch(found[1]); action != nil {
				to = html.UnescapeString(action[1])
			}
			at := patternOf(patterns, to)
			row, known := rows[at]
			if !known {
				continue // its own routes: set-up, language
			}
			seen[at] = true
			var holds []string
			for _, tag := range holdIn.FindAllString(found[2], -1) {
				when := attribute("data-hold-when").FindStringSubmatch(tag)
				switch {
				case when == nil:
					holds = append(holds, string(always))
				case strings.Contains(found[2], choiceOf(html.UnescapeString(when[1]))):
					holds = append(holds, html.UnescapeString(when[1]))
				}
			}
			switch row.how {
			case pressed:
				require.Empty(t, holds, "%s on %s can be undone: %s", at, path, row.why)
			case some:
				for _, hold := range holds {
					require.EqualValues(t, always, hold, "%s on %s", at, path)
				}
			case always:
				require.Equal(t, []string{string(row.how)}, holds, "%s on %s can't be undone: %s", at, path, row.why)
			default: // as far as the choice is there
				require.Equal(t, strings.Contains(found[2], choiceOf(string(row.how))), slices.Contains(holds, string(row.how)), "%s on %s can't be undone: %s", at, path, row.why)
			}
		}
	})
	for at, row := range rows {
		if row.how == pressed || seen[at] {
			continue
		}
		require.NotEmpty(t, row.page, "no page of the walk has the form to %s", at)
		template, err := os.ReadFile(filepath.Join("..", "views", "pages", row.page+".html"))
		require.NoError(t, err)
		require.Regexp(t, `\.Held\b|template "hold"|HeldWhen`, string(template), "%s can't be undone: %s", at, row.why)
	}
}

// choiceOf is the field or choice a selector asks for, as it stands in a form; a form
// of something new may lack it.
func choiceOf(selector string) string {
	return strings.Replace(strings.TrimSuffix(strings.TrimPrefix(selector, "["), "]:checked"), "=", `="`, 1) + `"`
}

// walkPages asks for three pages of every sort that links lead to: those of one route
// and the same names in the query.
func walkPages(t *testing.T, c caller, routes []string, look func(path, body string, status int)) {
	t.Helper()
	seen, sorts := map[string]bool{}, map[string]int{}
	next := []string{"/", "/sign-out", "/verify/key", "/settings", "/retention"}
	for len(next) > 0 {
		path := html.UnescapeString(next[0])
		next = next[1:]
		_, query, _ := strings.Cut(path, "?")
		values, err := url.ParseQuery(query)
		require.NoError(t, err, path)
		sort := strings.Join(append([]string{patternOf(routes, path)}, slices.Sorted(maps.Keys(values))...), " ")
		if seen[path] || sorts[sort] > 2 || strings.HasPrefix(path, "/assets") || strings.HasPrefix(path, "/photos") || strings.Contains(path, "export") || strings.Contains(path, "pdf") {
			continue
		}
		seen[path] = true
		sorts[sort]++
		status, body := c.ask(path, nil)
		require.Less(t, status, http.StatusInternalServerError, path)
		if !strings.Contains(body, "<html") {
			continue
		}
		look(path, body, status)
		for _, link := range linkOf.FindAllStringSubmatch(body, -1) {
			next = append(next, link[1])
		}
	}
	t.Log(len(seen), "pages")
}

// patternOf is the route an address belongs to, literals before parameters, or "".
func patternOf(patterns []string, address string) string {
	path, _, _ := strings.Cut(address, "?")
	path, _, _ = strings.Cut(path, "#")
	parts, best, params := strings.Split(path, "/"), "", 99
	for _, pattern := range patterns {
		of := strings.Split(pattern, "/")
		if len(of) != len(parts) {
			continue
		}
		n, fits := 0, true
		for i, part := range of {
			if strings.HasPrefix(part, ":") {
				n++
			} else if part != parts[i] {
				fits = false
			}
		}
		if fits && n < params {
			best, params = pattern, n
		}
	}
	return best
}
