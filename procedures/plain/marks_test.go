package plain_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

func TestPointAndCommaAreReadAndThousandsNeverTaken(t *testing.T) {
	for _, tc := range []struct {
		typed string
		comma bool
		want  string // "" refused
	}{
		{"7.5", false, "7.5"}, {"7,5", false, "7.5"}, {"7.5", true, "7.5"}, {"7,5", true, "7.5"},
		{"17.375 in", false, "17.375 in"}, {"17,375 in", true, "17.375 in"}, {"17,375 in", false, ""}, {"17.375 in", true, ""},
		{"1,204", false, ""}, {"1.204", true, ""}, {"1.204", false, "1.204"}, {"1,204", true, "1.204"},
		{"0,125", false, "0.125"}, {"0.125", true, "0.125"}, {",125", false, ".125"}, {".125", true, ".125"}, {"1204,125", false, "1204.125"},
		{"1,204.5", false, ""}, {"1.204,5", true, ""}, {"1.204.500", true, ""}, {"1,2,3", false, ""},
		{"7 ft 6 in", false, "7 ft 6 in"}, {"17 3/8 in.", false, "17 3/8 in."}, {"2,5.", true, "2.5."}, {"12", true, "12"}, {"", true, ""},
		{"2,4 m", false, "2.4 m"}, {"1,25 ft", true, "1.25 ft"},
	} {
		read, err := plain.WithPoint(tc.typed, tc.comma)
		if tc.want == "" && tc.typed != "" {
			var problems plain.Problems
			require.ErrorAs(t, err, &problems, tc)
			require.Contains(t, problems[0].Want.String(), "two ways")
			continue
		}
		require.NoError(t, err, tc)
		require.Equal(t, tc.want, read, tc)
	}
}

func TestNumberThatMayBeSetOffByThousandsReadsTwoWays(t *testing.T) {
	for typed, said := range map[string]string{
		"1,200": "1200 or 1,2000: 1,200", "1.200 kg": "1200 or 1.2000: 1.200", "12.345": "12345 or 12.3450: 12.345", "yoke 125,500 lb.": "125500 or 125,5000: 125,500",
		"": "", "1200": "", "12.5": "", "12.3456": "", "0.125": "", "0,125": "", ".125": "", "1204.125": "", "1.2.3": "", "1.2,3": "", "17 3/8": "",
	} {
		err := plain.OneWay(typed)
		if said == "" {
			require.NoError(t, err, typed)
			continue
		}
		require.ErrorContains(t, err, "a number that reads one way only, "+said+" can be read in two ways")
	}
}
