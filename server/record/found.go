package record

import (
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
// quoted letter, blanks at the ends of lines or a carriage return: the signature
// goes over the lines themselves, and a line that was altered does not fit it.
func FindCheckpoints(text string) []Found {
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		lines[i] = strings.TrimSpace(strings.TrimLeft(line, "> \t"))
	}
	var all []Found
	for i := 0; i+2 < len(lines); i++ {
		if !strings.HasPrefix(lines[i], originPrefix) {
			continue
		}
		head, err := ParseHead(strings.Join(lines[i:i+3], "\n") + "\n")
		if err != nil {
			continue
		}
		one := Found{Head: head}
		end := i + 4
		for end < len(lines) && strings.HasPrefix(lines[end], signatureMark) {
			end++
		}
		if i+3 < len(lines) && lines[i+3] == "" && end > i+4 {
			one.Text = head.Text() + "\n" + strings.Join(lines[i+4:end], "\n") + "\n"
		}
		all = append(all, one)
		i += 2
	}
	return all
}
