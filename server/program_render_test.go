package server

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// The supervisor's pages render with nothing in them and with what is seldom.
func TestProgramPagesRenderEmptyAndFull(t *testing.T) {
	assets, err := views.NewAssets()
	require.NoError(t, err)
	engine, err := views.NewEngine(assets)
	require.NoError(t, err)
	day := time.Date(2026, 3, 3, 5, 0, 0, 0, time.UTC)
	frame := func() *views.Frame { return &views.Frame{Title: plain.Say("a title")} }
	gap := procedures.Gap{Why: plain.Say("never trained on this procedure"), Clause: procedures.Clause("(c)(7)(i)(A)")}
	item := procedures.LockItem{Number: "K-7", Kind: procedures.KeyedPadlock, Condition: procedures.LockGood, Retired: day}
	refusal := plain.Refuse(procedures.Clause("(c)(6)(i)(A)"), "Nobody else uses it.")
	done := &procedures.ActionDone{Note: "Mended <it>", At: day}
	for _, tc := range []struct {
		name string
		page any
		says string
	}{
		{"training", trainingPage{Frame: frame()}, "Nobody is authorized to lock out"},
		{"training", trainingPage{Frame: frame(), NoneEntered: true, Edit: true}, "the supervisor&#39;s word that somebody is authorized counts alone"},
		{"training", trainingPage{Frame: frame(), Own: true, NoAffected: true}, "You aren&#39;t recorded as authorized"},
		{"training", trainingPage{Frame: frame(), Edit: true, Owed: []owedLine{{Who: "<Bo>", What: "Hoist", Href: "/training/new", Gaps: []procedures.Gap{gap}}}}, "&lt;Bo&gt;"},
		{"training-of", trainingOfPage{Frame: frame()}, "No training is entered"},
		{"training-of", trainingOfPage{Frame: frame(), Certificates: []certificate{{On: "Tue 3 Mar 2026", Over: true, Until: "Wed 4 Mar 2026", Training: procedures.Training{OwnWord: true, Again: true, TagPoints: procedures.TagPoints()}}}}, "Run out"},
		{"training-new", newTrainingPage{Frame: frame()}, "Go on"},
		{"training-new", newTrainingPage{Frame: frame(), Whole: true, Deputy: true}, "Sign and enter"},
		{"locks", locksPage{Frame: frame()}, "No lock is entered"},
		{"locks", locksPage{Frame: frame(), Own: true}, "No lock is entered as yours"},
		{"locks", locksPage{Frame: frame(), Untold: []registerLine{{LockItem: item, Owner: "Bo"}}, Retired: []registerLine{{LockItem: item}}}, "hasn&#39;t been told yet"},
		{"locks", locksPage{Frame: frame(), Locks: []registerLine{{LockItem: procedures.LockItem{Number: "Z"}, Off: []plain.Sentence{plain.Say("blue")}, On: []lockLine{{Number: "Z", On: day}}}}}, "reported on the box with the keys"},
		{"lock", lockPage{Frame: frame()}, "The program of this mill doesn&#39;t say yet"},
		{"lock", lockPage{Frame: frame(), New: true, Others: true, Standard: "red"}, "are red here"},
		{"contractors", contractorsPage{Frame: frame()}, "No firm from outside is entered"},
		{"contractors", contractorsPage{Frame: frame(), Firms: []firmLine{{Contractor: procedures.Contractor{Firm: "<Firm>"}, Untold: []string{"Bo"}}}}, "&lt;Firm&gt;"},
		{"contractor", contractorPage{Frame: frame()}, "What theirs asks of our people"},
		{"program", programPage{Frame: frame()}, "isn&#39;t written yet"},
		{"program", programPage{Frame: frame(), Said: true, Actions: []actionLine{{Said: "worn", Late: true}}, Lines: []programLine{{Title: "Hoist", Lights: []light{{Gap: gap}}, Lacking: []lackingLine{{"Bo", gap}}}}}, "late, it was due"},
		{"program-edit", programEditPage{Frame: frame()}, "Sign the program"},
		{"procedure-inspect", procedureInspectionPage{Frame: frame(), Not: refusal, TagOnly: true}, "Nobody else uses it. (29 CFR 1910.147(c)(6)(i)(A))"},
		{"procedure-certificate", certificatePage{Frame: frame()}, "Nothing was found wrong"},
		{"procedure-certificate", certificatePage{Frame: frame(), Newer: true, Findings: []foundLine{{Done: done, DoneBy: "Bo"}, {Late: true, SeeTo: "/x", Asked: true}}}, "Mended &lt;it&gt;"},
	} {
		var out bytes.Buffer
		require.NoError(t, engine.Render(&out, tc.name, tc.page), tc.name)
		require.Contains(t, out.String(), tc.says, tc.name)
	}
}
