package store

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func TestATextIsTakenApartOnceAndAnotherAnew(t *testing.T) {
	m := newMill(t)
	text := `{"id":"a","answers":[{"item":"x"}]}`
	first, err := readOnce[checklists.Inspection](m, text)
	require.NoError(t, err)
	again, err := readOnce[checklists.Inspection](m, strings.Clone(text))
	require.NoError(t, err)
	require.Same(t, &first.Answers[0], &again.Answers[0])
	asList, err := readOnce[checklists.List](m, text)
	require.NoError(t, err)
	require.EqualValues(t, "a", asList.ID, "the same text as another thing")
	other, err := readOnce[checklists.Inspection](m, strings.Replace(text, `"x"`, `"y"`, 1))
	require.NoError(t, err)
	require.EqualValues(t, "y", other.Answers[0].Item)
	_, err = readOnce[checklists.Inspection](m, "{")
	require.Error(t, err)
	m.s.kept.forget()
	anew, err := readOnce[checklists.Inspection](m, text)
	require.NoError(t, err)
	require.NotSame(t, &first.Answers[0], &anew.Answers[0])
}

func TestWhatIsKeptDecodedStaysBounded(t *testing.T) {
	m := newMill(t)
	note := strings.Repeat("n", 100_000)
	for i := range 100 {
		doc, err := json.Marshal(procedures.Person{ID: procedures.PersonID(NewID()), Name: note[i:]})
		require.NoError(t, err)
		_, err = readOnce[procedures.Person](m, string(doc))
		require.NoError(t, err)
	}
	size := 0
	for _, part := range []map[decodedKey]any{m.s.kept.decoded.young, m.s.kept.decoded.old} {
		for key := range part {
			size += len(key.text)
		}
	}
	require.LessOrEqual(t, size, 2*decodedMost)
	require.Greater(t, size, decodedMost/2)
}

// Rules, commands and pages share what was decoded: none may have changed it.
func TestWhatIsKeptDecodedIsStillWhatItsTextSays(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	for _, now := range []time.Time{six, six.Add(30 * 24 * time.Hour), six.Add(400 * 24 * time.Hour)} {
		f, err := m.Facts(t.Context(), now)
		require.NoError(t, err)
		checklists.Ready(f, now)
		f.Upcoming(now)
		for _, l := range f.Lists {
			f.Due(l, now)
			f.Missed(l, now)
			l.Counted(f.Mill.SetUp).Asks()
		}
	}
	_, err := m.s.TheMill(t.Context())
	require.NoError(t, err)
	_, _, err = m.TokenFor(t.Context(), [32]byte{8}, six)
	require.NoError(t, err)
	kept, kinds := 0, map[reflect.Type]bool{}
	for key, value := range m.s.kept.decoded.young {
		var anew any
		var err error
		switch value.(type) {
		case checklists.List:
			anew, err = read[checklists.List](key.text)
		case checklists.Inspection:
			anew, err = read[checklists.Inspection](key.text)
		case procedures.Person:
			anew, err = read[procedures.Person](key.text)
		case checklists.Mill:
			anew, err = read[checklists.Mill](key.text)
		case checklists.Token:
			anew, err = read[checklists.Token](key.text)
		case procedures.Procedure:
			anew, err = read[procedures.Procedure](key.text)
		default:
			require.Fail(t, "not known here", "%T", value)
		}
		require.NoError(t, err)
		require.Equal(t, anew, value)
		kept++
		kinds[key.of] = true
	}
	require.Greater(t, kept, 3)
	require.True(t, kinds[reflect.TypeFor[checklists.Mill]()] && kinds[reflect.TypeFor[checklists.Token]()])
}
