package store

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const tamperPage = "../../testdata/tampering/README.md"

// whyNot are the reasons why something can't be caught, by the letters the rows
// of the tables use.
func whyNot() map[string]string {
	return map[string]string{
		"a": "What was changed stands beside the entries, where this does not look.",
		"b": "A phone goes by the hashes, and those it is shown were left as they were.",
		"c": "The tables made from the entries are compared by `-rebuild` alone.",
		"d": "It is about entries younger than what is held.",
		"e": "The record was made whole again within itself. Only what somebody keeps elsewhere shows it.",
		"f": "An export made afterwards is one of the altered record: its proofs fit it, and the mill's key signs what stands there.",
		"g": "Whether a drop was anybody's to make is judged in the database alone.",
		"h": "The entries are what they were; this goes by the entries.",
		"i": "It follows from no entry and is no part of the record.",
		"j": "It stands outside the log, which is all this looks at.",
		"k": "Nothing else says how many checkpoints were put by.",
		"l": "An entry written at the end by somebody with the file in hand is an entry like any other. A drop is believed only where a supervisor, or the policy then in force, could have made it, so it bears such a name, whoever wrote it; whether what it names was open then is not judged.",
		"m": "What an entry says to be dropped and what is kept are held against each other in the database alone.",
		"n": "The phone gets no answer, which is no alarm; its page Verify says when it heard last.",
		"o": "Gaps in the numbers are all that shows: which entries belong to a selection can't be told without the others.",
		"p": "Whose key it is can't be seen from the file.",
		"q": "What it says is true; only the signature is not the mill's.",
		"r": "It is the mill's own signature. Only that there are two shows it.",
		"s": "What an export says of itself, beside the entries, is the word of whoever sealed it.",
	}
}

func TestTamperingPageIsWhatTheTestsGive(t *testing.T) {
	page := pageOfTampering()
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(tamperPage), 0o755))
		require.NoError(t, os.WriteFile(tamperPage, []byte(page), 0o644))
	}
	kept, err := os.ReadFile(tamperPage)
	require.NoError(t, err)
	require.Equal(t, page, string(kept), "run go test ./server/store -run TamperingPage -update")
}

// A reason no row gives is none.
func TestEveryReasonOfTheTamperingPageIsUsed(t *testing.T) {
	page := pageOfTampering()
	for letter := range whyNot() {
		require.Contains(t, page, "| no ("+letter+") ", letter)
	}
}

// spoken is a cell: what is found and where, or that nothing can be.
func spoken(want string) string {
	if _, not := whyNot()[want]; not {
		return "no (" + want + ")"
	}
	if want == "=" {
		return "**yes**, the same"
	}
	said := strings.NewReplacer("{end}", "after the end", "{last}", "last entry", "Entry {signed#} is", "it is", "Entry {photographed#} is", "it is", "The export was asked for everything", "not in an export of everything",
		"The checkpoint to hold it against has another root", "another root", "The checkpoint to hold it against is of another mill", "of another mill", "record: ", "").Replace(want)
	said = regexp.MustCompile(`\{[a-z]+\}`).ReplaceAllString(said, "entry")
	return "**yes**, " + strings.TrimRight(said, ": ")
}

func tableOfCells(b *strings.Builder, columns []string, rows [][]string) {
	fmt.Fprintf(b, "| %s |\n|%s\n", strings.Join(columns, " | "), strings.Repeat("---|", len(columns)))
	for _, row := range rows {
		fmt.Fprintf(b, "| %s |\n", strings.Join(row, " | "))
	}
	b.WriteString("\n")
}

// cells are a row; one that finds what the one before it finds says so. A reason is
// always told, since another may be meant.
func cells(what string, want ...string) []string {
	row := []string{what}
	for i, one := range want {
		if i > 0 && one == want[i-1] && len(one) > 1 {
			one = "="
		}
		row = append(row, spoken(one))
	}
	return row
}

func pageOfTampering() string {
	var b, body strings.Builder
	count := 0
	section := func(title string, columns []string, rows [][]string) {
		fmt.Fprintf(&body, "### %s\n\n", title)
		tableOfCells(&body, columns, rows)
		count += len(rows)
	}
	names := []string{"altered"}
	for _, h := range holders() {
		names = append(names, h.name)
	}
	body.WriteString("## The database\n\n")
	for _, group := range tamperings() {
		var rows [][]string
		for _, row := range group.rows {
			rows = append(rows, cells(row.what, row.want[:]...))
		}
		section("Altered "+group.who, names, rows)
	}
	names = []string{"altered"}
	for _, h := range exportHolders() {
		names = append(names, h.name)
	}
	body.WriteString("## An export\n\nOf everything, unless a row says otherwise; held against one made before that asked for the same.\n\n")
	for _, group := range exportTamperings() {
		var rows [][]string
		for _, row := range group.rows {
			rows = append(rows, cells(row.what, row.want[:]...))
		}
		section("Made or altered "+group.who, names, rows)
	}
	var rows [][]string
	for _, row := range zipTamperings() {
		rows = append(rows, []string{row.what, "**yes**, " + strings.SplitN(row.want, ": ", 2)[0]})
	}
	section("What lies beside it in its ZIP", []string{"altered", "the ZIP"}, rows)
	names, rows = []string{"altered"}, nil
	for _, h := range checkpointHolders() {
		names = append(names, h.name)
	}
	for _, row := range checkpointTamperings() {
		rows = append(rows, cells(row.what, row.want[:]...))
	}
	body.WriteString("## A checkpoint somebody kept\n\n")
	section("Altered, and held against", names, rows)
	body.WriteString("## Why not\n\n")
	for _, letter := range slices.Sorted(maps.Keys(whyNot())) {
		fmt.Fprintf(&body, "- **%s** %s\n", letter, whyNot()[letter])
	}
	fmt.Fprintf(&b, `# What a check of the record can show, and what not

Written by a test from its table: run `+"`go test ./server/store -run TamperingPage -update`"+` after
a change. %d alterations, each carried out on a small mill and looked at by
everybody who could know (`+"`TestEveryTamperingIsCaughtByWhoCanCatchIt`"+`): every *yes* names
the place it was found at, every *no* its reason. Untouched, all of them find nothing.

A record is not a lock. That nothing was changed since does not make what was
entered true.

**Who looks, and with what**

- *The database*: `+"`stillsaw verify`"+`, or *Check the whole record* on the page Verify.
- *And -rebuild*: `+"`stillsaw verify -rebuild`"+`, with the database as well.
- *A checkpoint*: one noted down or printed, held against the database by `+"`verify -checkpoint`"+`
  or on the page Verify. What it adds; whoever has the database has the first column, too.
- *A phone*: which keeps the newest checkpoint it met and has each later one proven to
  go on from it. It saw the record a little later than the checkpoint was noted.
- *A witness's folder*: checkpoints put on another disk as the record grew, the newest
  younger than what the phone saw.
- *An export from before*: of everything, as old as the checkpoint, held against a new
  one (`+"`verify OLD NEW`"+`), and its checkpoint against the database (`+"`verify -checkpoint OLD`"+`).
- *A new export*: made of the altered database and checked by itself.
- *And the key*: the same, and its reader knows the fingerprint of the mill's key.

`, count)
	b.WriteString(body.String())
	b.WriteString(unknowable)
	return b.String()
}

const unknowable = `
## What nobody can find out

- **The holder of the key rewrites everything, and nobody kept anything.** Whoever has
  the computer has the key, and can make another record that is whole in itself. What
  helps: somebody outside keeps something. Phones do so by themselves; set up a witness
  (another mill's Stillsaw, a disk in another room, a mail to the insurer); print the
  checkpoint, sign it and file it.
- **The checkpoints kept in the database are removed.** They lie where the record lies.
  They find a careless hand, not a careful one. What helps: the same.
- **An older copy is put back, and nothing newer is kept elsewhere.** A restored backup
  and a record cut back look alike, and to the last entry that anybody saw, nothing is
  missing. What helps: a witness that is given checkpoints every few minutes, and a
  restore told to those who look later.
- **What was untrue when it was entered.** An inspection signed without looking is an
  inspection. What helps: photos, readings that must fit those before, somebody who
  walks along, the times an inspection took.
- **Who sat at the phone.** Whoever is signed in as somebody acts as that person, and so
  does whoever writes to the file. What helps: own PINs, asked for again where something
  is signed; phones that are locked; asking the person.
- **A clock turned back before something is entered.** The time is the server's. Entries
  stand in their order whatever it says, and the record says where it ran back; the
  phone's own clock stands beside it where it told one. What helps: a witness whose
  signature has its own time.
- **Entries left out of an export of some.** Only the gaps in the numbers show, and gaps
  are lawful there. What helps: ask for everything, or for the same twice, from two
  people; compare with the database.
- **What an export says of itself.** The mill's name on it, who asked and what was kept
  back are the word of whoever sealed it; the mill's id, its key and the entries are
  proven. What helps: go by those, and by the counts of what is left out.
- **Secrets and work under way.** PINs, sessions, drafts, half-walked lists and mail
  settings stand in no entry; altered, they let somebody in or lose work, and the record
  says nothing of it. What helps: the computer's own locks and its backups.
- **Two records at once.** A server made to show phones one record and an inspector
  another passes with each of them alone. What helps: hold a phone's checkpoint (page
  Verify, *What this phone or computer has kept itself*) against the inspector's export.
`
