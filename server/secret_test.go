package server

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"flag"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// A supervisor's password is none of those everybody tries first, nor made of the
// names that stand on the sign at the gate.
func TestPasswordsThatManyUseOrThatNameThePlaceAreRefused(t *testing.T) {
	for secret, ok := range map[string]bool{
		"qwertyuiop": false, "password123": false, "PassWord123": false, "1q2w3e4r5t": false, "basketball": false, "liverpool1": false,
		"Fernhollow2026": false, "fernhollow-mill": false, "ordway1234": false, "Sam Ordway 12": false, "Stillsaw2026!": false, "sawmill sawmill": false, "password-2026": false, "Supervisor_1": false,
		"green oak cant": true, "Fernhollow at dusk": true, "blue heron pond": true, "!!!???!!!???": true, "übermorgen früh": true,
	} {
		for _, role := range []procedures.Role{procedures.Supervisor, procedures.Operator} {
			require.Equal(t, ok, len(CheckSecret(role, "password", secret, "Fernhollow Mill", "Sam Ordway")) == 0, "%s %q", role, secret)
		}
	}
	require.NotEmpty(t, CheckSecret(procedures.Supervisor, "password", "1234567890"))
	require.Empty(t, CheckSecret(procedures.Supervisor, "password", "Fernhollow2026", "Another Mill", "Sam Ordway"), "of this mill alone")
}

// The same on every way to a new password.
func TestEveryWayToANewPasswordRefusesThoseEasyToGuess(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	m.storesNothing(func() {
		for path, form := range map[string][]string{"/people/me": nil, "/people/new": {"name", "Una Fell", "role", "supervisor"}, "/people/" + string(m.people["ada"].ID): {"role", "supervisor"}} {
			for _, secret := range []string{"password123", "Fernhollow2026"} {
				reply := sam.post(path, with(sam.get(path).filled(t, path), append(form, "password", secret, "again", secret, "pin", testSecrets["sam"])...))
				require.Equal(t, http.StatusUnprocessableEntity, reply.Status, path)
				reply.says(t, "harder to guess", path)
			}
		}
	})
	s, _, _ := newServer(t, "WREN-4821")
	answers := setUpAnswers()
	answers.Set("password", answers.Get("name")+"2026")
	answers.Set("again", answers.Get("password"))
	newPhone(t, s, nil).post("/set-up", answers).says(t, "harder to guess")
}

// The list is the beginning of the one it names, where that is at hand:
// STILLSAW_PASSWORDS=FILE, and -update writes it.
func TestCommonPasswordsAreTheFirstOfTheirSource(t *testing.T) {
	require.Len(t, commonPasswords, 8000*commonSize)
	for i := commonSize; i < len(commonPasswords); i += commonSize {
		require.Negative(t, bytes.Compare(commonPasswords[i-commonSize:i], commonPasswords[i:i+commonSize]))
	}
	path := os.Getenv("STILLSAW_PASSWORDS")
	if path == "" {
		t.Skip("STILLSAW_PASSWORDS names no file")
	}
	source, err := os.Open(path)
	require.NoError(t, err)
	defer source.Close()
	known := map[string]bool{}
	var digests [][]byte
	lines := bufio.NewScanner(source)
	for len(digests) < 8000 && lines.Scan() {
		password := strings.ToLower(strings.TrimSpace(lines.Text()))
		if len(password) < passwordLeast || known[password] || strings.ContainsFunc(password, func(r rune) bool { return r < ' ' || r > '~' }) {
			continue
		}
		known[password] = true
		digest := sha256.Sum256([]byte(password))
		digests = append(digests, digest[:commonSize])
	}
	require.NoError(t, lines.Err())
	slices.SortFunc(digests, bytes.Compare)
	made := slices.Concat(digests...)
	if flag.Lookup("update").Value.String() == "true" {
		require.NoError(t, os.WriteFile("common_passwords.sha256", made, 0o600))
		return
	}
	require.Equal(t, made, commonPasswords)
}

// Somebody who guesses at the set-up code gets ten tries a minute, and 60 from as
// many addresses as they like; who reads it at the computer gets in after a minute.
func TestTheSetUpCodeIsTriedSlowly(t *testing.T) {
	t.Parallel()
	s, _, now := newServer(t, "WREN-4821")
	answers := setUpAnswers()
	right := answers.Get("code")
	p := newPhone(t, s, nil)
	for range codeTriesFrom {
		p.post("/set-up", with(answers, "code", "SAW-AAAA-AAAA")).says(t, "as it stands at the computer")
	}
	slowed := p.post("/set-up", answers)
	slowed.says(t, "too many tries of the set-up code")
	require.Equal(t, "/set-up", slowed.URL.Path)
	require.True(t, s.codeTries.takeUpTo(codeTriesFrom, codeTriesAll, "10.0.0.1", now.Now()), "another address still may")
	for range codeTriesAll {
		s.codeTries.takeUpTo(codeTriesFrom, codeTriesAll, "10.0.0.2", now.Now())
	}
	require.False(t, s.codeTries.takeUpTo(codeTriesFrom, codeTriesAll, "10.0.0.3", now.Now()))
	now.Advance(time.Minute)
	require.Equal(t, "/published", p.post("/set-up", with(answers, "code", right)).URL.Path)
}

// A code read out over the noise of a mill is typed as it was heard.
func TestTheSetUpCodeIsTakenHoweverItsPartsAreSet(t *testing.T) {
	t.Parallel()
	s, _, now := newServer(t, "SAW-UBMS-QFBO")
	for _, typed := range []string{"saw ubms qfbo", " SAW  UBMS-QFBO ", "sawubmsqfbo"} {
		require.Empty(t, s.tried(t, typed), typed)
	}
	for _, typed := range []string{"", "-", "saw ubms", "saw ubms qfb0", "saw ubms qfbo x"} {
		require.NotEmpty(t, s.tried(t, typed), typed)
	}
	now.Advance(time.Minute)
	bare, _, _ := newServer(t, "")
	require.NotEmpty(t, bare.tried(t, ""), "a mill that is set up has no code")
	require.NotEmpty(t, bare.tried(t, " - "))
}

// tried is what the server says to a set-up code.
func (s *Server) tried(t *testing.T, typed string) plain.Problems {
	t.Helper()
	c := s.app.AcquireCtx(&fasthttp.RequestCtx{})
	defer s.app.ReleaseCtx(c)
	return s.tryCode(c, typed)
}

// The list of what is to be put right says which answers it means, in their order.
func TestSetUpNamesTheAnswersThatAreWrong(t *testing.T) {
	t.Parallel()
	s, _, _ := newServer(t, "WREN-4821")
	wrong := newPhone(t, s, nil).post("/set-up", with(with(with(setUpAnswers(), "headblocks", "0"), "entry_points", "99"), "name", ""))
	require.Equal(t, http.StatusUnprocessableEntity, wrong.Status)
	list := firstProblem(wrong)
	at := -1
	for _, said := range []string{`href="#f-name">Name of the mill: `, `href="#f-headblocks">How many headblocks: 1 to `, `href="#f-entry_points">How many ways in to the carriage&#39;s travel: 1 to `} {
		next := strings.Index(list, said)
		require.Greater(t, next, at, "%s in %s", said, list)
		at = next
	}
}

// Over HTTPS the cookie of language and colours is one that no plain page and no
// other host can set; what was chosen on the plain page holds until then.
func TestTheCookieOfSettingsIsTheHostsOwnOverHTTPS(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := overHTTPS(t, m.server)
	choose := func(language string) *http.Cookie {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, at.https+"/settings/language", strings.NewReader("language="+language))
		require.NoError(t, err)
		request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		reply, err := at.client.Transport.RoundTrip(request)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		require.Len(t, reply.Cookies(), 1)
		return reply.Cookies()[0]
	}
	cookie := choose("fr")
	require.Equal(t, "__Host-stillsaw-settings", cookie.Name)
	require.True(t, cookie.Secure && cookie.HttpOnly && cookie.Path == "/" && cookie.Domain == "")
	says := func(cookies string) string {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, at.https+"/sign-in", nil)
		require.NoError(t, err)
		request.Header.Set("Cookie", cookies)
		reply, err := at.client.Transport.RoundTrip(request)
		require.NoError(t, err)
		defer reply.Body.Close()
		page := make([]byte, 200)
		_, err = reply.Body.Read(page)
		require.NoError(t, err)
		return string(page)
	}
	require.Contains(t, says("stillsaw-settings=language=es; __Host-stillsaw-settings="+cookie.Value), `lang="fr"`)
	require.Contains(t, says("stillsaw-settings=language=es"), `lang="es"`)
}
