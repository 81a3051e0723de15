package server

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Who is told of a danger below the button has pressed it by then.
func TestCautionsStandBeforeWhatTheyAreAbout(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	before := func(body, first, then string) {
		t.Helper()
		at := strings.Index(body, first)
		require.GreaterOrEqual(t, at, 0, first)
		require.Greater(t, strings.Index(body, then), at, then)
		require.Equal(t, 1, strings.Count(body, first), "said once: "+first)
	}
	before(m.phone().get("/stop-it").Body, "press the machine&#39;s own stop first", `name="equipment"`)
	form := ada.get("/lifts/new").Body
	before(form, "End hooks hold only by being driven into the wood", `name="keep"`)
	refused := ada.post("/lifts/new", typing(redOakCant(), "extra", "1400 lb")).Body
	before(refused, "A falling or swinging load kills", `class="holds findings"`)
}
