package server

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// lineOf is the one thing of a page.
func lineOf(t *testing.T, answer map[string]any) map[string]any {
	t.Helper()
	require.Len(t, itemsIn(answer), 1)
	return itemsIn(answer)[0]
}

// changed is a thing as it was read with some of its fields changed, without what
// is only read of it.
func changed(read, to map[string]any, only ...string) map[string]any {
	body := map[string]any{}
	for field, value := range read {
		body[field] = value
	}
	for _, field := range only {
		delete(body, field)
	}
	for field, value := range to {
		body[field] = value
	}
	return body
}

// walkRegisters enters, changes and reads what is in the registers, with a token each.
func walkRegisters(t *testing.T, m *testMill, c *apiClient, reader, ada, sam string) {
	pinA, pinS, now := testSecrets["ada"], testSecrets["sam"], m.clock.Now()
	read := func(id string) map[string]any { return c.goes(id, apiAsk{token: reader}) }

	entered := map[string]any{"serial": "A-1", "diameter_m": 1.3208, "gauge": "8", "marked_rpm": 700, "teeth": 50, "kind": "inserted", "pin": pinA}
	blade := map[string]string{"blade": c.goes("enterBlade", apiAsk{token: ada, body: entered})["id"].(string)}
	for _, work := range []map[string]any{{"work": "looked", "crack_m": 0}, {"work": "fitted"}, {"work": "taken-off"}, {"work": "filed", "crack_m": 0}, {"work": "looked", "crack_m": 0.2}, {"work": "out-of-use", "note": "cracked"}} {
		c.goes("enterBladeWork", apiAsk{token: ada, path: blade, body: changed(work, map[string]any{"on": now.Add(-time.Hour), "pin": pinA})})
	}
	status, answer := c.call("enterBladeWork", apiAsk{token: ada, path: blade, body: map[string]any{"work": "filed", "on": now.Add(-time.Hour), "pin": pinA}})
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Equal(t, []string{"crack_m"}, fieldsOf(answer), "by the name the body has it under")
	line := lineOf(t, read("listBlades"))
	require.NotEmpty(t, line["against"], "a cracked saw stays off the spindle")
	other := changed(entered, map[string]any{"note": "from the old mill", "mark": line["mark"], "pin": pinS})
	c.goes("changeBlade", apiAsk{token: sam, path: blade, body: other})
	status, _ = c.call("changeBlade", apiAsk{token: sam, path: blade, body: other})
	require.Equal(t, http.StatusConflict, status, "the mark is of the state before")
	require.Equal(t, "from the old mill", lineOf(t, read("listBlades"))["note"])

	kit := map[string]string{"item": c.goes("enterSafety", apiAsk{token: sam, body: map[string]any{"kind": "first-aid", "place": "Stand", "contents": []string{"gauze"}, "pin": pinS}})["id"].(string)}
	c.goes("checkSafety", apiAsk{token: ada, path: kit, body: map[string]any{"work": "look", "on": "2026-03-02", "right": false, "missing": []string{"gauze"}, "pin": pinA}})
	line = lineOf(t, read("listSafety"))
	c.goes("changeSafety", apiAsk{token: sam, path: kit, body: changed(line, map[string]any{"place": "Door", "pin": pinS}, "id", "wrong", "due", "retired")})
	require.Equal(t, "Door", lineOf(t, read("listSafety"))["place"])

	lock := map[string]any{"kind": "keyed-padlock", "colour": "red", "only_here": true, "condition": "good", "issued": "2026-03-02", "pin": pinA}
	number := map[string]string{"lock": c.goes("addLock", apiAsk{token: ada, body: changed(lock, map[string]any{"number": "A 7/1"})})["id"].(string)}
	mark := itemWith(t, read("listLocks"), "number", "A 7/1")["mark"]
	bad := changed(lock, map[string]any{"condition": "bad", "mark": mark, "pin": pinS}, "issued")
	c.goes("changeLock", apiAsk{token: sam, path: number, body: bad})
	line = itemWith(t, read("listLocks"), "number", "A 7/1")
	require.Equal(t, "bad", line["condition"])
	require.Equal(t, string(m.people["ada"].ID), line["owner"], "a change that names no owner leaves the lock whose it was")
	require.NotEmpty(t, line["against"])

	gear := itemsIn(read("listGear"))[0]
	hook := map[string]string{"rig": gear["rig"].(string), "link": measuredPart(t, m)}
	c.goes("inspectGear", apiAsk{token: ada, path: hook, body: map[string]any{"every": "shift", "fit": true, "pin": pinA}})
	c.goes("measureGear", apiAsk{token: ada, path: hook, body: map[string]any{"what": "twist", "value": 0, "pin": pinA}})
	status, answer = c.call("inspectGear", apiAsk{token: ada, path: hook, body: map[string]any{"every": "shift", "fit": false, "pin": pinA}})
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, fieldsOf(answer), "note", "what is not fit says why")
}

// measuredPart is a part of the rig that has a twist to measure.
func measuredPart(t *testing.T, m *testMill) string {
	t.Helper()
	rig := testRig(m.clock.Now())
	for i := range rig.Links {
		if contains(rig.Links[i].Measures(), "twist") && rig.Links[i].ID != "" {
			return rig.Links[i].ID
		}
	}
	t.Fatal("no hook in the rig")
	return ""
}

// itemWith is the thing of a page whose field has the value.
func itemWith(t *testing.T, answer map[string]any, field, value string) map[string]any {
	t.Helper()
	for _, one := range itemsIn(answer) {
		if one[field] == value {
			return one
		}
	}
	t.Fatalf("nothing with %s %s", field, value)
	return nil
}

// walkPeopleAndSchedule enters, changes and reads who is at the mill and when it
// works.
func walkPeopleAndSchedule(t *testing.T, m *testMill, c *apiClient, reader, sam string) {
	pinS := testSecrets["sam"]
	key := store.NewID()
	add := apiAsk{token: sam, key: key, body: map[string]any{"name": "Ina Field", "role": "operator", "new_pin": "8305", "pin": pinS}}
	ina := map[string]string{"person": c.goes("addPerson", add)["id"].(string)}
	require.Equal(t, ina["person"], c.goes("addPerson", add)["id"], "sent once more it is the same person")
	kept := c.goes("getPerson", apiAsk{token: sam, path: ina})
	c.goes("changePerson", apiAsk{token: sam, path: ina, body: changed(kept, map[string]any{"qualified_lifting": true, "lifting_until": "2027-03-01", "lifting_note": "course", "pin": pinS}, "id")})
	require.Equal(t, "2027-03-01", c.goes("getPerson", apiAsk{token: sam, path: ina})["lifting_until"])
	status, _ := c.call("changePerson", apiAsk{token: sam, path: ina, body: changed(kept, map[string]any{"left": true, "pin": pinS}, "id")})
	require.Equal(t, http.StatusConflict, status, "the mark is of the state before")
	c.goes("enterTraining", apiAsk{token: sam, body: map[string]any{"people": []string{ina["person"]}, "level": "other", "covered": "what a lock means", "trainer": "Sam Ordway", "on": "2026-03-02", "pin": pinS}})
	require.Equal(t, "what a lock means", itemWith(t, c.goes("listTrainings", apiAsk{token: reader}), "person", ina["person"])["covered"])

	card := c.goes("getEmergencyCard", apiAsk{token: reader})
	body := changed(card, map[string]any{"address": "Mill Road 1", "numbers": []any{map[string]any{"who": "All", "number": "911"}}, "pin": pinS}, "made", "by", "at")
	c.goes("putEmergencyCard", apiAsk{token: sam, body: body})
	status, _ = c.call("putEmergencyCard", apiAsk{token: sam, body: body})
	require.Equal(t, http.StatusConflict, status, "the mark is of the state before")
	require.Equal(t, "Mill Road 1", c.goes("getEmergencyCard", apiAsk{token: reader})["address"])

	schedule := c.goes("getSchedule", apiAsk{token: reader})
	closed := map[string]any{"from": "2026-07-04T04:00:00Z", "until": "2026-07-05T04:00:00Z"}
	status, answer := c.call("putSchedule", apiAsk{token: sam, body: changed(schedule, map[string]any{"closed": []any{changed(closed, map[string]any{"reason": ""})}, "pin": pinS})})
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Equal(t, []string{"closed.1.reason"}, fieldsOf(answer))
	c.goes("putSchedule", apiAsk{token: sam, body: changed(schedule, map[string]any{"closed": []any{changed(closed, map[string]any{"reason": "holiday"})},
		"zones": []any{map[string]any{"zone": "America/Chicago", "from": "2026-09-01T05:00:00Z"}}, "pin": pinS})})
	now := c.goes("getSchedule", apiAsk{token: reader})
	require.Equal(t, schedule["shifts"], now["shifts"], "what was sent as it was read stays")
	require.Len(t, now["closed"], 1)
	require.Len(t, now["zones"], 1)
}
