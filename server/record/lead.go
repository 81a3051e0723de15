package record

import (
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

// Lead is a consistency proof as it is handed out: the hashes that show that the
// log goes on from an older checkpoint, and the newer one they lead to.
type Lead struct {
	To   Found
	Path []tlog.Hash
}

// FindLead reads what the program answers to /checkpoint/consistency: hashes, one
// a line, and a checkpoint. It tells whether text is such.
func FindLead(text string) (Lead, bool) {
	found := FindCheckpoints(text)
	if len(found) != 1 {
		return Lead{}, false
	}
	lead := Lead{To: found[0]}
	for _, line := range linesOf(text) {
		if strings.HasPrefix(line, originPrefix) {
			break
		}
		hash, err := tlog.ParseHash(line)
		if err != nil || len(lead.Path) > proofMost {
			return Lead{}, false
		}
		lead.Path = append(lead.Path, hash)
	}
	return lead, len(lead.Path) > 0
}

// From tells whether the lead shows that its newer checkpoint goes on from older.
func (l Lead) From(older Head) bool {
	return older.Size < l.To.Size && CheckConsistency(older, l.To.Head, l.Path) == nil
}
