package checklists_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func TestWhatIsWrongIsSaidOnceAfterStoppingWithoutAWord(t *testing.T) {
	at := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	crew := procedures.Person{ID: "ada", Role: procedures.Operator}
	silent := checklists.Defect{ID: "d", Equipment: "head-saw", Severity: checklists.Stop, At: at}

	said, err := silent.Describe(crew, "  splitter loose ", "photo", at.Add(time.Minute))
	require.NoError(t, err)
	assert.Equal(t, "splitter loose", said.What)
	assert.Equal(t, "photo", said.Photo)
	assert.Equal(t, checklists.Stop, said.Severity, "saying what it is frees nothing")
	assert.True(t, said.StopsNow(at.Add(time.Hour)))

	var refusal *plain.Refusal
	_, err = said.Describe(crew, "oh, nothing", "", at.Add(time.Hour))
	assert.ErrorAs(t, err, &refusal, "what was said stands")
	_, err = silent.Describe(procedures.Person{ID: "rita", Role: procedures.Reader}, "x", "", at.Add(time.Hour))
	assert.ErrorAs(t, err, &refusal, "a reader signs nothing")
	_, err = silent.Describe(crew, "x", "", at.Add(-time.Second))
	assert.ErrorAs(t, err, &refusal, "not before it was raised")
	returned := silent
	returned.ReturnedAt = at
	_, err = returned.Describe(crew, "x", "", at.Add(time.Hour))
	assert.ErrorAs(t, err, &refusal)

	var problems plain.Problems
	for _, what := range []string{"", " ", strings.Repeat("x", checklists.LongestNote+1), "\xff"} {
		_, err = silent.Describe(crew, what, "photo", at)
		require.ErrorAs(t, err, &problems, "%.10q", what)
		assert.NotNil(t, problems.For("what"))
	}
}
