package checklists

import "fmt"

// dogItems are K1 to K6: each dog by itself, upper and lower on each headblock,
// 29 CFR 1910.265(e)(1)(viii); the pressure item only where dogs are powered.
func dogItems(a SetUp) []Item {
	var items []Item
	blocks := repeats(a.Headblocks)
	for _, dog := range []struct{ id, name string }{{"K1", "upper dog"}, {"K2", "lower dog"}} {
		for block := 1; block <= blocks; block++ {
			items = append(items, Item{ID: ItemID(fmt.Sprintf("%s-%d", dog.id, block)), State: LockedOut, Severity: Stop,
				Source: "29 CFR 1910.265(e)(1)(viii)",
				Prompt: whenElse(a.Headblocks > 0, fmt.Sprintf("Headblock %d, %s: point sharp, arm and pin sound, holds", block, dog.name),
					fmt.Sprintf("Every headblock, %s: point sharp, arm and pin sound, holds", dog.name)),
				How: "Set it in a block of wood by hand and pull. No bent arm, loose pin or rounded point." +
					whenElse(a.Dogs != "hand", " The pressure is off and vented.", "")})
		}
	}
	items = append(items,
		Item{ID: "K3", State: LockedOut, Severity: Stop, Source: practice, Kind: Number,
			Limits: Limits{Unit: "in", Low: bound(0.5), Most: 12, SiteSet: true},
			Prompt: "Smallest gap from a dog to the line of the saw, set for the last board",
			How:    "Set the knees as for the last board, the dogs closed. Measure at every dog and enter the smallest."},
		Item{ID: "K4", State: Stopped, Severity: Mend, Source: practice, Kind: Number,
			Limits: Limits{Unit: "in", High: bound(1.0 / 16), Most: 6, SiteSet: true},
			Prompt: "Largest difference between knees after one set",
			How:    "Check each knee with a square, make one set, measure the advance at each headblock. Enter the largest difference."},
		Item{ID: "K5", State: Stopped, Severity: Stop, Source: practice,
			Prompt: "Setworks hold without creep or slip",
			How:    "Push hard on each knee from its back. Nothing moves, the pawl or brake stays in."})
	if a.Dogs != "hand" {
		items = append(items, Item{ID: "K6", State: Stopped, Severity: Stop, Source: "MI R 408.15234(2) (Michigan; good practice elsewhere)", Kind: Number,
			Limits: Limits{Unit: "psi", High: bound(5), Most: 5000, SiteSet: true},
			Prompt: "Pressure the dogs lose in 5 minutes with the supply off",
			How:    "Close the dogs on a block, shut the supply, read the gauge, wait 5 minutes, read it again. Enter the drop."})
	}
	return at("Dogs and knees", "dogs-and-knees", items...)
}
