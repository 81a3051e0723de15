package server

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"sort"
	"strings"

	"stillsaw/server/store"
)

// submission names what was sent: the id the form was given when it was shown,
// and a digest of what stands in it, where it went and from whom. The same form
// sent twice does one thing. Filled in anew, as after going back, or sent to
// another address, it is another act: a stop must never be taken for the one
// before it. A form from elsewhere that has no id gets one.
func (v *visit) submission() string {
	id, _, _ := strings.Cut(v.typed("submission"), "~")
	if id == "" || len(id) > 64 {
		id = store.NewID()
	}
	sum := sha256.New()
	part(sum, v.Path(), string(v.person.ID))
	for _, field := range v.keptFields("") {
		if !unrepeatable(field.Name) && (v.waited == nil || field.Name != "person") { // that one is of whoever the phone kept it for
			part(sum, field.Name, field.Value)
		}
	}
	if form, err := v.MultipartForm(); err == nil {
		var files []string
		for name, sent := range form.File {
			for _, file := range sent {
				files = append(files, fmt.Sprintf("%s %s %d", name, file.Filename, file.Size))
			}
		}
		sort.Strings(files)
		part(sum, files...)
	}
	return id + "~" + hex.EncodeToString(sum.Sum(nil)[:16])
}

// part adds texts to a digest so that no two lists of them come out alike.
func part(sum hash.Hash, texts ...string) {
	for _, text := range texts {
		fmt.Fprintf(sum, "%d:%s,", len(text), text)
	}
}

// unrepeatable tells whether a field may differ when the same form is sent once
// more, or is a secret, of which not even a digest is kept.
func unrepeatable(name string) bool {
	switch name {
	case "submission", "phone", "saved", "read", "new", "old":
		return true
	}
	return isSecret(name)
}

// isSecret tells whether a field is a PIN, a password or a key, which goes into no
// page that comes back.
func isSecret(name string) bool {
	switch name {
	case "pin", "password", "again", "secret":
		return true
	}
	return false
}
