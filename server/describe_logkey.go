package server

import (
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// logKeySaid says which key signs from an entry on, and why there is another.
func logKeySaid(k store.LogKey) plain.Sentence {
	name := record.Fingerprint(k.Verifier)
	switch k.Why {
	case store.FirstKey:
		return plain.Say("The key that signs checkpoints of the record from here on: %s. It is the first.", name)
	case store.RotatedKey:
		if k.Reason == "" {
			return plain.Say("A supervisor replaced the key that signs checkpoints of the record. From here on it is %s. The reason is not kept.", name)
		}
		return plain.Say("A supervisor replaced the key that signs checkpoints of the record. From here on it is %[1]s. Why: %[2]s", name, k.Reason)
	}
	return plain.Say("The file of the former key was not found on the computer. From here on checkpoints of the record are signed by %s.", name)
}
