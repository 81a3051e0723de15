package server

import "sync"

// keptUntil keeps what is made of what is written down, each by its key, until
// something more is: then all of it is let go of.
type keptUntil[K comparable, V any] struct {
	mu      sync.Mutex
	changed <-chan struct{} // closed once something was written after all of these were begun
	all     map[K]*V
}

// of is the place of one of them made of what is written down now, nil where there
// are as many as most already.
func (k *keptUntil[K, V]) of(key K, now <-chan struct{}, most int) *V {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.changed != now {
		k.changed, k.all = now, map[K]*V{}
	}
	kept := k.all[key]
	if kept == nil && len(k.all) < most {
		kept = new(V)
		k.all[key] = kept
	}
	return kept
}
