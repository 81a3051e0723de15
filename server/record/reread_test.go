package record_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/record"
)

// A leaf read again says what it says when it is read for the first time, also
// where its text looks like what stands for a personal value.
func TestRereadSaysWhatReadSays(t *testing.T) {
	type part struct {
		Note record.Personal `json:"note"`
		Like any             `json:"like"`
	}
	alike := map[string]any{"sealed": "sha256:0000000000000000000000000000000000000000000000000000000000000000"}
	for name, body := range map[string]any{
		"none":    map[string]any{"go": true, "n": 1.5},
		"several": []part{{Note: "one \" <b> \u2028"}, {Note: ""}, {Note: "one"}},
		"alike":   []part{{Note: "one", Like: alike}, {Note: "two", Like: `{"sealed":"sha256:`}},
	} {
		t.Run(name, func(t *testing.T) {
			sealed := seal(t, envelope(3, map[string]any{"parts": body}))
			same := func(openings []record.Opening) {
				want, err := record.Read(sealed.Leaf, openings)
				got, again := record.Reread(sealed.Leaf, openings)
				require.Equal(t, err, again)
				if err != nil {
					return
				}
				require.JSONEq(t, string(want.Body), string(got.Body))
				require.Equal(t, want.Withheld, got.Withheld)
				require.Equal(t, want.Envelope, got.Envelope)
			}
			same(sealed.Openings)
			for i := range sealed.Openings {
				same(sealed.Openings[:i])
				other := append([]record.Opening(nil), sealed.Openings...)
				other[i].Value += "x"
				same(other)
				other[i] = sealed.Openings[0]
				same(other)
			}
		})
	}
}
