package checklists

// yearlyItems are Y3 to Y16. Y1 and Y2, the inspection of each lockout procedure
// and its certificate, are signed on the procedures themselves.
func yearlyItems(a SetUp) []Item {
	hoist := at("Hoist and rigging", "hoist",
		Item{ID: "Y3", State: Stopped, Severity: Stop, Kind: Somebody, Qualified: ForLifting, Source: "29 CFR 1910.184(e)(3)",
			Prompt: "Alloy chain slings inspected thoroughly: by whom",
			How: "By a competent person, at least every 12 months, every link, the record naming the month." +
				whenElse(a.Law == "uk", " Under LOLER regulation 9 lifting accessories are examined every 6 months.", "")},
		Item{ID: "Y4", State: LockedOut, Severity: Stop, Kind: Somebody, Qualified: ForLifting, Source: "ASME B30.16 (from memory)",
			Prompt: "Hoist inspected in full, load-bearing parts, brake and wiring: by whom",
			How:    "Hook empty. By a qualified person, with the maker's book."},
		Item{ID: "Y5", State: Stopped, Severity: Stop, Kind: Somebody, Qualified: ForLifting, Source: "ASME B30.20 (from memory)",
			Prompt: "Yoke and hooks inspected, welds with dye where in doubt: by whom",
			How:    "By a qualified person, cleaned to bare metal at each weld."})
	site := at("Area and people", "site",
		Item{ID: "Y6", State: Stopped, Severity: Mend, Kind: Text, Source: "29 CFR 1910.157(e)(3)",
			Prompt: "Extinguishers serviced: by which firm, on which date",
			How:    "Read the tag on each. Keep the date for a year after the last entry."},
		Item{ID: "Y7", State: Stopped, Severity: Mend, Kind: Text, Source: "29 CFR 1910.95 (from memory)",
			Prompt: "Hearing tested and people trained, where noise is over 85 dBA: when",
			How:    "For everybody whose day is over it."},
		Item{ID: "Y8", State: Stopped, Severity: Mend, Source: "29 CFR 1910.95 (from memory)",
			Prompt: "Noise measured again since the last change of machine or way of work",
			How:    "OK too where nothing changed."},
		Item{ID: "Y12", State: Stopped, Severity: Mend, Kind: Text, Source: "29 CFR 1910.38 (from memory)",
			Prompt: "Emergency drill held: who took part, what to do better",
			How:    "Stop, isolate, call, first aid for heavy bleeding; nothing running."},
		Item{ID: "Y14", State: Stopped, Severity: Mend, Source: "29 CFR 1910.132(d) (from memory)",
			Prompt: "Hazard assessment for protective equipment is certified again",
			How:    "In writing: the place, who certifies, the date, and that it is the certificate."},
		Item{ID: "Y15", State: Stopped, Severity: Stop, Source: "29 CFR 1910.147(c)(2)(iii) and (d)(1)",
			Prompt: "Every isolator seen, lockable and labelled; the list of energies held against the machine",
			How:    "Walk it, an authorized person and an electrician together, with the printed procedure."},
		Item{ID: "Y16", State: Stopped, Severity: Mend, Source: "29 CFR 1910.147(a)(2)(ii) note",
			Prompt: "Answers that call a job minor servicing are still true",
			How:    "Go through the jobs one by one with those who do them."})
	saw := at("Head saw", "head-saw",
		Item{ID: "Y11", State: Running, Severity: Stop, Source: "29 CFR 1910.213(b)(3); MI R 408.15234 (Michigan; good practice elsewhere)",
			Prompt: "Supply cut while running: nothing starts again by itself" + whenElse(a.Dogs != "hand", ", dogs hold until the saw stands still", ""),
			How:    "Nobody near, no cant on. Cut the supply from the stand's side, wait until all is still, put it back on. The supervisor watches."},
		Item{ID: "Y13", State: Stopped, Severity: Stop, Source: "MI R 408.15242; WAC 296-78-56511(7) (Michigan, Washington; good practice elsewhere)",
			Prompt: "Distances: off-bearer at least 42 in from the saw, shield at least 36 in high, carriage clear of walls",
			How:    "Tape measure, everything stopped. A ridden carriage leaves at most 2 in or at least 30 in behind it, WAC 296-78-56513."})
	dust := at("Dust collection", "dust-collection",
		Item{ID: "Y9", State: Running, Severity: Mend, Kind: Text, Source: "OSHA advice on combustible dust",
			Prompt: "Duct speed at each branch, and how the collector performs: the figures",
			How:    "Measured with a pitot tube or the like, against the design or last year."},
		Item{ID: "Y10", State: Stopped, Severity: Mend, Kind: Somebody, Qualified: ForElectrical, Source: practice,
			Prompt: "Bonding and earthing of the ducts checked: by whom",
			How:    "By a qualified electrician, each joint."})
	var items []Item
	for _, station := range [][]Item{hoist, saw, dust, site} {
		items = append(items, station...)
	}
	return items
}
