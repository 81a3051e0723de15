package checklists

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"stillsaw/procedures/plain"
)

// fileMark is the first line of a list's file and tells how the rest is written.
const (
	fileMark = "stillsaw list"
	fileForm = "1"
)

// mostBytes bounds a list's file.
const mostBytes = 2 << 20

// Export writes the list as one readable file in YAML, as [Import] reads it and
// [FileSchema] describes it. Its error is a [plain.Problems] for a list that could
// not be kept as a draft, and "file" for one that a file has no words for.
func (l List) Export() ([]byte, error) {
	if err := l.Draft(); err != nil {
		return nil, err
	}
	var bad plain.Problems
	w := fileWriter{bad: &bad}
	w.WriteString("# A checklist of Stillsaw. Every number stands in the unit beside it.\n" + fileMark + ": " + fileForm + "\n")
	w.record(reflect.ValueOf(l.tidied()), listInFile(), "", "")
	bad.Unless(w.Len() <= mostBytes, "file", "at most %d bytes", mostBytes)
	if err := bad.Err(); err != nil {
		return nil, err
	}
	return []byte(w.String()), nil
}

type fileWriter struct {
	strings.Builder
	bad *plain.Problems
}

// record writes the fields that say something, the first one after first.
func (w *fileWriter) record(v reflect.Value, fields []fileField, first, indent string) {
	for _, f := range fields {
		value := v.FieldByName(f.field)
		if value.IsZero() && !f.needed {
			continue
		}
		w.WriteString(first + f.word + ":")
		w.value(value, f, indent)
		first = indent
	}
}

func (w *fileWriter) value(v reflect.Value, f fileField, indent string) {
	switch {
	case f.fields != nil && f.many > 0:
		if v.Len() == 0 {
			w.WriteString(" []\n")
			return
		}
		w.WriteString("\n")
		for i := range v.Len() {
			before := w.Len()
			w.record(v.Index(i), f.fields, indent+"  - ", indent+"    ")
			if w.Len() == before {
				w.unsaid(f, "an empty record")
			}
		}
	case f.fields != nil:
		w.WriteString("\n")
		w.record(v, f.fields, indent+"  ", indent+"  ")
	case f.many > 0:
		var each []string
		for i := range v.Len() {
			each = append(each, w.scalar(v.Index(i), f))
		}
		w.WriteString(" [" + strings.Join(each, ", ") + "]\n")
	default:
		text := w.scalar(v, f)
		if v.Kind() == reflect.String && f.words == nil && asBlock(v.String()) {
			text = "|-\n" + indent + "  " + strings.ReplaceAll(v.String(), "\n", "\n"+indent+"  ")
		}
		w.WriteString(" " + text + "\n")
	}
}

func (w *fileWriter) unsaid(f fileField, said string) {
	w.bad.Unless(false, "file", "something a file has words for in place of %[1]s (%[2]s)", said, f.word)
}

func (w *fileWriter) scalar(v reflect.Value, f fileField) string {
	switch value := v.Interface().(type) {
	case time.Time:
		if year := value.Year(); year < 1 || year > 9999 {
			w.unsaid(f, value.String())
		}
		return value.Format(timeInFile)
	case bool:
		return strconv.FormatBool(value)
	case int:
		if value < 0 || float64(value) > f.most {
			w.unsaid(f, strconv.Itoa(value))
		}
		return strconv.Itoa(value)
	}
	if v.Kind() == reflect.Pointer {
		v = v.Elem()
	}
	if v.Kind() == reflect.Float64 {
		x := v.Float()
		if !(x >= 0 && x <= f.most) {
			w.unsaid(f, fmt.Sprint(x))
		}
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	text := v.String()
	if f.words == nil {
		if !utf8.ValidString(text) || utf8.RuneCountInString(text) > f.longest {
			w.unsaid(f, text)
		}
		return quotedInFile(text)
	}
	for word, kept := range f.words {
		if kept == text {
			return word
		}
	}
	w.unsaid(f, text)
	return ""
}

// asBlock tells whether a text of several lines can be written line by line.
func asBlock(text string) bool {
	if !strings.Contains(text, "\n") {
		return false
	}
	for line := range strings.SplitSeq(text, "\n") {
		if line == "" || line != strings.TrimSpace(line) || !printed(line) {
			return false
		}
	}
	return true
}

func printed(text string) bool {
	return !strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) || r > 0xffff })
}

// quotedInFile is a text as it stands in a file: bare where nothing of it could
// be taken for anything else, otherwise in double quotes.
func quotedInFile(text string) string {
	bare := text != "" && strings.TrimSpace(text) == text && unicode.IsLetter(rune(text[0])) && text[0] < utf8.RuneSelf
	for _, r := range text {
		bare = bare && (r < utf8.RuneSelf && (unicode.IsLetter(r) || unicode.IsDigit(r)) || strings.ContainsRune(" -_/.;()", r))
	}
	switch strings.ToLower(text) {
	case "true", "false", "yes", "no", "on", "off", "null", "y", "n", "nan", "inf", "infinity":
		bare = false
	}
	if bare {
		return text
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			b.WriteString(`\` + string(r))
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case unicode.IsPrint(r) && r <= 0xffff:
			b.WriteRune(r)
		default:
			fmt.Fprintf(&b, `\U%08x`, r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
