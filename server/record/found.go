package record

import (
	"encoding/base64"
	"regexp"
	"strings"
)

// Found is a checkpoint met in some text: a file kept, a letter, a paper typed in.
type Found struct {
	Head
	Text string // the signed note, "" where only the three lines of a head stood there
}

// signatureMark begins each line of a signature (C2SP signed-note).
const signatureMark = "— "

// FindCheckpoints reads every checkpoint and bare head in text, in the order
// they stand there. What stands around them does not matter, nor do marks of a
// quoted letter, blanks, carriage returns, empty lines, another dash before a
// signature and a signature broken over several lines, as paper has it: the
// signature goes over the lines of the head, and one that was altered does not
// fit them.
func FindCheckpoints(text string) []Found {
	lines := linesOf(text)
	var all []Found
	for i := 0; i+2 < len(lines); i++ {
		if !strings.HasPrefix(lines[i], originPrefix) {
			continue
		}
		head, err := ParseHead(strings.Join(lines[i:i+3], "\n") + "\n")
		if err != nil {
			continue
		}
		i += 2
		one := Found{Head: head}
		var signed []string
		for i+1 < len(lines) {
			signature, took := signatureIn(lines[i+1:])
			if took == 0 {
				break
			}
			signed = append(signed, signatureMark+signature+"\n")
			i += took
		}
		if len(signed) > 0 {
			one.Text = head.Text() + "\n" + strings.Join(signed, "")
		}
		all = append(all, one)
	}
	return all
}

// linesOf are the lines of text that are not empty, without what letters and word
// processors put about them.
func linesOf(text string) (lines []string) {
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u00a0", " ", "\u00ad", "", "\u200b", "", "\ufeff", "").Replace(text)
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(strings.TrimLeft(line, "> \t|")); line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}

// dashes begin a signature: the one of the form, and what keyboards, letters and
// readers of paper make of it.
var dashes = regexp.MustCompile(`^(?:—|–|―|−|--?)\s*`)

// signatureIn reads one signature at the beginning of lines, its dash left out,
// and tells how many lines it took; none where there is no signature.
func signatureIn(lines []string) (signature string, took int) {
	dash := dashes.FindString(lines[0])
	if dash == "" {
		return "", 0
	}
	words, took := strings.Fields(lines[0][len(dash):]), 1
	if len(words) == 0 && len(lines) > 1 { // the dash stands alone
		words, took = strings.Fields(lines[1]), 2
	}
	if len(words) == 0 {
		return "", 0
	}
	name, coded, whole := words[0], strings.Join(words[1:], ""), took
	for !isSignature(coded) && len(coded) < signatureMost && whole < len(lines) && !dashes.MatchString(lines[whole]) && !strings.HasPrefix(lines[whole], originPrefix) {
		coded += strings.Join(strings.Fields(lines[whole]), "")
		whole++
	}
	switch {
	case isSignature(coded):
		return name + " " + coded, whole
	case strings.HasPrefix(lines[0], signatureMark) || strings.HasPrefix(name, originPrefix):
		// It is one all the same, of another kind or spoilt, which is not for here to say.
		return name + " " + strings.Join(words[1:], ""), took
	}
	return "", 0
}

// signatureMost is how long a signature in base64 is that may stand on several lines.
const signatureMost = 104

// isSignature tells whether text is the four bytes that name a key and a
// signature by Ed25519, with or without the time of a cosignature (C2SP
// signed-note, tlog-cosignature).
func isSignature(text string) bool {
	raw, err := base64.StdEncoding.DecodeString(text)
	return err == nil && (len(raw) == 4+64 || len(raw) == 4+8+64)
}
