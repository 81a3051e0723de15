package checklists

// hoistItems are H1 to H9. A hand chain hoist has neither limit switch nor
// buttons: its upper limit item falls away and its brake is tried by hand.
func hoistItems(a SetUp) []Item {
	byHand := a.Hoist == "hand-chain"
	items := []Item{
		{ID: "H1", State: Stopped, Severity: Stop, Source: "29 CFR 1910.184(e)(1); ASME B30.16, B30.20 (from memory)",
			Prompt: "Rated load can be read on hoist, yoke and slings, and all are in date",
			How:    "Read each plate and tag. A tag that can't be read takes the part out of use."},
		{ID: "H2", State: Stopped, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.179(j)(2)",
			Prompt: "Hook has no bend, twist or crack, and its latch closes",
			How:    "Hook empty and within reach. Look from the front and the side, work the latch with a thumb."},
		{ID: "H3", State: Stopped, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.265(c)(24)(ix)",
			Prompt: "Load chain is not twisted, nicked, stretched or rusty, and is oiled",
			How:    "Follow the working length by eye, no load on it. Both ends are fixed."},
		{ID: "H4", State: Stopped, Severity: Stop, Kind: Text, Source: "29 CFR 1910.184(d)",
			Prompt: "Slings and bridle looked over by today's competent person; enter the name",
			How:    "Every leg, link and fitting, by the person the mill named for it. Bad gear is taken away at once."},
		{ID: "H5", State: Stopped, Severity: Stop, DefectPhoto: true, Source: "ASME B30.20 (from memory)",
			Prompt: "Yoke is straight, welds are clean, every pin has its keeper",
			How:    "Look along it, tap it, look round each weld."},
		{ID: "H6", State: Stopped, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.265(c)(24)(ii)",
			Prompt: "End hooks are a pair, sharp, not opened, and their keepers work",
			How:    "Hold each against its gauge, try each keeper."},
		{ID: "H8", State: Running, Severity: Stop, Source: "ASME B30.16 (from memory)",
			Prompt: whenElse(byHand, "Hoist raises, lowers and holds where it is let go", "Buttons do what they say, stop when let go, and the hook does not drift"),
			How: "Hook empty, nobody under it. " +
				whenElse(byHand, "Pull up, pull down, let go of the hand chain, watch 10 seconds.", "Up, down, let go, watch 10 seconds.")},
		{ID: "H9", State: Stopped, Severity: Stop, Source: "common practice, no source; ASME B30.16 (from memory)",
			Prompt: "Beam, trolley, end stops and landing place are sound and clear",
			How:    "Look up along the beam, then walk the way the load will go."},
	}
	if !byHand {
		items = append(items, Item{ID: "H7", State: Running, Severity: Stop, Source: "29 CFR 1910.179(n)(4) (from memory)",
			Prompt: "Upper limit stops the empty hook",
			How:    "Nobody under it. Run the empty hook up slowly, a finger ready to let go. It stops by itself."})
	}
	return at("Hoist and rigging", "hoist", items...)
}
