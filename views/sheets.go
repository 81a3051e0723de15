package views

import (
	"fmt"
	"regexp"
	"strings"
)

// sheet is a part of a stylesheet that a page loads only if it has something the
// part styles. In the file it begins at a line of its own:
//
//	/*! sheet: lift */
//
// What stands above the first such line every page loads. Three parts every page
// has and no phone waits for: print, for paper; desk, for what is wider than a
// phone, media queries of at least 40rem; scripts, for what only scripts make.
type sheet struct {
	name, text string
	selectors  []selector
}

// selector is what a page must have for a rule to say anything to it.
type selector struct{ classes, ids, elements []string }

// cutSheets cuts a stylesheet of ours into what every page loads, called name,
// and its other parts, called name-part.
func cutSheets(name, text string) ([]sheet, error) {
	stem := strings.TrimSuffix(name, ".css")
	const begin, end = "\n/*! sheet: ", " */\n"
	var all []sheet
	for i, part := range strings.Split(text, begin) {
		if i == 0 {
			all = append(all, sheet{name: name, text: part + "\n"})
			continue
		}
		called, rules, _ := strings.Cut(part, end)
		all = append(all, sheet{name: stem + "-" + called + ".css", text: rules + "\n"})
	}
	seen := map[string]bool{}
	for i := range all {
		if seen[all[i].name] {
			return nil, fmt.Errorf("%s has two parts called %s", name, all[i].name)
		}
		seen[all[i].name] = true
		all[i].selectors = selectorsOf(all[i].text)
	}
	return all, nil
}

// selectorsOf are those of a stylesheet's rules.
func selectorsOf(css string) (all []selector) {
	css = withoutComments(css)
	for {
		before, after, begins := strings.Cut(css, "{")
		if !begins {
			return all
		}
		css = after
		prelude := strings.TrimSpace(before[strings.LastIndexAny(before, "};")+1:])
		if prelude == "" || strings.HasPrefix(prelude, "@") {
			continue
		}
		for one := range strings.SplitSeq(unbracketed(prelude), ",") {
			all = append(all, selectorOf(one))
		}
	}
}

func withoutComments(css string) string {
	var out strings.Builder
	for {
		before, after, begins := strings.Cut(css, "/*")
		out.WriteString(before)
		if !begins {
			return out.String()
		}
		_, css, _ = strings.Cut(after, "*/")
	}
}

// selectorOf is the classes, ids and elements that one selector names.
func selectorOf(one string) (s selector) {
	for i := 0; i < len(one); i++ {
		mark, name := one[i], ""
		switch {
		case mark == '.' || mark == '#':
			name = leading(one[i+1:], isWord)
			if mark == '.' && name != "" {
				s.classes = append(s.classes, name)
			} else if name != "" {
				s.ids = append(s.ids, name)
			}
		case 'a' <= mark && mark <= 'z' && (i == 0 || strings.IndexByte(" \t\n>+~", one[i-1]) >= 0):
			s.elements = append(s.elements, leading(one[i:], isElement))
		}
		i += len(name)
	}
	return s
}

// leading is what text begins with of the bytes that may be in a name; "" where it
// doesn't begin with a letter.
func leading(text string, may func(byte) bool) string {
	if text == "" || !isWord(text[0]) || text[0] < 'A' {
		return ""
	}
	end := 0
	for end < len(text) && may(text[end]) {
		end++
	}
	return text[:end]
}

func isWord(b byte) bool { return isElement(b) || 'A' <= b && b <= 'Z' || b == '_' || b == '-' }

func isElement(b byte) bool { return 'a' <= b && b <= 'z' || '0' <= b && b <= '9' }

var inBrackets = regexp.MustCompile(`\([^()]*\)|\[[^\]]*\]`)

// unbracketed is a selector without what stands in brackets: that only narrows further.
// What an element must have inside it, :has(…), stays.
func unbracketed(selector string) string {
	for strings.ContainsAny(selector, "([") {
		at := inBrackets.FindStringSubmatchIndex(selector)
		if at == nil {
			break
		}
		inside := ""
		if strings.HasSuffix(selector[:at[0]], ":has") && !strings.Contains(selector[at[0]:at[1]], ",") {
			inside = " " + selector[at[0]+1:at[1]-1]
		}
		selector = selector[:at[0]] + inside + selector[at[1]:]
	}
	return selector
}

// markup is which classes, ids and elements a page may have.
type markup struct{ classes, ids, elements map[string]bool }

func markupOf(html string) markup {
	m := markup{map[string]bool{}, map[string]bool{}, map[string]bool{}}
	for begin, into := range map[string]map[string]bool{`class="`: m.classes, `id="`: m.ids} {
		before, after, is := strings.Cut(html, begin)
		for is {
			value, _, closed := strings.Cut(after, `"`)
			if ofAnother := before != "" && isElement(before[len(before)-1]); closed && !ofAnother { // as of aria-invalid
				for word := range strings.FieldsSeq(value) {
					into[word] = true
				}
			}
			before, after, is = strings.Cut(after, begin)
		}
	}
	for i, after := range strings.Split(html, "<") {
		if name := leading(after, isElement); i > 0 && name != "" {
			m.elements[name] = true
		}
	}
	return m
}

// wants tells whether some rule of s may style something of m.
func (m markup) wants(s sheet) bool {
	for _, rule := range s.selectors {
		if all(rule.classes, m.classes) && all(rule.ids, m.ids) && all(rule.elements, m.elements) {
			return true
		}
	}
	return false
}

func all(words []string, among map[string]bool) bool {
	for _, word := range words {
		if !among[word] {
			return false
		}
	}
	return true
}
