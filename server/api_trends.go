package server

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

type apiTrends struct {
	Since  time.Time     `json:"since"`
	Series []apiSeries   `json:"series"`
	Months []time.Time   `json:"months" says:"the first moment of each, this one the last"`
	Found  []apiByMonth  `json:"found" says:"defects, by equipment and month"`
	Mends  []apiMendTime `json:"mends" says:"the first of all equipment together"`
}

type apiSeries struct {
	List      checklists.ListID      `json:"list"`
	Item      checklists.ItemID      `json:"item"`
	Prompt    string                 `json:"prompt"`
	Equipment procedures.EquipmentID `json:"equipment"`
	Unit      string                 `json:"unit"`
	Low       *float64               `json:"low,omitzero"`
	High      *float64               `json:"high,omitzero"`
	Readings  []apiReading           `json:"readings" says:"since its equipment was last returned to service, or a saw fitted to it, oldest first"`
	Forecast  apiForecast            `json:"forecast"`
}

type apiReading struct {
	At         time.Time               `json:"at"`
	Value      float64                 `json:"value"`
	By         procedures.PersonID     `json:"by"`
	Inspection checklists.InspectionID `json:"inspection"`
	Out        bool                    `json:"out" says:"outside the limits as they are now"`
}

type apiForecast struct {
	Outlook string    `json:"outlook" says:"an aid to ordering the spare, never a reason to leave a check out" oneof:"too few|unsteady|away|too far|reaching|out"`
	PerDay  float64   `json:"per_day" says:"in the unit"`
	Limit   float64   `json:"limit" says:"it moves toward"`
	At      time.Time `json:"at,omitzero" says:"where the line reaches it"`
	Soonest time.Time `json:"soonest,omitzero" says:"between this and latest at 95 %"`
	Latest  time.Time `json:"latest,omitzero"`
}

type apiByMonth struct {
	Equipment procedures.EquipmentID `json:"equipment"`
	Counts    []int                  `json:"counts"`
}

type apiMendTime struct {
	Equipment     procedures.EquipmentID `json:"equipment,omitzero"`
	Defects       int                    `json:"defects"`
	Open          int                    `json:"open"`
	MendedSeconds *float64               `json:"mended_s,omitzero" says:"median from found to mended; left out: not half are"`
	BackSeconds   *float64               `json:"back_s,omitzero" says:"median from found to returned to service"`
}

func outlookWord(o checklists.Outlook) string {
	switch o {
	case checklists.Unsteady:
		return "unsteady"
	case checklists.Away:
		return "away"
	case checklists.TooFar:
		return "too far"
	case checklists.Reaching:
		return "reaching"
	case checklists.IsOut:
		return "out"
	}
	return "too few"
}

func getTrends(c *call) (apiTrends, error) {
	local := c.now.In(c.zone)
	since := time.Date(local.Year(), local.Month()-trendsBack+1, 1, 0, 0, 0, 0, c.zone)
	out := apiTrends{Since: since.UTC()}
	defects, err := c.desk.DefectsSince(c.ctx(), since)
	if err != nil {
		return out, err
	}
	plant, err := c.desk.Plant(c.ctx())
	if err != nil {
		return out, err
	}
	inspections, err := c.desk.InspectionsSince(c.ctx(), since)
	if err != nil {
		return out, err
	}
	amendments, err := c.desk.AmendmentsSince(c.ctx(), since)
	if err != nil {
		return out, err
	}
	blades, err := c.desk.Blades(c.ctx())
	if err != nil {
		return out, err
	}
	lists, err := c.desk.ListVersions(c.ctx())
	out.Series = each(checklists.Measured(lists, inspections, amendments, checklists.Renewed(plant, defects, blades), c.now), seriesForAPI)
	months, rows := checklists.ByMonth(defects, plant, trendsBack, c.zone, c.now)
	out.Months = each(months, time.Time.UTC)
	out.Found = each(rows, func(r checklists.MonthRow) apiByMonth { return apiByMonth{r.Equipment, r.Counts} })
	out.Mends = each(checklists.MendTimes(defects, plant, since, c.now), func(t checklists.MendTime) apiMendTime {
		return apiMendTime{t.Equipment, t.Defects, t.Open, inSecondsOr(t.Mended, t.MendedOK), inSecondsOr(t.Back, t.BackOK)}
	})
	return out, err
}

func inSecondsOr(d time.Duration, known bool) *float64 {
	if !known {
		return nil
	}
	s := d.Seconds()
	return &s
}

func seriesForAPI(s checklists.Series) apiSeries {
	f := s.Foresee()
	return apiSeries{List: s.List, Item: s.Item.ID, Prompt: s.Item.Prompt, Equipment: s.Equipment, Unit: s.Item.Limits.Unit, Low: s.Item.Limits.Low, High: s.Item.Limits.High,
		Readings: each(s.Run, func(m checklists.Measurement) apiReading { return apiReading(m) }),
		Forecast: apiForecast{outlookWord(f.Outlook), f.PerDay, f.Limit, f.At, f.Soonest, f.Latest}}
}
