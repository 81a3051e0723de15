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

var sheetBegins = regexp.MustCompile(`(?m)^/\*! sheet: ([a-z]+) \*/\n`)

// cutSheets cuts a stylesheet of ours into what every page loads, called name,
// and its other parts, called name-part.
func cutSheets(name, text string) ([]sheet, error) {
	stem := strings.TrimSuffix(name, ".css")
	begins := sheetBegins.FindAllStringSubmatchIndex(text, -1)
	ends := len(text)
	var after []sheet
	for i := len(begins) - 1; i >= 0; i-- {
		at := begins[i]
		after = append([]sheet{{name: stem + "-" + text[at[2]:at[3]] + ".css", text: text[at[1]:ends]}}, after...)
		ends = at[0]
	}
	all := append([]sheet{{name: name, text: text[:ends]}}, after...)
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

var (
	cssComment  = regexp.MustCompile(`(?s)/\*.*?\*/`)
	cssPrelude  = regexp.MustCompile(`[^{};]+\{`)
	inBrackets  = regexp.MustCompile(`\([^()]*\)|\[[^\]]*\]`)
	cssClass    = regexp.MustCompile(`\.([A-Za-z][\w-]*)`)
	cssID       = regexp.MustCompile(`#([A-Za-z][\w-]*)`)
	cssElement  = regexp.MustCompile(`(?:^|[\s>+~])([a-z][a-z0-9]*)`)
	htmlClass   = regexp.MustCompile(`\bclass="([^"]*)"`)
	htmlID      = regexp.MustCompile(`\bid="([^"]*)"`)
	htmlElement = regexp.MustCompile(`<([a-z][a-z0-9]*)`)
)

// selectorsOf are those of a stylesheet's rules.
func selectorsOf(css string) []selector {
	var all []selector
	for _, prelude := range cssPrelude.FindAllString(cssComment.ReplaceAllString(css, ""), -1) {
		prelude = strings.TrimSpace(strings.TrimSuffix(prelude, "{"))
		if strings.HasPrefix(prelude, "@") {
			continue
		}
		prelude = unbracketed(prelude)
		for one := range strings.SplitSeq(prelude, ",") {
			all = append(all, selector{found(cssClass, one), found(cssID, one), found(cssElement, one)})
		}
	}
	return all
}

// unbracketed is a selector without what stands in brackets: that only narrows further.
// What an element must have inside it, :has(…), stays.
func unbracketed(selector string) string {
	for {
		at := inBrackets.FindStringSubmatchIndex(selector)
		if at == nil {
			return selector
		}
		inside := ""
		if strings.HasSuffix(selector[:at[0]], ":has") && !strings.Contains(selector[at[0]:at[1]], ",") {
			inside = " " + selector[at[0]+1:at[1]-1]
		}
		selector = selector[:at[0]] + inside + selector[at[1]:]
	}
}

func found(what *regexp.Regexp, in string) []string {
	var all []string
	for _, match := range what.FindAllStringSubmatch(in, -1) {
		all = append(all, match[1])
	}
	return all
}

// markup is which classes, ids and elements a page may have.
type markup struct{ classes, ids, elements map[string]bool }

func markupOf(html string) markup {
	m := markup{map[string]bool{}, map[string]bool{}, map[string]bool{}}
	for kind, into := range map[*regexp.Regexp]map[string]bool{htmlClass: m.classes, htmlID: m.ids, htmlElement: m.elements} {
		for _, match := range found(kind, html) {
			for word := range strings.FieldsSeq(match) {
				into[word] = true
			}
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
