package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server"
	"stillsaw/server/store"
)

// called is what one call of the program came to.
type called struct {
	status   int
	out, err string
}

func callIt(t *testing.T, args ...string) called {
	t.Helper()
	var out, errOut bytes.Buffer
	status := run(t.Context(), args, &out, &errOut)
	return called{status, out.String(), errOut.String()}
}

// failed requires one clear line on the error output, nothing else, and the status.
func (c called) failed(t *testing.T, status int, says ...string) {
	t.Helper()
	require.Equal(t, status, c.status, c.out+c.err)
	require.Equal(t, 1, strings.Count(c.err, "\n"), c.err)
	require.True(t, strings.HasPrefix(c.err, "stillsaw: "), c.err)
	for _, text := range says {
		require.Contains(t, c.err, text)
	}
}

func TestAReaderOfTheGroupPageNeedsAName(t *testing.T) {
	for _, args := range [][]string{{"reader"}, {"reader", "-remove"}, {"reader", "Ines", "Vale"}, {"readers", "Ines"}} {
		c := callIt(t, append([]string{"mills", "-db", "postgres://nobody@127.0.0.1:1/none"}, args...)...)
		require.Equal(t, exitUsage, c.status, args)
		require.Contains(t, c.err, "reader -remove NAME", args)
		require.Contains(t, c.out, "reader NAME", args)
	}
	require.Regexp(t, `^([A-Z2-7]{4}-){3}[A-Z2-7]{4}$`, readerPassword())
	require.NotEqual(t, readerPassword(), readerPassword())
}

func TestHelpTellsEveryCommandAndFlag(t *testing.T) {
	c := callIt(t, "-h")
	require.Equal(t, exitOK, c.status)
	require.Empty(t, c.err)
	for _, word := range []string{"demo", "backup", "verify", "new-pin", "-addr", "-data"} {
		require.Contains(t, c.out, word)
	}
	require.Equal(t, exitOK, callIt(t, "verify", "-h").status)
}

func TestCallThatIsNotUnderstoodIsOneLine(t *testing.T) {
	callIt(t, "-port", "80").failed(t, exitUsage, "-port", "-h")
	callIt(t, "sharpen").failed(t, exitUsage, "sharpen", "-h")
	callIt(t, "verify", "-data").failed(t, exitUsage, "-data")
	callIt(t, "verify", "-addr", ":1").failed(t, exitUsage, "-addr")
	callIt(t, "restore").failed(t, exitUsage, "FROM")
	callIt(t, "backup", "a", "b").failed(t, exitUsage, "one word too many")
	callIt(t, "new-pin").failed(t, exitUsage, "NAME")
	callIt(t, "-data", t.TempDir(), "surplus").failed(t, exitUsage, "surplus")
}

func TestTakenPortIsNamed(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer listener.Close()
	addr := listener.Addr().String()
	dir := t.TempDir()
	callIt(t, "-addr", addr, "-data", dir).failed(t, exitWrong, addr, "taken", "-addr")
	require.NoFileExists(t, filepath.Join(dir, store.FileName+"-wal"), "the database was closed again")
	callIt(t, "-addr", "nonsense", "-data", t.TempDir()).failed(t, exitWrong, "nonsense")
}

func TestFolderThatCannotBeUsedIsNamed(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a-file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	callIt(t, "-data", file, "-addr", "127.0.0.1:0").failed(t, exitWrong, file)
	under := filepath.Join(file, "below")
	callIt(t, "-data", under, "-addr", "127.0.0.1:0").failed(t, exitWrong, under)
	if _, err := os.Stat("/proc/self"); err == nil { // not even root writes there
		callIt(t, "-data", "/proc/self", "-addr", "127.0.0.1:0").failed(t, exitWrong, "/proc/self", "can't be written to")
	}
}

func TestNewerDatabaseIsRefused(t *testing.T) {
	dir := preparedMill(t)
	alter(t, dir, "INSERT INTO migrations (number, name) VALUES (9999, 'later')")
	for _, args := range [][]string{{"-data", dir, "-addr", "127.0.0.1:0"}, {"verify", "-data", dir}, {"new-pin", "-data", dir, "Ada Rook"}} {
		callIt(t, args...).failed(t, exitWrong, dir, "newer Stillsaw")
	}
}

func TestWhereThereIsNoDatabaseNoneIsMade(t *testing.T) {
	dir := t.TempDir()
	for _, args := range [][]string{{"verify", "-data", dir}, {"new-pin", "-data", dir, "Ada"}, {"backup", "-data", dir, filepath.Join(dir, "copy.db")}} {
		callIt(t, args...).failed(t, exitWrong, "there is no database in "+dir)
	}
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, left)
}

// Secrets of the people of a prepared mill.
const (
	samsPassword = "green oak cant"
	crewsPIN     = "4071"
)

func crew() []procedures.Person {
	var people []procedures.Person
	for _, name := range []string{"Ada Rook", "Ben Lind", "Cleo Marsh", "Dov Arden", "Elin Falk", "Finn Grove", "Gus Hale", "Hedda Ives"} {
		people = append(people, procedures.Person{ID: procedures.PersonID(strings.ToLower(name[:strings.Index(name, " ")])), Name: name, Role: procedures.Operator, Authorized: true})
	}
	return people
}

// preparedMill is a data folder with a mill set up yesterday, its crew, and its
// starter lists and procedures in force.
func preparedMill(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	yesterday := time.Now().Add(-24 * time.Hour)
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	mill := checklists.Mill{
		ID: checklists.MillID(store.NewID()), Name: "Fernhollow", Zone: "America/New_York", Units: checklists.InchPound,
		SetUp: checklists.SetUp{Law: "us-federal", Drive: "electric", Feed: "mandrel", Dogs: "hand", Headblocks: 2, EntryPoints: 2,
			Hoist: "electric", Collector: "cyclone", SawDiameter: 1.3208, SpindleSpeed: 600},
		Shifts: []checklists.Shift{{Name: "Day", Start: 7 * 60, End: 15*60 + 30, Days: []time.Weekday{1, 2, 3, 4, 5}}},
	}
	sam := procedures.Person{ID: "sam", Name: "Sam Ordway", Role: procedures.Supervisor, Authorized: true}
	digest, err := server.Hash(samsPassword)
	require.NoError(t, err)
	set, err := server.Starter(mill, sam, digest, yesterday)
	require.NoError(t, err)
	require.NoError(t, st.SetUp(t.Context(), set))
	desk := st.Of(mill.ID)
	pin, err := server.Hash(crewsPIN)
	require.NoError(t, err)
	for _, p := range crew() {
		require.NoError(t, desk.KeepPerson(t.Context(), store.NewID(), p, pin, sam, yesterday))
	}
	for _, d := range set.Drafts {
		number := map[store.Sort]func(string, int) (string, error){store.Procedures: store.NumberProcedure, store.Rigs: store.NumberRig}[d.Sort]
		require.NoError(t, desk.Publish(t.Context(), store.NewID(), d.Sort, d.ID, 1, sam, yesterday, number))
	}
	for _, p := range crew() {
		training := procedures.OwnTraining(p, starters(t, set), yesterday)
		training.OwnWord, training.Trainer = false, "Sam Ordway"
		_, err := desk.EnterTraining(t.Context(), store.NewID(), training, sam, yesterday)
		require.NoError(t, err)
	}
	require.NoError(t, st.Close())
	return dir
}

// starters are the procedures a mill is set up with.
func starters(t *testing.T, set store.SetUp) []procedures.Procedure {
	t.Helper()
	var all []procedures.Procedure
	for _, d := range set.Drafts {
		if d.Sort == store.Procedures {
			var p procedures.Procedure
			require.NoError(t, json.Unmarshal([]byte(d.Doc), &p))
			all = append(all, p)
		}
	}
	return all
}

// crewsEntry is where in the record the first of the crew was entered.
func crewsEntry(t *testing.T, dir string) int64 {
	t.Helper()
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	entries, _, err := st.Of(mill.ID).Entries(t.Context(), store.Filter{Kind: store.KindPerson, Limit: 99})
	require.NoError(t, err)
	require.Greater(t, len(entries), 1)
	return entries[len(entries)-2].Seq
}

// driverHere is the driver of this build.
func driverHere() string {
	if pure := "sqlite"; slices.Contains(sql.Drivers(), pure) { // built without a C compiler, with a stub of the other
		return pure
	}
	return "sqlite3"
}

// alter changes a database as somebody with the file in hand could.
func alter(t *testing.T, dir, statement string) {
	t.Helper()
	db, err := sql.Open(driverHere(), filepath.Join(dir, store.FileName))
	require.NoError(t, err)
	done, err := db.ExecContext(t.Context(), statement)
	require.NoError(t, err)
	changed, err := done.RowsAffected()
	require.NoError(t, err)
	require.Positive(t, changed)
	require.NoError(t, db.Close())
}

func TestVerifyIsCleanUntilSomebodyAltersAnEntry(t *testing.T) {
	dir := preparedMill(t)
	c := callIt(t, "verify", "-data", dir)
	require.Equal(t, exitOK, c.status, c.out)
	require.Contains(t, c.out, "Clean")
	seq := crewsEntry(t, dir)
	alter(t, dir, fmt.Sprintf("UPDATE entries SET actor = 'ben' WHERE seq = %d", seq))
	c = callIt(t, "verify", "-data", dir)
	require.Equal(t, exitWrong, c.status)
	require.Contains(t, c.out, fmt.Sprintf("entry %d (person ", seq))
	require.Contains(t, c.out, "NOT CLEAN")
	require.NotContains(t, c.out, "Clean:")
}

// What a mill's file can lose without an entry being touched.
func TestVerifyIsNotCleanWhereEvidenceIsGone(t *testing.T) {
	dir := preparedMill(t)
	seq := crewsEntry(t, dir)
	entry := fmt.Sprintf("entry %d (person ", seq)
	whole, err := os.ReadFile(filepath.Join(dir, store.FileName))
	require.NoError(t, err)
	for statement, says := range map[string][]string{
		fmt.Sprintf("DELETE FROM openings WHERE seq IN (1, %d)", seq): {"entry 1 (", entry, "personal value", "personal values are not kept.\n"},
		"DELETE FROM openings": {entry, "personal values are not kept.\n"},
		fmt.Sprintf("UPDATE entries SET day = '2020-01-01' WHERE seq = %d", seq): {entry, "day"},
		"UPDATE entry_equipment SET equipment = 'x' || equipment":                {"entry 2 (equipment ", "equipment"},
		"DELETE FROM log_heads": {"NOT CLEAN"},
	} {
		other := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(other, store.FileName), whole, 0o600))
		alter(t, other, statement)
		c := callIt(t, "verify", "-data", other)
		require.Equal(t, exitWrong, c.status, statement)
		for _, words := range says {
			require.Contains(t, c.out, words, statement)
		}
		require.NotContains(t, c.out, "Clean:", statement)
	}
}

func TestVerifySaysWhatItDoesNotCompare(t *testing.T) {
	dir := preparedMill(t)
	require.Contains(t, callIt(t, "verify", "-data", dir).out, "Not compared: the tables made from the entries, such as open defects")
}

func TestVerifyOfADatabaseWithoutAMillIsNotClean(t *testing.T) {
	dir := t.TempDir()
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	require.NoError(t, st.Close())
	c := callIt(t, "verify", "-data", dir)
	require.Equal(t, exitWrong, c.status)
	require.Contains(t, c.out, "no mill is set up in this database")
	require.NotContains(t, strings.ToLower(c.out), "clean")
}

// blanksUnpacked gives each place where nothing was written a row of openings, as those
// before step 32 did.
const blanksUnpacked = `INSERT INTO openings (mill, seq, path, salt, value)
	WITH RECURSIVE part (mill, seq, path, rest, salt, salts) AS (
		SELECT mill, seq, '', blank_paths || char(10), x'', blank_salts FROM entries WHERE blank_paths <> ''
		UNION ALL
		SELECT mill, seq, substr(rest, 1, instr(rest, char(10)) - 1), substr(rest, instr(rest, char(10)) + 1), substr(salts, 1, 32), substr(salts, 33) FROM part WHERE rest <> '')
	SELECT mill, seq, path, salt, '' FROM part WHERE path <> '';
	ALTER TABLE entries DROP COLUMN blank_paths; ALTER TABLE entries DROP COLUMN blank_salts; `

func TestVerifyTellsOfAnOlderDatabaseAndLeavesIt(t *testing.T) {
	dir := preparedMill(t)
	alter(t, dir, blanksUnpacked+"DROP TABLE search_gaps; DROP TABLE search_words; DROP TABLE search_places; DROP TABLE unsigned_walks; DROP TABLE walk_saves; DROP TABLE walk_names; DROP TABLE lift_waits; DROP TABLE settings; DROP TABLE backup_places; DROP TABLE backup_secrets; DROP TABLE backup_states; DROP INDEX lockouts_held; DROP INDEX inspections_signed; DROP TABLE signed_days; ALTER TABLE inspections DROP COLUMN day; ALTER TABLE inspections DROP COLUMN version; ALTER TABLE inspections DROP COLUMN began; ALTER TABLE inspections DROP COLUMN late; ALTER TABLE lockouts DROP COLUMN ended; ALTER TABLE lockouts DROP COLUMN holds; DROP INDEX walk_answers_found; ALTER TABLE walk_answers DROP COLUMN found; DELETE FROM migrations WHERE number > 22")
	before, err := os.ReadFile(filepath.Join(dir, store.FileName))
	require.NoError(t, err)
	c := callIt(t, "verify", "-data", dir)
	require.Equal(t, exitOK, c.status, c.out+c.err)
	require.Contains(t, c.out, "An earlier Stillsaw left this database (step 22 of ")
	after, err := os.ReadFile(filepath.Join(dir, store.FileName))
	require.NoError(t, err)
	require.Equal(t, before, after)
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, files, 1, "no copy, no log")
}

func TestBackupIsWrittenOnceAndVerifies(t *testing.T) {
	dir, other := preparedMill(t), t.TempDir()
	file := filepath.Join(other, store.FileName)
	c := callIt(t, "backup", "-data", dir, file)
	require.Equal(t, exitOK, c.status, c.err)
	require.Contains(t, c.out, file)
	require.Equal(t, exitOK, callIt(t, "verify", "-data", other).status)
	callIt(t, "backup", "-data", dir, file).failed(t, exitWrong, file, "is there already")
}

func TestNewPINSignsInAndIsOnTheRecord(t *testing.T) {
	dir := preparedMill(t)
	c := callIt(t, "new-pin", "-data", dir, "ada rook")
	require.Equal(t, exitOK, c.status, c.err)
	pin := regexp.MustCompile(`New for Ada Rook: (\d{6})\n`).FindStringSubmatch(c.out)
	require.NotNil(t, pin, c.out)
	c = callIt(t, "new-pin", "-data", dir, "Sam Ordway")
	password := regexp.MustCompile(`New for Sam Ordway: (\S{10,})\n`).FindStringSubmatch(c.out)
	require.NotNil(t, password, "a supervisor gets a password: %s", c.out)
	callIt(t, "new-pin", "-data", dir, "Nobody").failed(t, exitWrong, "Nobody", "Ada Rook")

	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	entries, _, err := st.Of(mill.ID).Entries(t.Context(), store.Filter{Kind: store.KindPINReset, Limit: 1})
	require.NoError(t, err)
	require.Equal(t, store.PINReset{Person: "sam", How: "at-the-pc"}, entries[0].Body)
	_, leaf, err := st.Of(mill.ID).Leaf(t.Context(), entries[0].Seq)
	require.NoError(t, err)
	require.NotContains(t, string(leaf), password[1])
	require.NoError(t, st.Close())

	s := serving(t, dir)
	require.Empty(t, s.phone(t).signIn(crew()[0].ID, crewsPIN), "the old PIN is no longer it")
	require.NotEmpty(t, s.phone(t).signIn(crew()[0].ID, pin[1]))
	require.NotEmpty(t, s.phone(t).signIn("sam", password[1]))
}

func TestNewPINLeavesWhatAServerHasUnderWay(t *testing.T) {
	dir := preparedMill(t)
	under := filepath.Join(dir, "exporting", "stillsaw-1")
	require.NoError(t, os.Mkdir(filepath.Dir(under), 0o700))
	require.NoError(t, os.WriteFile(under, []byte("half"), 0o600))
	require.Equal(t, exitOK, callIt(t, "new-pin", "-data", dir, "Ben Lind").status)
	require.FileExists(t, under)
	serving(t, dir)
	require.NoFileExists(t, under, "a server that starts is alone, and clears what was left")
}

func TestSetUpCodeIsPrintedUntilThereIsAMill(t *testing.T) {
	fresh := serving(t, t.TempDir())
	require.Regexp(t, `Set-up code, for the first supervisor: SAW-\S+-\S+`, fresh.printed())
	require.Contains(t, fresh.printed(), "/set-up")
	require.NotContains(t, serving(t, preparedMill(t)).printed(), "Set-up code")
}

func TestAddressesOfPhonesAreThoseBoundTo(t *testing.T) {
	require.Nil(t, phoneAddresses(&net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 1}))
	require.Equal(t, []string{"10.0.0.7"}, phoneAddresses(&net.TCPAddr{IP: net.IPv4(10, 0, 0, 7), Port: 1}))
	var out bytes.Buffer
	call{out: &out}.announce(&net.TCPAddr{IP: net.IPv4(10, 0, 0, 7), Port: 8090}, nil, nil, "SAW-AB23-CD45")
	require.Contains(t, out.String(), "http://10.0.0.7:8090/set-up")
	require.Contains(t, out.String(), "█", "a code for the phone's camera")
}

func TestSetUpCodeCanBeReadOut(t *testing.T) {
	require.Regexp(t, `^SAW-[A-Z2-7]{4}-[A-Z2-7]{4}$`, setUpCode())
	require.NotEqual(t, setUpCode(), setUpCode())
}

func TestDemoOpensAnInventedMillOfItsOwn(t *testing.T) {
	if testing.Short() {
		t.Skip("writes weeks of history")
	}
	t.Setenv("TMPDIR", t.TempDir())
	ctx, cancel := context.WithCancel(t.Context())
	s := servingWith(ctx, t, "demo", "-addr", "127.0.0.1:0")
	require.Contains(t, s.printed(), "Sign in as:")
	require.NotContains(t, s.printed(), "Set-up code")
	cancel()
	require.Equal(t, exitOK, <-s.ended)
	dirs, err := filepath.Glob(filepath.Join(os.TempDir(), "stillsaw-demo-*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	c := callIt(t, "verify", "-data", dirs[0])
	require.Equal(t, exitOK, c.status, c.out+c.err)
}
