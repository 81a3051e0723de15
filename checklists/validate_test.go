package checklists_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

func TestListThatCannotBeUsedIsRefusedByField(t *testing.T) {
	for field, change := range map[string]func(*checklists.List){
		"id":                       func(l *checklists.List) { l.ID = "" },
		"version":                  func(l *checklists.List) { l.Version = -1 },
		"title":                    func(l *checklists.List) { l.Title = " " },
		"schedule":                 func(l *checklists.List) { l.Schedule.Every = "fortnight" },
		"items":                    func(l *checklists.List) { l.Items = nil },
		"items.#2.id":              func(l *checklists.List) { l.Items[1].ID = l.Items[0].ID },
		"items.#1.id":              func(l *checklists.List) { l.Items[0].ID = "" },
		"items.C1.equipment":       func(l *checklists.List) { l.Items[0].Equipment = "boiler" },
		"items.C1.station":         func(l *checklists.List) { l.Items[0].Station = "" },
		"items.C1.prompt":          func(l *checklists.List) { l.Items[0].Prompt = strings.Repeat("x", 301) },
		"items.C1.how":             func(l *checklists.List) { l.Items[0].How = "\t" },
		"items.C1.source":          func(l *checklists.List) { l.Items[0].Source = "" },
		"items.C1.state":           func(l *checklists.List) { l.Items[0].State = "asleep" },
		"items.C1.kind":            func(l *checklists.List) { l.Items[0].Kind = "song" },
		"items.C1.severity":        func(l *checklists.List) { l.Items[0].Severity = "" },
		"items.K4.limits.unit":     func(l *checklists.List) { l.Items[1].Limits.Unit = "" },
		"items.K4.limits.most":     func(l *checklists.List) { l.Items[1].Limits.Most = math.Inf(1) },
		"items.K4.limits.low":      func(l *checklists.List) { l.Items[1].Limits.Low, l.Items[1].Limits.High = nil, nil },
		"items.K4.limits.high":     func(l *checklists.List) { l.Items[1].Limits.High = number(math.NaN()) },
		"items.K4.limits.stop_at":  func(l *checklists.List) { l.Items[1].Limits.StopAt = number(0.001) },
		"items.K4.limits.high\x00": func(l *checklists.List) { l.Items[1].Limits.Low = number(1) },
	} {
		full := aList()
		list := full
		list.Items = []checklists.Item{item(t, full, "C1"), item(t, full, "K4")}
		require.NoError(t, list.Validate(aPlant()))
		change(&list)
		require.NotNil(t, problems(t, list.Validate(aPlant())).For(strings.Trim(field, "\x00")), "%s", field)
	}
	list := aList()
	require.NotNil(t, problems(t, list.Validate(nil)).For("items.C1.equipment"))
	for i := range list.Items {
		list.Items[i].NotFitted = true
	}
	require.NotNil(t, problems(t, list.Validate(aPlant())).For("items"), "a list that asks nothing")
}
