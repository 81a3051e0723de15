package record

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
)

// A checkpoint on the PDF of an export as pdftotext 22.12 gives it, and the key
// that signed it.
const (
	paperKey  = "stillsaw/01a2164d-081b-7cad-9733-985aae5ee135+c22d0714+Acr5irlpfSHfd+vBDO8ATANQuYtRq2Ky2nh+R4fb3i5X"
	paperText = "Wed 25 Nov 2026\n\nProof, in small print\n" + paperHead + paperSign +
		"Key of the mill that signed it: PW3F KTTQ YD0M CBFM\nThese lines are the mill's signed word on all 3,657 entries of its record when this was made.\n"
	paperHead = "stillsaw/01a2164d-081b-7cad-9733-985aae5ee135\n3657\nXJ0LClbsbe8ccUPXNZB5FBqnjTsfv5caHTxxjbxFHBo=\n"
	paperSign = "— stillsaw/01a2164d-081b-7cad-9733-985aae5ee135 wi0HFCahYnDRz2si6mDR5CzPMBzNX6Avw+F06xT6r8XsFlbKitTg\nrbljNa7+ZUHFPmQwxQpoVUm7S1fEVSorrMBt1Qs=\n"
)

func TestCheckpointIsReadAsPaperLettersAndKeyboardsGiveIt(t *testing.T) {
	verifier, err := note.NewVerifier(paperKey)
	require.NoError(t, err)
	require.Equal(t, "PW3F KTTQ YD0M CBFM", Fingerprint(paperKey))
	each := func(change func(line string) string) string {
		lines := strings.Split(paperText, "\n")
		for i, line := range lines {
			lines[i] = change(line)
		}
		return strings.Join(lines, "\n")
	}
	broken := strings.Replace(paperSign, " wi0H", "\nwi0H", 1)
	for name, text := range map[string]string{
		"from the PDF":             paperText,
		"alone":                    strings.TrimSpace(paperHead + paperSign),
		"with the empty line":      paperHead + "\n" + paperSign,
		"on one line":              paperHead + "\n" + strings.Replace(paperSign, "rg\nrb", "rgrb", 1),
		"joined with a blank":      paperHead + strings.Replace(paperSign, "Tg\nrb", "Tg rb", 1),
		"broken in three":          paperHead + broken,
		"dash on a line alone":     paperHead + strings.Replace(broken, "— ", "—\n", 1),
		"a hyphen":                 strings.Replace(paperText, "—", "-", 1),
		"two hyphens":              strings.Replace(paperText, "— ", "--", 1),
		"an en dash":               strings.Replace(paperText, "—", "–", 1),
		"carriage returns":         strings.ReplaceAll(paperText, "\n", "\r\n"),
		"carriage returns alone":   strings.ReplaceAll(paperText, "\n", "\r"),
		"empty lines all over":     strings.ReplaceAll(paperText, "\n", "\n\n"),
		"blanks about each line":   each(func(line string) string { return "\t \u00a0" + line + "  " }),
		"quoted":                   each(func(line string) string { return "> " + line }),
		"quoted twice":             each(func(line string) string { return ">> > " + line }),
		"quoted, with a signature": each(func(line string) string { return "> " + line }) + "\n-- \nRuth Penhale\n",
	} {
		found := FindCheckpoints(text)
		require.Len(t, found, 1, name)
		head, _, err := OpenCheckpoint(found[0].Text, verifier)
		require.NoError(t, err, "%s: %q", name, found[0].Text)
		require.EqualValues(t, 3657, head.Size, name)
	}
}

func TestWhatIsNoSignatureIsNotTakenForOne(t *testing.T) {
	for name, text := range map[string]string{
		"a list":             paperHead + "- photographs\n- see photograph\n",
		"a letter's ending":  paperHead + "--\nRuth\n",
		"the next three":     paperHead + "stillsaw/01a2164d-081b-7cad-9733-985aae5ee136\n1\nXJ0LClbsbe8ccUPXNZB5FBqnjTsfv5caHTxxjbxFHBo=\n",
		"a dash and nothing": paperHead + "—",
	} {
		found := FindCheckpoints(text)
		require.NotEmpty(t, found, name)
		require.Empty(t, found[0].Text, name)
	}
	short := FindCheckpoints(paperHead + strings.Split(paperSign, "\n")[0])
	require.NotEmpty(t, short[0].Text, "cut short it is still signed, though by nobody")
	require.Len(t, FindCheckpoints(paperText+paperText), 2)
	require.Equal(t, FindCheckpoints(paperText)[0], FindCheckpoints(paperText + paperText)[1])
}
