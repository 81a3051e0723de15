package checklists

import (
	"errors"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// Import reads a list from a file as [List.Export] writes it: whole, or not at
// all. What it returns could be kept as a draft; whether it suits a mill is for
// [List.Validate]. Its error is [FileProblems], naming line and field.
func Import(file []byte) (List, error) {
	l, r, err := readFile(file)
	if err != nil {
		return List{}, err
	}
	var bad plain.Problems
	bad.Unless(l.ID.Usable(), "id", "small letters, digits and dashes, such as pre-shift; not new or import")
	bad.Add("", l.Draft())
	if err := bad.Err(); err != nil {
		return List{}, r.located(err)
	}
	return l, nil
}

// readFile reads the file as far as its form goes, which is what [FileSchema] describes.
func readFile(file []byte) (List, *fileReader, error) {
	root, err := readTree(file)
	if err != nil {
		return List{}, nil, err
	}
	var l List
	r := &fileReader{places: make(map[string]filePlace)}
	r.marked(&root)
	r.record(root, reflect.ValueOf(&l).Elem(), listInFile(), "", "")
	if len(r.bad) > 0 {
		slices.SortStableFunc(r.bad, func(a, b FileProblem) int { return a.Line - b.Line })
		return List{}, nil, r.bad
	}
	return l.tidied(), r, nil
}

// fileReader fills a list from the values of a file.
type fileReader struct {
	bad FileProblems
	// places are where each field of the list stands, by its name in [List.Draft].
	places map[string]filePlace
}

type filePlace struct {
	line  int
	field string // in the words of the file
}

func (r *fileReader) unless(ok bool, line int, field string, want plain.Sentence) bool {
	if !ok {
		r.bad = append(r.bad, FileProblem{Line: line, Field: field, Want: want})
	}
	return ok
}

// marked takes the mark of a list's file off, which has to be there.
func (r *fileReader) marked(root *fileNode) {
	if root.kind != recordNode {
		r.unless(false, root.line, "file", plain.Say("a list, beginning with: %s", fileMark+": "+fileForm))
		return
	}
	at := slices.IndexFunc(root.keys, func(p filePair) bool { return p.key == fileMark })
	if at < 0 {
		r.unless(false, root.line, fileMark, plain.Say("a list, beginning with: %s", fileMark+": "+fileForm))
		return
	}
	mark := root.keys[at].value
	r.unless(mark.kind == numberNode && mark.text == fileForm, mark.line, fileMark, plain.Say("%s: the one form this program reads", fileForm))
	root.keys = slices.Delete(slices.Clone(root.keys), at, at+1)
}

// record fills a struct; word and name are its own place in the file's words and
// in those of the list, "" for the list itself.
func (r *fileReader) record(node fileNode, into reflect.Value, fields []fileField, word, name string) {
	if !r.unless(node.kind == recordNode, node.line, orFile(word), plain.Say("a record: a word, a colon and what it is, in lines")) {
		return
	}
	seen := make(map[string]bool, len(node.keys))
	for _, pair := range node.keys {
		at := slices.IndexFunc(fields, func(f fileField) bool { return f.word == pair.key })
		place := within(word, named(pair.key))
		if !r.unless(at >= 0, pair.line, place, plain.Say("one of: %s", wordsOf(fields))) {
			continue
		}
		if !r.unless(!seen[pair.key], pair.line, place, plain.Say("said once")) {
			continue
		}
		seen[pair.key] = true
		f := fields[at]
		field, _ := into.Type().FieldByName(f.field)
		own := within(name, jsonName(field))
		r.places[own] = filePlace{pair.line, place}
		r.value(pair.value, pair.line, into.FieldByName(f.field), f, place, own)
	}
	for _, f := range fields {
		r.unless(!f.needed || seen[f.word], node.line, within(word, f.word), plain.Say("said, it can't be left out"))
	}
}

func (r *fileReader) value(node fileNode, line int, into reflect.Value, f fileField, word, name string) {
	if !r.unless(node.kind != emptyNode, line, word, plain.Say("something behind it, or the line left out")) {
		return
	}
	switch {
	case f.fields != nil && f.many > 0:
		if !r.list(node, f, word) {
			return
		}
		into.Set(reflect.MakeSlice(into.Type(), len(node.each), len(node.each)))
		for i, one := range node.each {
			part := "#" + strconv.Itoa(i+1)
			r.places[within(name, part)] = filePlace{one.line, within(word, part)}
			for _, pair := range one.keys { // of an id that names another item too, by its place
				r.places[within(name, part+"."+pair.key)] = filePlace{pair.line, within(word, part+"."+pair.key)}
			}
			if id := idOf(one); id != "" {
				part = id
			}
			r.record(one, into.Index(i), f.fields, within(word, part), within(name, part))
		}
	case f.fields != nil:
		r.record(node, into, f.fields, word, name)
	case f.many > 0:
		if !r.list(node, f, word) {
			return
		}
		into.Set(reflect.MakeSlice(into.Type(), len(node.each), len(node.each)))
		for i, one := range node.each {
			r.scalar(one, into.Index(i), f, word)
		}
	default:
		r.scalar(node, into, f, word)
	}
}

func (r *fileReader) list(node fileNode, f fileField, word string) bool {
	return r.unless(node.kind == listNode, node.line, word, plain.Say("a list")) &&
		r.unless(len(node.each) <= f.many, node.line, word, plain.Say("at most %d in the list", f.many))
}

func (r *fileReader) scalar(node fileNode, into reflect.Value, f fileField, word string) {
	switch into.Interface().(type) {
	case time.Time:
		at, err := time.Parse(timeInFile, node.text)
		if r.unless(node.kind == textNode && err == nil && at.Year() >= 1, node.line, word, plain.Say("a time such as %s", "2026-03-01T06:00:00Z")) {
			into.Set(reflect.ValueOf(at.UTC()))
		}
		return
	case bool:
		if r.unless(node.kind == yesNode, node.line, word, plain.Say("true or false")) {
			into.SetBool(node.text == "true")
		}
		return
	}
	switch into.Kind() {
	case reflect.String:
		r.text(node, into, f, word)
	case reflect.Int:
		n, err := strconv.Atoi(node.text)
		if r.unless(node.kind == numberNode && err == nil && n >= 0 && float64(n) <= f.most, node.line, word, plain.Say("a whole number from 0 to %v", f.most)) {
			into.SetInt(int64(n))
		}
	default:
		x, err := strconv.ParseFloat(node.text, 64)
		decimal := strings.Trim(node.text, "0123456789.") == "" || powerInFile(node.text)
		if !r.unless(node.kind == numberNode && err == nil && decimal && x <= f.most, node.line, word, plain.Say("a number from 0 to %v, such as 0.5", f.most)) {
			return
		}
		if into.Kind() == reflect.Pointer {
			into.Set(reflect.ValueOf(&x))
			return
		}
		into.SetFloat(x)
	}
}

// powerInFile tells whether a text is a number with a power of ten, as programs
// write small and large ones in JSON: 5e-05, 2.5e+07.
func powerInFile(text string) bool {
	digits, power, some := strings.Cut(strings.ToLower(text), "e")
	if power != "" && strings.Contains("+-", power[:1]) {
		power = power[1:]
	}
	written := func(number, letters string) bool { return number != "" && strings.Trim(number, letters) == "" }
	return some && written(digits, "0123456789.") && written(power, "0123456789")
}

func (r *fileReader) text(node fileNode, into reflect.Value, f fileField, word string) {
	if !r.unless(node.kind == textNode, node.line, word, plain.Say("words, in quotes if they look like a number")) {
		return
	}
	if f.words == nil {
		if r.unless(tidy(node.text, f.longest), node.line, word, plain.Say("at most %d letters", f.longest)) {
			into.SetString(node.text)
		}
		return
	}
	kept, known := f.words[node.text]
	var words []string
	for one := range f.words {
		words = append(words, one)
	}
	slices.Sort(words)
	if r.unless(known, node.line, word, plain.Say("one of: %s", strings.Join(words, ", "))) {
		into.SetString(kept)
	}
}

// located is what keeps a list from being a draft, where it stands in the file.
func (r *fileReader) located(err error) error {
	var problems plain.Problems
	if !errors.As(err, &problems) {
		return err
	}
	bad := make(FileProblems, len(problems))
	for n, one := range problems {
		bad[n] = FileProblem{Line: 1, Field: "file", Want: one.Want}
		for name := one.Field; name != ""; name = name[:max(strings.LastIndex(name, "."), 0)] {
			if place, known := r.places[name]; known {
				bad[n].Line, bad[n].Field = place.line, place.field
				break
			}
		}
	}
	slices.SortStableFunc(bad, func(a, b FileProblem) int { return a.Line - b.Line })
	return bad
}

// idOf is the id a record gives itself, to name it by.
func idOf(node fileNode) string {
	for _, pair := range node.keys {
		if (pair.key == "id" || pair.key == "item") && pair.value.kind == textNode && ItemID(pair.value.text).usable() {
			return pair.value.text
		}
	}
	return ""
}

// named is a word of a file as a problem names it: there, and not endless.
func named(word string) string {
	const longest = 60
	if letters := []rune(word); len(letters) > longest {
		word = string(letters[:longest]) + "…"
	}
	if strings.TrimSpace(word) == "" {
		return strconv.Quote(word)
	}
	return word
}

func within(whole, part string) string {
	if whole == "" {
		return part
	}
	return whole + "." + part
}

func orFile(word string) string {
	if word == "" {
		return "file"
	}
	return word
}

func wordsOf(fields []fileField) string {
	words := make([]string, len(fields))
	for n, f := range fields {
		words[n] = f.word
	}
	return strings.Join(words, ", ")
}

// jsonName is what a field is called in [List.Draft] and [List.Validate].
func jsonName(field reflect.StructField) string {
	name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
	return name
}
