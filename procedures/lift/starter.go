package lift

// StarterRig is a draft of the load path of a hoist with a yoke, two chain legs
// and a pair of end hooks, beam first. Every rating, mass, tag and date is left
// unknown: until a person has read them off the gear each lift is a NO-GO.
func StarterRig() Rig {
	return Rig{
		ID: "main-hoist", Name: "Main hoist with yoke and end hooks", Hitch: EndHooks,
		Links: []Link{
			{ID: "beam", Name: "Beam or jib", Kind: Beam},
			{ID: "trolley", Name: "Trolley", Kind: Trolley},
			{ID: "hoist", Name: "Hoist", Kind: Hoist},
			{ID: "hoist-hook", Name: "Hoist hook", Kind: HoistHook},
			{ID: "yoke", Name: "Yoke", Kind: Yoke},
			{ID: "legs", Name: "Chain legs", Kind: Leg, Pair: true},
			{ID: "end-hooks", Name: "End hooks", Kind: EndHook, Pair: true},
		},
	}
}
