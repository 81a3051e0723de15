package server

import (
	"fmt"
	"slices"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func scheduleOperations() []operation {
	return []operation{
		reads("getSchedule", "/schedule", "/", "Shifts, closures and changes of time zone of the mill", getScheduleForAPI),
		writes("putSchedule", fiber.MethodPut, "/schedule", "/mill", "Put these shifts, closures and changes of zone in place of those there are", putScheduleForAPI),
	}
}

// apiTimes are when the mill works. Closures over for more than a month are not
// among them, and stay as they are.
type apiTimes struct {
	Zone   string          `json:"zone" says:"IANA name, until the first change"`
	Zones  []apiZoneChange `json:"zones" says:"later changes of it, the earliest first"`
	Shifts []apiShift      `json:"shifts"`
	Closed []apiClosed     `json:"closed" says:"those over for more than a month are left out, and stay as they are"`
}

type apiZoneChange struct {
	Zone string    `json:"zone" says:"IANA name"`
	From time.Time `json:"from"`
}

type apiSchedule struct {
	seen
	apiTimes
}

func getScheduleForAPI(c *call) (apiSchedule, error) {
	out := apiSchedule{seen{store.Mark(c.mill)}, apiTimes{Zone: c.mill.Zone, Shifts: each(c.mill.Shifts, shiftForAPI), Closed: []apiClosed{},
		Zones: each(c.mill.Zones, func(z checklists.ZoneFrom) apiZoneChange { return apiZoneChange(z) })}}
	for _, one := range c.mill.Closed {
		if !c.over(one) {
			out.Closed = append(out.Closed, apiClosed(one))
		}
	}
	return out, nil
}

type apiSchedulePut struct {
	signature
	seen
	apiTimes
}

func putScheduleForAPI(c *call, b apiSchedulePut) (apiDone, error) {
	mill := c.mill
	mill.Zone, mill.Shifts, mill.Zones = b.Zone, nil, nil
	mill.Closed = slices.DeleteFunc(slices.Clone(c.mill.Closed), func(one checklists.Closure) bool { return !c.over(one) })
	kept := len(mill.Closed)
	var bad plain.Problems
	places := map[string]string{}
	for i, one := range b.Closed {
		closed := checklists.Closure{From: one.From.UTC(), Until: one.Until.UTC(), Reason: one.Reason}
		bad.Unless(closed.Reason != "" || withheld(closed, c.mill.Closed), fmt.Sprintf("closed.%d.reason", i+1), "why the mill is closed")
		mill.Closed = append(mill.Closed, closed)
		for _, field := range []string{"until", "reason"} {
			places[fmt.Sprintf("closed.%d.%s", kept+i+1, field)] = fmt.Sprintf("closed.%d.%s", i+1, field)
		}
	}
	for _, one := range b.Zones {
		mill.Zones = append(mill.Zones, checklists.ZoneFrom{Zone: one.Zone, From: one.From.UTC()})
	}
	for i, one := range b.Shifts {
		shift := checklists.Shift{Name: one.Name, Start: minutes(one.Start), End: minutes(one.End), People: one.People}
		for _, name := range one.Days {
			day := slices.Index(weekdays(), name)
			bad.Unless(day >= 0, fmt.Sprintf("shifts.%d.days", i+1), "days of the week, such as Monday")
			shift.Days = append(shift.Days, time.Weekday(max(day, 0)))
		}
		mill.Shifts = append(mill.Shifts, shift)
	}
	bad.Add("", mill.Validate())
	if err := renamed(bad, places).Err(); err != nil {
		return apiDone{}, err
	}
	return done(mill.ID, c.desk.EditMill(c.ctx(), c.submission(), b.Mark, mill, c.person, c.now))
}

// weekdays are the names of the days, Sunday first as [time.Weekday] counts.
func weekdays() (names []string) {
	for day := time.Sunday; day <= time.Saturday; day++ {
		names = append(names, day.String())
	}
	return names
}
