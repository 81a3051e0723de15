package server

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"
)

func setUpAnswers() url.Values {
	return url.Values{
		"submission": {"01990000-0000-7000-8000-000000000001"}, "code": {"WREN-4821"}, "name": {"Fernhollow"}, "zone": {"America/New_York"}, "units": {"inch-pound"},
		"law": {"us-federal"}, "person": {"Sam Ordway"}, "password": {"green oak cant"}, "again": {"green oak cant"},
		"drive": {"electric"}, "feed": {"mandrel"}, "dogs": {"hand"}, "headblocks": {"2"}, "entry_points": {"2"}, "hoist": {"electric"}, "collector": {"cyclone"}, "setworks": {"powered"}, "off_bearing": {"powered"},
		"saw_diameter": {"52 in"}, "spindle_speed": {"600"},
		"shift_start": {"07:00"}, "shift_end": {"15:30"}, "day1": {"yes"}, "day2": {"yes"},
	}
}

func TestFirstPageOfAFreshDatabaseSetsTheMillUp(t *testing.T) {
	s, st, _ := newServer(t, "WREN-4821")
	p := newPhone(t, s, nil)
	require.Equal(t, "/set-up", p.get("/").URL.Path)
	reply := p.post("/set-up", setUpAnswers())
	require.Equal(t, "/published", reply.URL.Path)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	require.Equal(t, "Fernhollow", mill.Name)
	drafts, err := st.Of(mill.ID).Drafts(t.Context())
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(drafts), 7, "a list, procedures and a rig to read")
	front := p.get("/")
	require.Contains(t, front.Body, "HELD")
	require.NotContains(t, front.Body, "MAY RUN", "nothing is in force that nobody published")
}

func TestSetUpNamesWhatIsWrongAndLosesNothing(t *testing.T) {
	for field, bad := range map[string]string{
		"code": "GUESS", "name": "", "zone": "Mars/Olympus", "units": "furlongs", "person": "", "password": "short", "again": "another",
		"drive": "wind", "headblocks": "-3", "entry_points": "NaN", "hoist": "", "shift_start": "25:00", "shift_end": "noon", "saw_diameter": "-5 in", "spindle_speed": "1e99",
	} {
		s, st, _ := newServer(t, "WREN-4821")
		form := setUpAnswers()
		form.Set(field, bad)
		reply := newPhone(t, s, nil).post("/set-up", form)
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%s %q", field, bad)
		reply.says(t, `id="f-`+field, field)
		reply.says(t, `href="#f-`+field+`"`, field)
		if field != "name" {
			reply.says(t, `value="Fernhollow"`, field)
		}
		_, err := st.TheMill(t.Context())
		require.Error(t, err, "%s: nothing is stored", field)
	}
}
