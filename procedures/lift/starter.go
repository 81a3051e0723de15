package lift

import "slices"

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

// BeginRig is a draft as [StarterRig] is, of another rig of the mill: under its
// own id and name, its parts under ids of their own. from is the rig whose hoist
// it hangs on, the zero rig for none: of that it keeps each part down to the
// hoist hook, as the same steel under the same id.
func BeginRig(id, name string, from Rig) Rig {
	r := StarterRig()
	r.ID, r.Name = id, name
	for i := range r.Links {
		r.Links[i].ID = id + "-" + r.Links[i].ID
	}
	upper := from.downToHook()
	if len(upper) == 0 {
		return r
	}
	r.Begun = from.ID
	r.Links = append(slices.Clone(upper), r.Links[len(r.downToHook()):]...)
	return r
}

// downToHook are the parts down to the hoist hook, none where there is no hook.
func (r *Rig) downToHook() []Link {
	for i := range r.Links {
		if r.Links[i].Kind == HoistHook {
			return r.Links[:i+1]
		}
	}
	return nil
}
