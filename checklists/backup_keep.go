package checklists

import (
	"cmp"
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// BackupKeep is for how long backups are kept. The newest whole copy and what
// builds on it is always kept, whatever the numbers say.
type BackupKeep struct {
	Hours  int `json:"hours"`  // for which every one is kept
	Days   int `json:"days"`   // for which one of each day is kept
	Months int `json:"months"` // for which one of each month is kept; 0: for good
	Most   int `json:"most"`   // gigabytes of all together, the oldest going first; 0: no bound
}

// Backup is one that lies at a place. Base is the whole copy it builds on, its own
// name for one that is whole.
type Backup struct {
	Name, Base string
	Made       time.Time
	Bytes      int64
}

// gigabyte is of the kind disks are sold by.
const gigabyte = 1_000_000_000

// Gone lists the names of those of all that are no longer to be kept at now, with
// whether what must be kept is more than the bound. Days and months are those of
// loc.
//
// A small backup can be read only together with its whole copy and all small ones
// between. So they go together, once the last of them is past the hours, and a
// whole copy stays while one builds on it.
func (k BackupKeep) Gone(all []Backup, now time.Time, loc *time.Location) (names []string, over bool) {
	chains := chainsOf(all)
	if len(chains) == 0 {
		return nil, false
	}
	days, months := map[string]bool{}, map[string]bool{}
	var kept []Backup
	for i := len(chains) - 1; i >= 0; i-- { // the newest first
		chain := chains[i]
		if i == len(chains)-1 || now.Sub(chain[len(chain)-1].Made) < time.Duration(k.Hours)*time.Hour {
			kept = append(kept, chain...)
			days[dayIn(chain[0], loc)], months[monthIn(chain[0], loc)] = true, true
			continue
		}
		base, local := chain[0], now.In(loc)
		inDays := k.Days > 0 && base.Made.After(local.AddDate(0, 0, -k.Days)) && !days[dayIn(base, loc)]
		inMonths := (k.Months == 0 || base.Made.After(plain.MonthsOn(local, -k.Months))) && !months[monthIn(base, loc)]
		small := chain
		if (inDays || inMonths) && base.Name == base.Base {
			kept, small = append(kept, base), chain[1:]
			days[dayIn(base, loc)], months[monthIn(base, loc)] = true, true
		}
		for _, one := range small {
			names = append(names, one.Name)
		}
	}
	bound, sum := int64(k.Most)*gigabyte, int64(0)
	if bound == 0 {
		return names, false
	}
	newest := chains[len(chains)-1][0].Base
	full := false
	for _, chain := range slices.Backward(chainsOf(kept)) {
		more := int64(0)
		for _, one := range chain {
			more += one.Bytes
		}
		switch full = full || sum+more > bound; {
		case !full:
			sum += more
		case chain[0].Base == newest:
			sum, over = sum+more, true
		default:
			for _, one := range chain {
				names = append(names, one.Name)
			}
		}
	}
	return names, over
}

func dayIn(b Backup, loc *time.Location) string   { return b.Made.In(loc).Format(time.DateOnly) }
func monthIn(b Backup, loc *time.Location) string { return b.Made.In(loc).Format("2006-01") }

// chainsOf are backups by the whole copy they build on, the oldest first, in each
// the whole copy first.
func chainsOf(all []Backup) [][]Backup {
	by := map[string][]Backup{}
	for _, one := range all {
		by[one.Base] = append(by[one.Base], one)
	}
	var chains [][]Backup
	for _, chain := range by {
		slices.SortFunc(chain, func(a, b Backup) int {
			if whole := cmp.Compare(btoi(a.Name != a.Base), btoi(b.Name != b.Base)); whole != 0 {
				return whole
			}
			return cmp.Or(a.Made.Compare(b.Made), cmp.Compare(a.Name, b.Name))
		})
		chains = append(chains, chain)
	}
	slices.SortFunc(chains, func(a, b []Backup) int {
		return cmp.Or(a[0].Made.Compare(b[0].Made), cmp.Compare(a[0].Name, b[0].Name))
	})
	return chains
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}
