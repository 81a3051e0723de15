package checklists_test

import (
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// A list turned into JSON by another program writes small numbers as 5e-05.
func TestListWrittenAsJSONIsReadAgain(t *testing.T) {
	for _, x := range []float64{0.00005, 0.0000005, 0.25, 2_500_000, 25_000_000} {
		l := ruled()
		l.Items[0].Limits.Low, l.Items[0].Limits.High, l.Items[0].Limits.StopAt, l.Items[0].Limits.Most = number(x), number(2*x), number(2*x), 4*x
		file, err := l.Export()
		require.NoError(t, err)
		asJSON, err := yaml.YAMLToJSON(file)
		require.NoError(t, err)
		back, err := checklists.Import(asJSON)
		require.NoError(t, err, "%s", asJSON)
		was, err := l.Digest()
		require.NoError(t, err)
		is, err := back.Digest()
		require.NoError(t, err)
		require.Equal(t, was, is, "%v", x)
	}
	for _, word := range []string{"-0.5", "1e", "e5", "0x10", "1_0", "1e400", "-1e-5", "1e5e5"} {
		_, err := checklists.Import([]byte("stillsaw list: 1\nid: a\nitems:\n  - id: A\n    limits:\n      lowest: " + word + "\n"))
		require.Error(t, err, word)
		require.Contains(t, err.Error(), "items.A.limits.lowest", word)
	}
}
