package views

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"fmt"
	"html"
	"strings"
	"sync"
	"text/template"
)

//go:embed verify
var verifyFiles embed.FS

// verifyPage is the page that checks an export and the policy it needs.
type verifyPage struct {
	text   []byte
	policy string
}

var verifying = sync.OnceValues(packVerifyPage)

// VerifyPage is the page that checks an export by itself: one file, without a
// network, from a stick as well. It is put together from views/verify and the
// Merkle script of the other pages. An error is a fault of the build.
func VerifyPage() ([]byte, error) {
	page, err := verifying()
	return page.text, err
}

// VerifyPolicy is the content policy under which [VerifyPage] works and nothing
// else does: its own style and scripts, by their digests, and no network.
func VerifyPolicy() (string, error) {
	page, err := verifying()
	return page.policy, err
}

func packVerifyPage() (verifyPage, error) {
	read := func(name string) string { text, _ := verifyFiles.ReadFile("verify/" + name); return string(text) }
	merkle, err := staticFiles.ReadFile("static/merkle.js")
	if err != nil {
		return verifyPage{}, fmt.Errorf("page that checks exports: %w", err)
	}
	scripts := []struct{ kind, text string }{
		{"", string(merkle)},
		{"", read("sha512.js")},
		// What the library hands out is put where the scripts after it find it.
		{` type="module"`, read("ed25519.js") + "\nhashes.sha512 = sha512;\nglobalThis.ed25519 = { verify };\n"},
		{` type="module"`, read("export.js")},
		{` type="module"`, read("page.js")},
	}
	data := struct {
		Policy, Style, Licence string
		Scripts                []string
	}{Style: "\n" + read("page.css"), Licence: html.EscapeString(read("ed25519.LICENSE.txt"))}
	var sources []string
	for _, script := range scripts {
		if strings.TrimSpace(script.text) == "" || strings.Contains(script.text, "</script") || strings.Contains(script.text, "<!--") {
			return verifyPage{}, fmt.Errorf("page that checks exports: a script is missing or can't stand in a page")
		}
		sources = append(sources, sourceDigest(script.text))
		data.Scripts = append(data.Scripts, "<script"+script.kind+">"+script.text+"</script>")
	}
	data.Policy = fmt.Sprintf("default-src 'none'; script-src %s; style-src %s; base-uri 'none'; form-action 'none'", strings.Join(sources, " "), sourceDigest(data.Style))
	page, err := template.New("verify").Parse(read("page.html"))
	if err != nil {
		return verifyPage{}, fmt.Errorf("page that checks exports: %w", err)
	}
	var out bytes.Buffer
	if err := page.Execute(&out, data); err != nil {
		return verifyPage{}, fmt.Errorf("page that checks exports: %w", err)
	}
	return verifyPage{out.Bytes(), data.Policy}, nil
}

// sourceDigest is how a content policy names one inline script or style.
func sourceDigest(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
