//go:build !unix

package bench

import "time"

// cpu is how long this process had a processor so far; not known here.
func cpu() time.Duration { return 0 }
