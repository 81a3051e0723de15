package store

import "stillsaw/procedures/plain"

// projections are the tables that follow from the entries of the record and
// from nothing else: a rebuild makes each of them anew and holds it against the
// one kept. Every other table stands in notProjected.
func projections() []string {
	return []string{
		"mills", "people", "equipment", "publications", "releases", "renewals",
		"inspections", "signed_days", "unsigned_walks", "amendments", "run_checks", "meter_readings", "events", "excuses", "clocks", "misdated",
		"defects", "defect_notes", "departures", "incidents", "incident_actions",
		"lockouts", "lock_items", "trainings", "procedure_inspections", "findings_seen_to", "contractors", "programs", "coasts", "declarations", "tasks",
		"lifts", "lift_runs", "weighings", "lighter", "gear_inspections", "gear_measurements",
		"blades", "blade_acts", "safety_items", "safety_checks", "emergency_cards", "tokens", "log_keys", "keep_policies", "keep_holds", "dropped_values",
	}
}

// NotCompared is a table that can't be made again from the entries, and why.
type NotCompared struct {
	Table string
	Why   plain.Sentence
}

// notProjected are the tables that are no projections, each with the reason.
func notProjected() []NotCompared {
	record := plain.Say("the record itself, recomputed by the verification")
	secret := plain.Say("a secret, which stands in no entry")
	working := plain.Say("work under way, gone once it is signed")
	mail := plain.Say("how mail is sent and what was sent, which stands in no entry")
	witness := plain.Say("what witnesses hold and where they are, which stands in no entry")
	backup := plain.Say("where backups go and what came of them, which stands in no entry")
	words := plain.Say("words the entries are found by, held against the entries by the verification")
	return []NotCompared{
		{"search_words", words}, {"search_places", words}, {"search_gaps", plain.Say("how far entries of an earlier Stillsaw have their words")},
		{"entries", record}, {"entry_equipment", record}, {"openings", record}, {"tree_hashes", record}, {"log_heads", record},
		{"photos", plain.Say("pictures, held against the digests in the entries by the verification")},
		{"checkpoints", plain.Say("checkpoints put by, each held against the record by the verification")},
		{"migrations", plain.Say("the upgrades this database has had")},
		{"submissions", plain.Say("what each form was answered, so that one sent twice is answered alike")},
		{"credentials", secret}, {"sessions", secret}, {"attempts", secret}, {"token_secrets", secret}, {"calendars", secret}, {"mail_secrets", secret},
		{"drafts", working}, {"draft_saves", working}, {"walks", working}, {"walk_answers", working}, {"walk_saves", working}, {"walk_names", working}, {"lift_waits", working},
		{"witnesses", witness}, {"cosignatures", witness}, {"witness_alarms", witness}, {"witness_logs", witness}, {"witness_mails", mail},
		{"settings", plain.Say("how pages look to each person, which stands in no entry")},
		{"mail_settings", mail}, {"mail_recipients", mail}, {"mail_outbox", mail}, {"mail_told", mail},
		{"backup_places", backup}, {"backup_secrets", secret}, {"backup_states", backup},
	}
}
