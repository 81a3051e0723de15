package views

import (
	"bytes"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestChoicesOfAGroupStandUnderItsNameInTheOrderGiven(t *testing.T) {
	choices := []Choice{{Value: "0", Text: "Nobody knows"}, {Value: "1", Text: "white oak", Group: "Sawn here"}, {Value: "2", Text: "white ash", Group: "Sawn here"}}
	for n := 3; n < 8; n++ {
		choices = append(choices, Choice{Value: strconv.Itoa(n), Text: "kind", Group: "Others"})
	}
	f := &Frame{}
	page := struct {
		*Frame
		Choices []Choice
	}{f, choices}
	e := engine(t, map[string]string{"sample": `{{template "field" (.ChoiceField "c" "C" "2" .Choices)}}`})
	var out bytes.Buffer
	require.NoError(t, e.Render(&out, "sample", page))
	list := regexp.MustCompile(`(?s)<select.*</select>`).FindString(out.String())
	require.Contains(t, list, `<option value="0">Nobody knows</option><optgroup label="Sawn here"><option value="1">white oak</option><option value="2" selected>white ash</option></optgroup><optgroup label="Others"><option value="3">`)
	require.Contains(t, list, `<option value="7">kind</option></optgroup></select>`)
}
