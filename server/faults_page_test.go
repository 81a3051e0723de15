package server

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// faultsPage is written from the rows below.
const faultsPage = "../testdata/faults/README.md"

var updateFaults = flag.Bool("update", false, "write the page of faults anew")

// faultRow is a fault that a test brings about.
type faultRow struct {
	fault    string
	trouble  store.Trouble // what is said on the screen, unless sees is given
	sees     string
	lost     string // of what was answered
	recovery string
	tests    []string // that show it
	bare     string   // the test in which the protection is taken away, if it can be
	out      string   // which of the protections is left out for the first test of the row to fail
}

// Said of many faults.
const (
	nothing  = "nothing"
	byItself = "by itself, without a restart; what was not answered is sent again and is there once"
)

// faultRows are the faults, those below SQLite first.
func faultRows() []faultRow {
	return []faultRow{
		{fault: "power cut while sixteen phones send, also while the server starts again after one", sees: "no answer; a phone keeps what it was to send",
			lost: nothing, recovery: "the next start takes up the log; a form sent again is answered as the first time",
			tests: []string{"TestAcknowledgedActsSurviveAPowerCut"}, bare: "TestWithoutSyncAPowerCutLosesWhatWasAnswered"},
		{fault: "one command of several in a shared commit fails half-way", sees: "its own error; the others are answered",
			lost: nothing, recovery: "nothing of it is left", tests: []string{"TestCommandThatFailsHalfWayInASharedCommitLeavesNothing"}, bare: "TestCommandThatFailsHalfWayInASharedCommitLeavesNothing"},
		{fault: "one call to the disk fails, whichever: open, delete, read, write, truncate, sync, size, lock; what a failed sync was to keep may be gone for good",
			trouble: store.DiskFailing, lost: nothing, recovery: byItself, tests: []string{"TestOneCallToTheDiskFails", "TestWhatIsWrongWithTheDiskStandsOnTheScreen"}, out: "errors of the commit answered as done"},
		{fault: "every call to the disk fails from one on", trouble: store.DiskFailing, lost: nothing, recovery: byItself, tests: []string{"TestOneCallToTheDiskFails"}, out: "errors of the commit answered as done"},
		{fault: "the disk is full from one write on", trouble: store.DiskFull, lost: nothing, recovery: byItself, tests: []string{"TestOneCallToTheDiskFails", "TestWhatIsWrongWithTheDiskStandsOnTheScreen"}, out: "errors of the commit answered as done"},
		{fault: "nothing may be written from one call on", trouble: store.DiskReadOnly, lost: nothing, recovery: byItself, tests: []string{"TestOneCallToTheDiskFails", "TestWhatIsWrongWithTheDiskStandsOnTheScreen"}, out: "errors of the commit answered as done"},
		{fault: "the disk fails while the first start makes the database", sees: "nothing; the program ends and names the file at the terminal", lost: nothing,
			recovery: "the next start makes it", tests: []string{"TestFirstStartMeetsAFault"}, out: "one transaction for all steps of an upgrade"},
		{fault: "another program has the database to itself for longer than five seconds", trouble: store.InUse, lost: nothing, recovery: byItself, tests: []string{"TestDatabaseLockedByAnotherProgram", "TestFaultDatabaseKeptByAnotherProgram"}, out: "errors of the commit answered as done"},
		{fault: "the disk is slow", sees: "the page waits; after 30 s it says: That took too long", lost: nothing, recovery: byItself, tests: []string{"TestSlowDisk", "TestErrorPagePromisesNoMoreThanIsTrue"}, out: "the answer waits until it is on the disk"},
		{fault: "the log (`stillsaw.db-wal`) taken away or spoilt while the server is off", sees: "a record that is whole and shorter; a phone or witness that kept a checkpoint says so",
			lost:     "the entries from the spoilt place on, which stood nowhere else: no program can give them back. Without a checkpoint kept elsewhere nobody can tell",
			recovery: "goes on from what is left; a stop of the server folds the log into the file and leaves none", tests: []string{"TestLogTakenAwayOrSpoilt"}},
		{fault: "the file of the database damaged", sees: "the program does not start and names the file at the terminal", lost: "what the damaged places held, until a backup is put back", recovery: "the file is left as it is for whoever looks into it; put back a backup with `stillsaw restore`",
			tests: []string{"TestFileOfTheRecordDamaged"}},
		{fault: "the upgrade of an earlier version's database interrupted: at any statement, by an error or a power cut, and at any call to the disk; from every earlier version", sees: "the program does not start and says at the terminal what failed", lost: nothing,
			recovery: "the database is as it was, and the earlier version opens it still, or it is upgraded whole; the next start finishes it. The copy made before lies beside it", tests: []string{"TestUpgradeInterruptedAtAnyStatementIsFinishedOrWasNotBegun", "TestUpgradeInterruptedAtAnyCallToTheDiskIsFinishedOrWasNotBegun", "TestMillOfAnEarlierStepWorksAfterTheUpgrade"}, out: "one transaction for all steps of an upgrade"},
		{fault: "no room for the copy made before an upgrade", sees: "the program does not start and says at the terminal how much room it takes", lost: nothing,
			recovery: "make room and start it again; the half copy is gone already", tests: []string{"TestUpgradeForWhichThereIsNoRoomIsNotBegunAndSaysHowMuchItTakes"}, out: "the copy before an upgrade must succeed"},
		{fault: "two programs open an earlier version's database at once", sees: "one upgrades it; the other waits five seconds and then says at the terminal that it is in use", lost: nothing,
			recovery: "none needed", tests: []string{"TestOfTwoThatOpenAnOlderDatabaseAtOnceOneUpgradesIt", "TestOlderDatabaseInUseIsNotUpgradedAndSaysWhy"}, out: "looking at the step again once it has the file"},
		{fault: "a database of a newer version", sees: "every command ends and says so at the terminal", lost: nothing,
			recovery: "start the newer version, or put back the copy made before the upgrade; nothing was written", tests: []string{"TestDatabaseOfANewerStillsawIsRefusedInOneLineAndLeftAlone", "TestDatabaseOfANewerStillsawIsRefusedByEveryCommandWithTheReason"}, out: "the refusal of a newer database"},
		{fault: "the program killed (kill -9) while sixteen phones send, also while it starts", sees: "no answer; a phone keeps what it was to send", lost: nothing,
			recovery: "the next start takes up the log, and what was held by the killed one keeps it from nothing; a form sent again is answered as the first time",
			tests:    []string{"TestAcknowledgedActsSurviveKillsUnderTheLoadOfSixteenPhones", "TestLockoutSurvivesBeingKilledInEveryStage"}, bare: "TestKillsFindWhatAProgramWithoutItsProtectionsLosesAndDoubles"},
		{fault: "the file system full under the running program", trouble: store.DiskFull, lost: nothing, recovery: byItself, tests: []string{"TestFaultDiskFull"}, out: "errors of the commit answered as done"},
		{fault: "a file may not grow under the running program: a quota, a limit of the process", trouble: store.DiskFailing, lost: nothing, recovery: byItself, tests: []string{"TestFaultFileMayNotGrow"}, out: "errors of the commit answered as done"},
		{fault: "the disk read-only when the program starts", sees: "nothing; the program does not start and names the folder at the terminal", lost: nothing, recovery: "the next start once it can be written to; `verify` reads it meanwhile", tests: []string{"TestFaultReadOnlyDisk"}, out: "the refusal of a folder that can't be written"},
		{fault: "little memory: 96 MiB told to the collector", sees: "photos of 25 megapixels are taken in and exports sent as always", lost: nothing, recovery: "none is needed", tests: []string{"TestFaultLittleMemory"}},
		{fault: "no memory left", sees: "no answer: the program ends at once and says so in the log", lost: nothing, recovery: "the next start, as after a kill", tests: []string{"TestFaultTooLittleMemory"}},
		{fault: "two servers on one data folder", sees: "nothing; the second ends and says at the terminal that another is at work on the folder", lost: nothing, recovery: "the first goes on; what a killed one leaves keeps nobody out", tests: []string{"TestHeldFolderIsNotTouched", "TestSecondServerOnAFolderRefusesAndTheFirstGoesOn"}, out: "the refusal of a folder that is held"},
		{fault: "the computer's clock jumps back and forward", sees: "what may run is HELD while the clock stands before the newest entry, and why; stops are taken in", lost: nothing,
			recovery: "a supervisor signs that the clock is right; who was signed in longer than fourteen hours by the new time signs in anew", tests: []string{"TestClockJumpsWhilePeopleWork", "TestClockThatRanAheadIsConfirmedByASupervisorsSignature"}, out: "the hold while the clock stands before an entry"},
	}
}

func pageOfFaults() string {
	var page strings.Builder
	page.WriteString(`# What happens when something breaks

Written by a test from its table: run ` + "`go test ./server -run PageOfFaults -update`" + ` after
changing it. Each row is brought about by the tests it names, the sentences are
those of the screens. *Lost* is of what was answered: what was not may be there or
not, and is there once when it is sent again. The last column names the test that
takes the protection away and finds what is lost, or what is left out of the program
by ` + "`STILLSAW_LONG=1 go test ./server -run FaultsAreFoundWithout -v -timeout 1h`" + `,
whereupon the first test of the row fails. Where nothing stands in it the protection
is SQLite's or the system's own.

| fault | what the user sees | lost | recovery | test | seen to fail in |
|---|---|---|---|---|---|
`)
	for _, row := range faultRows() {
		sees := row.sees
		if title, do, ok := troubleWords(row.trouble); ok {
			sees = plain.Say("**%s.** %s", title, do).String()
		}
		bare := row.bare
		switch {
		case bare != "":
			bare = "`" + bare + "`"
		case row.out != "":
			bare = "left out: " + row.out
		}
		fmt.Fprintf(&page, "| %s | %s | %s | %s | `%s` | %s |\n", row.fault, sees, row.lost, row.recovery, strings.Join(row.tests, "` `"), bare)
	}
	page.WriteString(`
What the screen says besides, of something sent: *` + troubleMeanwhile(true).String() + `* The log of the program has the error itself, with the code of SQLite. What was seen and logged with the program running is in [its own table](../../cmd/stillsaw/FAULTS.md).

Power cuts and failing calls happen on a disk in memory
(` + "`server/store/faultydisk`" + `), under the SQLite in Go. It keeps of a file what was synced, of a folder what was there when it was synced, and of the rest sectors of 512
bytes that are there, not there or rubbish, in any order. So this holds where a disk
keeps what it says it has synced; under one that lies about that what was answered
can be lost as in the test that takes the syncing away, and no program can help it.
`)
	return page.String()
}

func TestPageOfFaultsIsWhatTheTestsGive(t *testing.T) {
	page := pageOfFaults()
	if *updateFaults {
		require.NoError(t, os.MkdirAll(filepath.Dir(faultsPage), 0o755))
		require.NoError(t, os.WriteFile(faultsPage, []byte(page), 0o644))
	}
	kept, err := os.ReadFile(faultsPage)
	require.NoError(t, err)
	require.Equal(t, page, string(kept), "run go test ./server -run PageOfFaults -update")
}

// A row whose test is gone says nothing any more.
func TestEveryFaultOfThePageHasItsTest(t *testing.T) {
	folders := testFolders(t)
	for _, row := range faultRows() {
		require.NotEmpty(t, row.tests, row.fault)
		for _, test := range row.tests {
			require.Contains(t, folders, test, row.fault)
		}
		require.True(t, row.bare == "" || folders[row.bare] != "", row.bare)
		_, _, said := troubleWords(row.trouble)
		require.NotEqual(t, said, row.sees != "", "%s: either words of the screen or a description", row.fault)
	}
}

// testFolders are the folders below the top of the tests that faults are brought
// about by, by the tests' names.
func testFolders(t *testing.T) map[string]string {
	folders := map[string]string{}
	declared := regexp.MustCompile(`(?m)^func (Test\w+)\(`)
	for _, folder := range []string{"server", "server/store", "cmd/stillsaw"} {
		files, err := filepath.Glob(filepath.Join("..", folder, "*_test.go"))
		require.NoError(t, err)
		for _, file := range files {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			for _, found := range declared.FindAllSubmatch(text, -1) {
				folders[string(found[1])] = folder
			}
		}
	}
	return folders
}
