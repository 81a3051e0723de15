package server

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
	"stillsaw/server/store"
	"stillsaw/views"
)

// Pages render with nothing in them and with what goes wrong seldom, so that no
// first page of a mill and no damaged record ends in an error page.
func TestOfficePagesRenderEmptyAndWithWhatIsRare(t *testing.T) {
	assets, err := views.NewAssets()
	require.NoError(t, err)
	engine, err := views.NewEngine(assets)
	require.NoError(t, err)
	frame := func() *views.Frame { return &views.Frame{Title: plain.Say("a title")} }
	touched := record.Report{Entries: 3, FaultCount: 2}
	for _, tc := range []struct {
		name string
		page any
		says string
	}{
		{"record", recordPage{Frame: frame()}, "No entry of the record matches."},
		{"record", recordPage{Frame: frame(), Glance: &dayGlance{}}, "No lift was kept."},
		{"record", recordPage{Frame: frame(), Entries: []entryLine{{Seq: 4, told: told{Said: plain.Say("%s", "<b>bold</b>")}}}}, "&lt;b&gt;bold&lt;/b&gt;"},
		{"entry", entryPage{Frame: frame()}, "does not stand at its place"},
		{"entry", entryPage{Frame: frame(), Proven: true, Happened: "Monday", Head: "root"}, "Monday"},
		{"verify", verifyPage{Frame: frame()}, "Check the whole record now"},
		{"verify", verifyPage{Frame: frame(), Signed: true, Exposed: true, Supervises: true, Text: "stillsaw/x", Fingerprint: "0000 1111 2222 3333", Keys: []keyLine{{Fingerprint: "0000 1111 2222 3333", InUse: true, Said: plain.Say("in passing"), Href: "/record/7"}},
			Kept: []keptLine{{Size: 7, Why: plain.Say("in passing")}}, Compared: []comparedLine{{Outcome: store.InAccord, Said: plain.Say("in passing"), Key: "0000 1111 2222 3333"}, {Said: plain.Say("when Stillsaw stopped")}}}, "Signed with the key 0000 1111 2222 3333."},
		{"verify", verifyPage{Frame: frame(), Report: &touched, More: 12}, "12 more faults are not listed."},
		{"verify", verifyPage{Frame: frame(), Report: &touched, Faults: []faultLine{{What: plain.Say("Entry %d is missing.", 7)}, {Href: "/record/7", What: plain.Say("There is a second entry %d.", 7)}}}, "Entry 7 is missing."},
		{"published", publishedPage{Frame: frame()}, "<h1>"},
		{"list", listPage{Frame: frame(), Draft: true}, "nobody has published it"},
		{"list-edit", listEditPage{Frame: frame()}, "A new section"},
		{"list-item", listItemPage{Frame: frame()}, "Keep the item"},
		{"list-conflict", conflictPage{Frame: frame()}, "Both say the same."},
		{"list-compare", listComparePage{Frame: frame()}, "They say the same."},
		{"list-publish", listPublishPage{Frame: frame()}, "Publish this list"},
		{"list-publish", listPublishPage{Frame: frame(), InForce: 2}, "There is nothing to publish."},
		{"list-versions", versionsPage{Frame: frame(), Versions: []versionLine{{Version: 3, Repeats: 1}}}, "As version 1 was."},
		{"lists", listsPage{Frame: frame(), Empty: frame().EmptyList("There is no list yet.", "", "")}, "There is no list yet."},
		{"list-new", newListPage{Frame: frame()}, "Begin the list"},
		{"list-import", importPage{Frame: frame()}, "Take it as a draft"},
		{"people", peoplePage{Frame: frame()}, "Change my own PIN"},
		{"person", personPage{Frame: frame(), Self: true, Secret: true}, "signs you out everywhere"},
		{"person", personPage{Frame: frame(), Deputy: true}, "A deputy may add an operator"},
		{"person", personPage{Frame: frame(), Deputy: true, Closed: true}, "Only a supervisor changes"},
		{"signed-in", sessionsPage{Frame: frame(), This: "now"}, "nowhere else"}, {"signed-in", sessionsPage{Frame: frame(), This: "now", Elsewhere: []views.Tick{{Value: "a", Text: "Firefox on Linux"}}}, "Sign me out there"},
		{"own-pin", ownPINPage{Frame: frame()}, "The new one again"},
		{"equipment", equipmentPage{Frame: frame(), Pieces: []plantPiece{{Name: "Hoist"}}}, "nothing else"},
		{"piece", piecePage{Frame: frame()}, "Remove it"},
		{"machine", machinePage{Frame: frame(), Piece: plantPiece{Name: "Hoist"}}, "No energy is registered yet."},
		{"machine", machinePage{Frame: frame(), Edit: true, Piece: plantPiece{Name: "Hoist", Acts: []plain.Sentence{plain.Say("a")}, Lockout: []string{"Saw"}, Stop: []string{"Saw"}}, Unlockable: []plain.Sentence{plain.Say("b")},
			Energies: []registerEnergy{{Source: "motor", Turns: true, Coast: 90 * time.Second, Stored: true, Relief: "Wait.", Recheck: time.Hour}}, Affected: []atWorkLine{{Name: "Ada Rook", Gaps: []procedures.Gap{{Why: plain.Say("c"), Clause: "d"}}}},
			Devices: []registerDevice{{Number: 3, Label: "Disconnect", Photo: &markedPhoto{Address: "/photos/x", Width: 40, Height: 30, Marked: true, Number: 3}, Point: "/point"}}, Written: []writtenLine{{Frame: frame(), Title: "Hoist", Wrong: []plain.Sentence{plain.Say("e")}}}}, "proven again at least every"},
		{"register-energy", registerPart{Frame: frame(), New: true}, "Keep"},
		{"register-device", registerPart{Frame: frame(), Photo: &markedPhoto{}, PhotoKept: "x"}, "Remove it from the register"},
		{"device-point", pointPage{Frame: frame(), Photo: &markedPhoto{}}, "Tap the photo"},
		{"affected", affectedPage{Frame: frame()}, "They work there"},
		{"coast", coastPage{Frame: frame()}, "the last three counts"},
		{"coast", coastPage{Frame: frame(), Turning: []turningLine{{Source: "fan"}, {Source: "saw", Coast: time.Minute, History: []coastLine{{By: "Ada Rook", Count: true}, {}}}}, Written: []writtenLine{{Frame: frame(), Title: "Saw"}}}, "Not yet measured."},
		{"new-piece", newPiecePage{Frame: frame()}, "It is held from the start"},
		{"mill", millPage{Frame: frame()}, "Lists of every shift"},
	} {
		var out bytes.Buffer
		require.NoError(t, engine.Render(&out, tc.name, tc.page), tc.name)
		require.Contains(t, out.String(), tc.says, tc.name)
	}
}
