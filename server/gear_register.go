package server

import (
	"time"

	"stillsaw/procedures/lift"
	"stillsaw/server/store"
)

// registered is the rig with what was entered of its parts, wherever in the mill,
// and with those marked that hung idle.
func registered(r lift.Rig, g store.Gear, now time.Time) lift.Rig { return g.Registered(r, now) }
