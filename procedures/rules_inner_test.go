package procedures

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A written procedure: what turns is waited for to the second, what can build up is
// proven again as often, and a block holds only before zero is proven.
func TestWrittenProcedureIsHeldToTheSecond(t *testing.T) {
	turns := Energy{ID: "e", Kind: Rotation, Coast: 100 * time.Second}
	block, valve := Device{ID: "d", Kind: Block, Cuts: []EnergyID{"e"}}, Device{ID: "v", Kind: Valve, Cuts: []EnergyID{"e"}}
	with := func(steps ...Step) *Procedure { return &Procedure{Devices: []Device{block, valve}, Steps: steps} }
	relieve := func(wait time.Duration) *Procedure { return with(Step{Stage: Relieve, Energy: "e", Wait: wait}) }
	require.True(t, relieve(125*time.Second).waitedFor(turns))
	require.False(t, relieve(125*time.Second-1).waitedFor(turns))
	unmeasured := Energy{ID: "e", Kind: Rotation}
	require.True(t, relieve(1).waitedFor(unmeasured))
	require.False(t, relieve(0).waitedFor(unmeasured))
	require.True(t, relieve(0).waitedFor(Energy{ID: "e", Kind: Shaft}))
	require.True(t, relieve(0).waitedFor(Energy{ID: "other", Kind: Rotation}))
	require.True(t, with(Step{Stage: Verify, Energy: "e"}).waitedFor(turns))
	require.False(t, with(Step{Stage: Isolate, Device: "d"}).waitedFor(turns), "a pin goes in as late")
	require.True(t, with(Step{Stage: Isolate, Device: "d", Wait: 125 * time.Second}).waitedFor(turns))
	require.True(t, with(Step{Stage: Isolate, Device: "v"}).waitedFor(turns), "a valve may be shut at once")
	require.True(t, with(Step{Stage: Restore, Device: "d"}).waitedFor(turns))

	again := func(step, energy time.Duration) bool {
		return with(Step{Stage: Verify, Energy: "e", Recheck: step}).rechecked(Energy{ID: "e", Recheck: energy})
	}
	require.True(t, again(0, 0))
	require.True(t, again(1, 1))
	require.False(t, again(0, 1))
	require.False(t, again(2, 1))
	require.True(t, again(time.Minute, time.Hour))
	require.False(t, with(Step{Stage: Verify, Energy: "other", Recheck: 1}).rechecked(Energy{ID: "e", Recheck: 1}))
	require.False(t, with(Step{Stage: Relieve, Energy: "e", Recheck: 1}).rechecked(Energy{ID: "e", Recheck: 1}))

	for name, tc := range map[string]struct {
		s     Step
		holds bool
	}{
		"isolated":            {Step{Stage: Isolate, Device: "v"}, true},
		"blocked":             {Step{Stage: Relieve, Device: "d"}, true},
		"blocked as it works": {Step{Stage: Verify, Device: "d"}, false},
		"valve let out":       {Step{Stage: Relieve, Device: "v"}, false},
		"blocked by hand":     {Step{Stage: Relieve, Energy: "e", Proof: BlockIn}, true},
		"only seen":           {Step{Stage: Relieve, Energy: "e", Proof: Tick}, false},
		"blocked too late":    {Step{Stage: Verify, Energy: "e", Proof: BlockIn}, false},
		"another blocked":     {Step{Stage: Relieve, Energy: "x", Proof: BlockIn}, false},
	} {
		require.Equal(t, tc.holds, with(tc.s).holds(Energy{ID: "e"}), name)
	}
	require.False(t, with(Step{Stage: Isolate, Device: "v"}).holds(Energy{ID: "x"}))
	p := hoistProcedure()
	for name, tc := range map[string]struct {
		change func(*Procedure)
		field  string
	}{
		"device twice": {func(p *Procedure) { p.Devices = append(slices.Clone(p.Devices), p.Devices[0]) }, "device " + string(p.Devices[0].ID)},
		"energy twice": {func(p *Procedure) { p.Energies = append(slices.Clone(p.Energies), p.Energies[0]) }, "energy " + string(p.Energies[0].ID)},
		"step twice":   {func(p *Procedure) { p.Steps = append(slices.Clone(p.Steps), p.Steps[0]) }, "step " + "20"},
		"wait":         {func(p *Procedure) { p.Steps = slices.Clone(p.Steps); p.Steps[0].Wait = -1 }, "step 1"},
		"again":        {func(p *Procedure) { p.Steps = slices.Clone(p.Steps); p.Steps[1].Recheck = -1 }, "step 2"},
		"no device id": {func(p *Procedure) { p.Devices = append(slices.Clone(p.Devices), Device{Kind: Block}) }, "device "},
		"title":        {func(p *Procedure) { p.Title = " " }, "title"},
		"equipment":    {func(p *Procedure) { p.Equipment = nil }, "equipment"},
	} {
		bad := p
		tc.change(&bad)
		if name == "step twice" {
			require.Len(t, fields(bad.Validate()), 1)
			continue
		}
		require.Contains(t, fields(bad.Validate()), tc.field, name)
	}
	for _, text := range []*string{&p.Purpose, &p.Scope, &p.Authorization, &p.Rules, &p.Techniques, &p.Enforcement} {
		was := *text
		*text = " "
		require.Len(t, fields(p.Validate()), 1)
		*text = was
	}
	published, err := p.Publish(1)
	require.NoError(t, err)
	require.Equal(t, 1, published.Version)
	_, err = p.Publish(0)
	require.Equal(t, []string{"version"}, fields(err))
}

// Coasts and words of a draft follow from one another.
func TestWordsOfADraftAreThoseGiven(t *testing.T) {
	p := starterOf("head-saw", registerAnswers("electric"))
	w := p.Wording()
	w.Title, w.Purpose, w.Scope, w.Authorization, w.Rules, w.Techniques, w.Enforcement = "1", "2", "3", "4", "5", "6", "7"
	w.Sizes["saw-heat"], w.Steps["saw-cool"] = " 90 °C ", " Wait. "
	w.Devices["saw-pin"] = Marking{Label: " Pin ", Place: " there ", Number: 42}
	got, err := p.Reworded(w)
	require.NoError(t, err)
	require.Equal(t, []string{"1", "2", "3", "4", "5", "6", "7"}, []string{got.Title, got.Purpose, got.Scope, got.Authorization, got.Rules, got.Techniques, got.Enforcement})
	s, _ := got.step("saw-cool")
	d, _ := got.device("saw-pin")
	require.Equal(t, []any{"Wait.", "Pin", "there", 42}, []any{s.Text, d.Label, d.Place, d.Number})
	require.Equal(t, "90 °C", got.Energies[slices.IndexFunc(got.Energies, func(e Energy) bool { return e.ID == "saw-heat" })].Magnitude)

	note := EnglishWaitNote()
	q := Procedure{Energies: []Energy{{ID: "e", Kind: Rotation, Coast: 40 * time.Second}, {ID: "heat", Kind: Thermal}}, Steps: []Step{
		{ID: "relieve", Stage: Relieve, Energy: "e", Text: "Wait." + note.of(40*time.Second, 50*time.Second), Wait: 50 * time.Second},
		{ID: "pin", Stage: Isolate, Energy: "e", Text: "Pin.", Wait: 50 * time.Second},
		{ID: "seen", Stage: Verify, Energy: "e", Text: "Seen."}, {ID: "cool", Stage: Relieve, Energy: "heat", Text: "Cool.", Wait: 7}, {ID: "bare", Stage: Relieve, Energy: "e", Text: "Hold."}}}
	waits := func(energy int, coast time.Duration) []time.Duration {
		next := q
		next.Steps, next.Energies = slices.Clone(q.Steps), slices.Clone(q.Energies)
		next.measured(&next.Energies[energy], coast, []WaitNote{note, note})
		require.Equal(t, coast, next.Energies[energy].Coast)
		var all []time.Duration
		for _, s := range next.Steps {
			all = append(all, s.Wait)
		}
		if energy == 0 {
			require.Equal(t, "Wait."+note.of(coast, next.Steps[0].Wait), next.Steps[0].Text)
		}
		require.Equal(t, []string{"Pin.", "Seen.", "Cool.", "Hold."}, []string{next.Steps[1].Text, next.Steps[2].Text, next.Steps[3].Text, next.Steps[4].Text})
		return all
	}
	require.Equal(t, []time.Duration{100 * time.Second, 100 * time.Second, 0, 7, 100 * time.Second}, waits(0, 80*time.Second))
	require.Equal(t, []time.Duration{50 * time.Second, 50 * time.Second, 0, 7, 0}, waits(0, 40*time.Second), "as it was")
	require.Equal(t, []time.Duration{5 * time.Minute, 5 * time.Minute, 0, 7, 5 * time.Minute}, waits(0, 0), "a measurement taken back")
	require.Equal(t, []time.Duration{50 * time.Second, 50 * time.Second, 0, 7, 0}, waits(1, time.Second))
}

// Certificates and training, person by person and day by day.
func TestCertificateHoldsEachDayAndPerson(t *testing.T) {
	with := func(change func(*certified)) []string {
		c := goodCertificate(hoistProcedure())
		c.in.Findings = []Finding{{Said: "hasp worn", Kind: WrongGear, Owner: annOp.ID, Due: c.in.On}}
		change(&c)
		return fields(second(certify(c)))
	}
	finding := func(change func(*Finding)) []string { return with(func(c *certified) { change(&c.in.Findings[0]) }) }
	require.Empty(t, finding(func(*Finding) {}))
	require.Equal(t, []string{"findings.1.kind", "findings.1.person"}, finding(func(f *Finding) { f.Kind = "luck" }))
	require.Equal(t, []string{"findings.1.person"}, finding(func(f *Finding) { f.Kind = Knowledge }))
	require.Empty(t, finding(func(f *Finding) { f.Kind, f.Person = Knowledge, calOp.ID }))
	require.Empty(t, finding(func(f *Finding) { f.Kind = WrongText }))
	require.Equal(t, []string{"findings.1.owner"}, finding(func(f *Finding) { f.Owner = "nobody" }))
	require.Equal(t, []string{"findings.1.owner"}, with(func(c *certified) {
		c.People = append(c.People, Person{ID: "gone", Role: Operator, Left: true})
		c.in.Findings[0].Owner = "gone"
	}))
	require.Equal(t, []string{"findings.1.due"}, finding(func(f *Finding) { f.Due = f.Due.Add(-1) }))
	require.Equal(t, []string{"findings.1.due"}, with(func(c *certified) { c.in.Findings[0].Due = time.Time{} }))
	require.Equal(t, []string{"findings.2.said"}, with(func(c *certified) {
		c.in.Findings = append(c.in.Findings, Finding{Said: " ", Kind: WrongGear, Owner: annOp.ID, Due: c.in.On})
	}))
	require.Empty(t, with(func(c *certified) {
		c.in.On, c.in.WhyLater = c.now, "late"
		c.in.Reviewed[0].On = c.now
		c.in.Findings = nil
	}))
	require.Contains(t, with(func(c *certified) { c.in.On = c.now.Add(1) }), "on")
	require.Equal(t, []string{"reviewed.ann"}, with(func(c *certified) {
		c.in.Reviewed = []Review{{Person: annOp.ID, On: c.now.Add(1)}}
	}), "a day to come is none")
	require.Equal(t, []string{"equipment"}, with(func(c *certified) { c.in.Equipment = []EquipmentID{"hoist", "carriage"} }))
	require.Equal(t, []string{"outside"}, with(func(c *certified) { c.in.Outside = "Jo" }))
	require.Equal(t, []string{"outside"}, with(func(c *certified) { c.in.Firm = "Firth" }))
	c := goodCertificate(hoistProcedure())
	c.in.Watched, c.Watched, c.in.ShownBy = "other", nil, annOp.ID
	signed, err := certify(c)
	require.NoError(t, err)
	require.Empty(t, signed.Watched, "nothing was watched")
	require.Equal(t, []any{ProcedureID("hoist"), 1, benOp.ID, shiftDay}, []any{signed.Procedure, signed.Version, signed.By, signed.At})

	facts := InspectionFacts{Procedure: Procedure{Equipment: []EquipmentID{"hoist"}}, People: append(crewOfTwo(), Person{ID: "gone", Left: true}),
		Affected: []Affected{{"carriage", []PersonID{samSup.ID}}, {"hoist", []PersonID{calOp.ID, "gone", "nobody", calOp.ID}}, {"hoist", []PersonID{annOp.ID, calOp.ID}}}}
	require.Equal(t, []PersonID{calOp.ID, annOp.ID}, facts.AffectedHere())
	watched := func(events ...Event) bool {
		l := *goodCertificate(hoistProcedure()).Watched
		l.Events = events
		return goodCertificate(hoistProcedure()).MayHaveWatched(l)
	}
	require.True(t, watched(Event{Kind: StepDone, Step: "at-zero"}))
	require.False(t, watched(Event{Kind: Rechecked, Step: "at-zero"}))
	require.False(t, watched(Event{Kind: StepDone, Step: "read-energies"}))

	in := ProcedureInspection{ID: "i", Findings: []Finding{{Owner: annOp.ID, Due: shiftDay}, {Owner: annOp.ID}}}
	done := []ActionDone{{Inspection: "i", Finding: 1}, {Inspection: "other", Finding: 0}}
	for n, want := range map[int]bool{-1: false, 0: true, 1: false, 2: false} {
		require.Equal(t, want, second(ActionDone{Finding: n, Note: "x"}.SeeTo(in, done, annOp, shiftDay)) == nil, "%d", n)
	}
	gone := annOp
	gone.Left = true
	require.Error(t, second(ActionDone{Note: "x"}.SeeTo(in, nil, gone, shiftDay)))
	require.NoError(t, second(ActionDone{Note: "x"}.SeeTo(in, nil, samSup, shiftDay)))
	require.False(t, OpenActions([]ProcedureInspection{in}, nil, shiftDay)[0].Late)
	require.True(t, OpenActions([]ProcedureInspection{in}, nil, shiftDay.Add(1))[0].Late)
	require.Equal(t, 30*24*time.Hour, InspectionWarning)
	state := func(now time.Time) DueState {
		return NextInspection("p", shiftDay, nil, []time.Time{shiftDay.Add(1)}, now).State
	}
	year := shiftDay.AddDate(1, 0, 0)
	require.Equal(t, []DueState{DueLater, DueSoon, DueSoon, DueOverdue}, []DueState{state(year.Add(-InspectionWarning - 1)), state(year.Add(-InspectionWarning)), state(year.Add(-1)), state(year)})
	require.Equal(t, DueAtNextUse, NextInspection("p", shiftDay, nil, []time.Time{shiftDay}, year).State, "used as it was put in force, not since")
	require.Equal(t, year, NextInspection("p", shiftDay, []ProcedureInspection{{Procedure: "p", On: shiftDay.Add(time.Hour)}}, nil, shiftDay).By, "one to come doesn't count yet")
}

// What counts of trainings: which are the newest, by day and by when they were
// entered, until the day they run out.
func TestTrainingCountsByTheDay(t *testing.T) {
	given := func(id TrainingID, day, entered int) Training {
		return Training{ID: id, Person: annOp.ID, Level: AuthorizedLevel, Procedures: []TrainedOn{{"p", day + 10}}, On: shiftDay.AddDate(0, 0, day), At: shiftDay.AddDate(0, 0, entered)}
	}
	k := Learned{Person: annOp.ID, Trainings: []Training{given("c", -1, 5), given("b", -1, 4), given("a", -3, 9), given("later", 1, 1), {Person: benOp.ID, Level: AuthorizedLevel}, {Person: annOp.ID, Level: AffectedLevel}}}
	var order []TrainingID
	for _, one := range k.lockingOut(shiftDay) {
		order = append(order, one.ID)
	}
	require.Equal(t, []TrainingID{"a", "b", "c"}, order)
	newest, version, ok := k.Newest("p", shiftDay)
	require.Equal(t, []any{TrainingID("c"), 9, true}, []any{newest.ID, version, ok})
	_, version, ok = k.Newest("other", shiftDay)
	require.Equal(t, []any{0, false}, []any{version, ok})
	one := Learned{Person: annOp.ID, Trainings: k.Trainings[:1]}
	_, _, ok = one.Newest("p", shiftDay)
	require.True(t, ok, "one is enough")
	expires := Training{Person: annOp.ID, Level: OtherLevel, On: shiftDay, Expires: shiftDay.AddDate(0, 0, 1)}
	require.False(t, expires.over(expires.Expires.Add(-1)))
	require.True(t, expires.over(expires.Expires))
	present := func(now time.Time, t Training) bool { return MayBePresent(annOp.ID, []Training{t}, now) }
	require.True(t, present(shiftDay, expires))
	require.False(t, present(shiftDay.Add(-1), expires), "to come")
	require.False(t, present(expires.Expires, expires))
	require.False(t, present(shiftDay, Training{Person: benOp.ID, Level: OtherLevel}))
	require.False(t, present(shiftDay, Training{Person: annOp.ID}))
	in := ProcedureInspection{Procedure: "p", On: shiftDay.AddDate(0, 0, -2), At: shiftDay, Findings: []Finding{{Kind: Knowledge, Person: annOp.ID}}}
	found := func(change func(*ProcedureInspection, *Learned)) int {
		in, k := in, Learned{Person: annOp.ID, Trainings: []Training{given("a", -3, 0)}}
		in.Findings = slices.Clone(in.Findings)
		change(&in, &k)
		k.Inspections = []ProcedureInspection{in}
		return len(gapFound(k.asked(Procedure{ID: "p"}, shiftDay)))
	}
	require.Equal(t, 1, found(func(*ProcedureInspection, *Learned) {}))
	require.Zero(t, found(func(in *ProcedureInspection, _ *Learned) { in.Procedure = "other" }))
	require.Zero(t, found(func(in *ProcedureInspection, _ *Learned) { in.On = shiftDay.Add(1) }))
	require.Zero(t, found(func(in *ProcedureInspection, _ *Learned) { in.Findings[0].Kind = WrongText }))
	require.Zero(t, found(func(in *ProcedureInspection, _ *Learned) { in.Findings[0].Person = benOp.ID }))
	require.Equal(t, 1, found(func(in *ProcedureInspection, _ *Learned) { in.Findings[0].Kind = Deviation }))
	require.Zero(t, found(func(_ *ProcedureInspection, k *Learned) { k.Trainings = append(k.Trainings, given("b", -1, 0)) }))
	require.Zero(t, found(func(_ *ProcedureInspection, k *Learned) { k.Trainings = append(k.Trainings, given("b", -2, 1)) }), "that day, entered after")
	require.Equal(t, 1, found(func(_ *ProcedureInspection, k *Learned) { k.Trainings = append(k.Trainings, given("b", -2, 0)) }), "entered as soon")
	own := OwnTraining(samSup, []Procedure{hoistProcedure(), {ID: "draft"}}, shiftDay)
	require.True(t, own.Tags && own.OwnWord)
	require.Equal(t, []TrainedOn{{"hoist", 1}, {"draft", 1}}, own.Procedures)
	require.Equal(t, AuthorizedLevel, own.Level)
	require.Len(t, own.TagPoints, 6)
	days := []time.Time{shiftDay.AddDate(0, 0, -2), shiftDay, shiftDay.AddDate(0, 0, 1)}
	for day, version := range map[int]int{-9: 1, -3: 1, -2: 1, -1: 1, 0: 2, 1: 3} {
		require.Equal(t, version, TaughtVersion(days, shiftDay.AddDate(0, 0, day)), "%d", day)
	}
	training := func(change func(*Training)) []string {
		one := goodTraining(hoistProcedure())
		change(&one)
		return fields(second(one.Enter(samSup, shiftDay)))
	}
	require.Equal(t, []string{"tag_points"}, training(func(t *Training) { t.Tags = true }))
	require.Equal(t, []string{"tag_points"}, training(func(t *Training) { t.TagPoints = TagPoints()[:5] }))
	require.Empty(t, training(func(t *Training) { t.Tags, t.TagPoints = true, TagPoints() }))
	require.Empty(t, training(func(t *Training) { t.TagPoints = TagPoints() }))
	require.Equal(t, []string{"expires"}, training(func(t *Training) { t.Expires = t.On }))
	require.Empty(t, training(func(t *Training) { t.Expires = t.On.Add(1) }))
	require.Empty(t, training(func(t *Training) { t.On = shiftDay }))
	require.Equal(t, []string{"on"}, training(func(t *Training) { t.On = shiftDay.Add(1) }))
	p, err := redLocks().Keep(samSup, crewOfTwo(), nil, shiftDay.Add(5))
	require.NoError(t, err)
	require.Equal(t, []any{samSup.ID, shiftDay.Add(5)}, []any{p.By, p.At})
	affected := func(who PersonID, at EquipmentID) []string {
		p := redLocks()
		p.Affected = []Affected{{at, []PersonID{annOp.ID, who}}}
		return fields(second(p.Keep(samSup, crewOfTwo(), Plant{{ID: "saw"}}, shiftDay)))
	}
	require.Empty(t, affected(calOp.ID, "saw"))
	require.Equal(t, []string{"affected"}, affected("nobody", "saw"))
	require.Equal(t, []string{"affected"}, affected(calOp.ID, "edger"))
	require.Equal(t, Declared{}, Declaration{By: samSup.ID}.Declared())
	require.Equal(t, Declared{NoHazard: samSup.ID}, Declaration{NoHazard: true, By: samSup.ID}.Declared())
	require.Equal(t, Declared{FullyDead: samSup.ID}, Declaration{FullyDead: true, By: samSup.ID}.Declared())
}
