package procedures_test

func general() []chapter { return []chapter{generalWritten(), hardware(), peopleAndInspection()} }

// exceptionPart is one of the eight parts of the exception of (c)(4)(i).
func exceptionPart(n, asks, how string) clause {
	return clause{id: "(c)(4)(i) Exception " + n, asks: asks, standing: enforced, how: how}
}

func generalWritten() chapter {
	return chapter{"(c)(1)–(4) Program, lock or tag, written procedures", []clause{
		{id: "(c)(1)", asks: "Procedures, training and yearly inspection are there before anybody services.", standing: enforced, how: "Three lights for each procedure, each saying what is missing. A draft begins no lockout; once the mill has entered any training nobody untrained begins or joins one, before that the supervisor's word counts alone. An inspection that is late is told and stands in nobody's way.",
			rules: []string{"(c)(4)(i) published"}, tests: []string{"server/store.TestProgramStateFollowsFromTheRecord", "server/store.TestNobodyUntrainedBeginsOrJoinsALockout"}},
		{id: "(c)(2)(i)", asks: "A device that takes no lock gets a tag.", standing: enforced, how: "No lock is reported on it; where its procedure has a tag hung, the step is a tag. The starters hang one at a belt or coupling taken off and kept; at pins, chocks and straps they hang none, set them as blocks and list them as to be made lockable.",
			rules: []string{"(c)(2)(i) a device that takes a lock"}, tests: []string{"TestATagWithItsExtraMeansStandsWhereNoLockFits"}},
		{id: "(c)(2)(ii)", asks: "A device that takes a lock gets one.", standing: enforced, how: "A tag instead is refused, always.", rules: []string{"(c)(2)(ii) no tag for a lock", "(d)(4)(i) a lock, not a tick"}},
		{id: "(c)(2)(iii)", asks: "What is new, rebuilt or changed takes a lock.", standing: recorded, how: "Every device that takes none is listed to be made lockable, with the energies nothing else locks away; when it was installed or rebuilt isn't asked, and no owner or day is set.", hand: "ToBeMadeLockable made to list nothing"},
		{id: "(c)(3)(i)", asks: "A tag in place of a lock, on a showing that it protects as well.", standing: outside, how: "Not offered: a small mill can put a lock on whatever takes one, so the tag is refused and no showing is kept.", like: []string{"(c)(2)(ii)"}},
		{id: "(c)(3)(ii)", asks: "With a tag at least one thing more: a circuit taken out, a handle off, a second disconnect, a control blocked.", standing: enforced, how: "Asked of each tag where no lock goes on; that it was done is the word of who hangs it.", rules: []string{"(c)(3)(ii) one more means"}},
		{id: "(c)(4)(i)", asks: "Procedures are written, kept and used.", standing: enforced, how: "A lockout goes by one published version, which stays as it is; no step but its own. Once a version of other substance is in force nobody comes to work, begins it, takes it over or asks a test by an older one, whenever that lockout is said to have begun; it is ended. A start from before the newer version is entered late by the one of its time.",
			rules: []string{"(c)(4)(i) published", "(c)(4)(i) a step of this version"}, tests: []string{"server/store.TestPublishedVersionsCountUpAndStay", "TestProcedureIsWrittenEvenWhereItMayStayUnwritten"}},
		exceptionPart("1", "Unwritten only when nothing is stored, left over or builds up.", "Computed from the energies of the piece and of what moves or feeds it."),
		exceptionPart("2", "One source, easy to see and isolate.", "Computed."),
		exceptionPart("3", "Locking it takes all energy away.", "Declared by name; nobody, and it fails."),
		exceptionPart("4", "It is locked each time.", "Computed from the lockouts kept."),
		exceptionPart("5", "One lock does it.", "Computed from the devices."),
		exceptionPart("6", "That lock is the one person's who works.", "Computed from the lockouts kept."),
		exceptionPart("7", "No hazard for others.", "Declared by name; nobody, and it fails."),
		exceptionPart("8", "Nothing ever started there unexpectedly.", "Computed from what was reported; one such event ends it."),
		{id: "(c)(4)(ii)", asks: "Written: scope, purpose, authorization, rules, techniques, enforcement.", standing: enforced, how: "Six texts, none empty, when it is published and again when a lockout begins.", rules: []string{"(c)(4)(ii) without a gap"}},
		{id: "(c)(4)(ii)(A)", asks: "What it is for.", standing: enforced, how: "Purpose, title and equipment."},
		{id: "(c)(4)(ii)(B)", asks: "Steps to shut down, isolate, block and secure.", standing: enforced, how: "At least one isolates or blocks each energy; no stage without a step."},
		{id: "(c)(4)(ii)(C)", asks: "Steps to put locks and tags on, take them off and hand them over, and who answers for that.", standing: enforced, how: "A step on and one off for each device that takes a lock; for a tag where the procedure hangs one. Handing over is the same by every procedure, in the order of (f)(4), printed on each placard; the primary answers for the steps.",
			like: []string{"(f)(4)"}, rules: []string{"(f)(3)(ii)(A) steps by the primary"}, tests: []string{"TestPlacardSaysHowItIsHandedOver"}},
		{id: "(c)(4)(ii)(D)", asks: "How it is tested that the lockout holds.", standing: enforced, how: "A proof at zero for each energy, of a kind from the list; that the words suit the energy is for who publishes it."},
		{id: "(c)(4) grouping", asks: "Like machines may share a procedure (agency practice).", standing: recorded, how: "One procedure may name several pieces, like or not; an energy the register has and the procedure hasn't is told, for each of them.", hand: "LeftOut made to find nothing"},
	}}
}

func hardware() chapter {
	return chapter{"(c)(5) Locks and tags", []clause{
		{id: "(c)(5)(i)", asks: "The employer gives out the locks, tags, chains, wedges and pins.", standing: recorded, how: "A register of locks alone: whose, since when, in what condition. A number nobody has is registered at its first use, as a good keyed padlock of the mill's colour. Tags, chains, wedges and pins stand in no register.",
			tests: []string{"server/store.TestLockIsRegisteredByWhoeverReportsItFirst"}, hand: "MayUse made to call no lock new"},
		{id: "(c)(5)(ii)", asks: "Each is identified singly and used for nothing else.", standing: enforced, how: "One number, once in a lockout and never again after it is retired; a lock entered as used for something else is refused, and one that is on in another lockout. Entered late beside a lockout that is over it is a departure. Tags have no numbers.",
			rules: []string{"(c)(5)(ii) a numbered lock", "(c)(5)(ii) a lock of its own"}, tests: []string{"TestNumberOfARetiredLockIsNeverUsedAgain"}},
		{id: "(c)(5)(ii)(A)(1)", asks: "Durable where they hang.", standing: enforced, how: "A lock entered as in bad condition is refused; one at its first use counts as good until somebody says otherwise."},
		{id: "(c)(5)(ii)(A)(2)–(3)", asks: "Tags stay readable in weather, damp and corrosives.", standing: enforced, how: "Asked each time a tag is hung where no lock goes on. Of what it is made isn't asked.", rules: []string{"(c)(5)(ii)(A) tag readable"}},
		{id: "(c)(5)(ii)(B)", asks: "Alike throughout the mill.", standing: enforced, how: "The program names the locks' colour and how tags look, or isn't kept; a lock entered in another colour is refused. How a tag in the hand looks isn't asked."},
		{id: "(c)(5)(ii)(C)(1)", asks: "Locks come off by force only.", standing: enforced, how: "A tie is no kind of lock; a combination lock only where the program allows it. A number at its first use is taken for a keyed padlock."},
		{id: "(c)(5)(ii)(C)(2)", asks: "A tag's fastening is for one use, by hand, locks itself and holds 50 lb.", standing: enforced, how: "Asked each time a tag is hung where no lock goes on.", rules: []string{"(c)(5)(ii)(C)(2) tag fastened"}},
		{id: "(c)(5)(ii)(D)", asks: "Shows who put it on.", standing: enforced, how: "A lock has one owner, and nobody puts on another's; a tag in place of one is the own.", rules: []string{"(c)(5)(ii)(D) tag shows who"}, tests: []string{"TestNobodyEverUsesAnothersLock"}},
		{id: "(c)(5)(iii)", asks: "Tags warn of what happens and say do not start, open, close, energize or operate.", standing: enforced, how: "Each point of a placard has a legend of the five and a hazard line, and so has each tag printed from it; who hangs a tag where no lock goes on says that theirs carries both. Of a tag beside a lock nothing is asked.",
			rules: []string{"(c)(5)(iii) legend on the tag"}},
	}}
}

func peopleAndInspection() chapter {
	return chapter{"(c)(6)–(9) Inspection, training, notice", []clause{
		{id: "(c)(6)(i)", asks: "Each procedure is inspected at least yearly.", standing: recorded, how: "Due a year after the last, told before and late; without it the procedure shows as not ready. It keeps nobody from locking out."},
		{id: "(c)(6)(i) infrequent use", asks: "Used less than yearly: inspected at its next use (agency practice).", standing: recorded, how: "Told as due at the next use.", hand: "usedAfter made to say used"},
		{id: "(c)(6)(i)(A)", asks: "By an authorized person other than its users.", standing: enforced, how: "Authorized, no part in the lockout that is watched, by a step, a lock or a word, not the only user; that lockout went by this version, or one from which only words changed since, to a proof at zero; without one another authorized person shows every step. One from outside is entered by a supervisor by name and firm, is none of the crew and not of this mill; that they are authorized is the supervisor's word."},
		{id: "(c)(6)(i)(B)", asks: "To put right what is found.", standing: enforced, how: "A finding has an owner and a day, and shows as open, then late, until it is reported seen to. That it was put right isn't looked at again."},
		{id: "(c)(6)(i)(C)", asks: "Gone over with each authorized person.", standing: enforced, how: "Each of the mill's own people, or a day that follows for somebody away; that day stands on the certificate and isn't raised when it comes. People of a firm from outside are left to their firm."},
		{id: "(c)(6)(i)(D)", asks: "With tags: with affected people too, and what tags can't do.", standing: enforced, how: "Both, and all six points, where the procedure hangs a tag and the affected people are entered."},
		{id: "(c)(6)(ii)", asks: "Certified: machine, date, people included, inspector.", standing: enforced, how: "All four, or it isn't signed; a signed one is never changed. The day isn't before the lockout that was watched began, nor after its end without a reason.", tests: []string{"TestDayOfAnInspectionIsThatOfTheLockoutWatchedOrExplained"}},
		{id: "(c)(7)(i)", asks: "People are trained so that they know what it is for and can do it.", standing: enforced, how: "Each training says who, at which level and on which procedures; being told of it needs no procedure. That they can do it is the trainer's word."},
		{id: "(c)(7)(i)(A)", asks: "Authorized: the energies, their size, how they are controlled.", standing: enforced, how: "Every kind of energy of the procedure was gone through, or they neither begin nor join; once the mill has entered any training. Who is on the job when it runs out isn't kept from going on: that is a departure, and so is what was done before and is entered late."},
		{id: "(c)(7)(i)(B)", asks: "Affected: what the procedure is for and how it is used.", standing: recorded, how: "Who of the affected people wasn't trained shows as a gap.", hand: "AffectedGaps made to find nobody"},
		{id: "(c)(7)(i)(C)", asks: "Others near: told of it, and never to start what is locked.", standing: enforced, how: "A level of its own: enough to be there, not to put a lock on. Who comes near untold isn't known."},
		{id: "(c)(7)(ii)(A)–(F)", asks: "With tags: six things they are and aren't.", standing: enforced, how: "All six or it isn't kept; without them nobody begins by a procedure with a tag."},
		{id: "(c)(7)(iii)(A)", asks: "Again when job, machine or procedure changes.", standing: enforced, how: "A version of other substance untrains; its author signs which it is, and what says how, where, how much, by whom or by which rules can't be called words. An energy the register gained is told as left out of what was written, until a version has it. A change of job is seen only where it brings another procedure.",
			tests: []string{"TestTextOfAStepOnEnergyIsOfSubstance"}},
		{id: "(c)(7)(iii)(B)", asks: "Again when gaps are found.", standing: enforced, how: "A finding of an inspection about a person keeps them from beginning and joining by that procedure until trained again."},
		{id: "(c)(7)(iii)(C)", asks: "It restores skill and brings in what is new.", standing: enforced, how: "Retraining says what was gone through."},
		{id: "(c)(7)(iv)", asks: "Certified: each name and the dates.", standing: enforced, how: "Name, day and trainer, entered by a supervisor; what ran out no longer counts.", tests: []string{"server/store.TestLapseOnTheJobBecomesOneDeparture"}},
		{id: "(c)(8)", asks: "Only authorized people lock out.", standing: enforced, how: "Each reports their own acts, of the crew and authorized, entered late too; taking the own lock off is kept from nobody, nor from who only reads by now.",
			rules: []string{"(c)(8) signs for oneself", "(c)(8) of the crew", "(c)(8) authorized", "(c)(8) authorized to begin", "(c)(8) authorized to isolate it again"}, tests: []string{"TestNobodyIsEverKeptFromTakingOffTheOwnLock", "TestWhoOnlyReadsByNowTakesTheOwnLockOff"}},
		{id: "(c)(9)", asks: "Affected people are told before locks go on and after they come off.", standing: enforced, how: "Both times, in words: whom, and how. Alone, one says that. The affected people are named beside it; that each was told isn't asked one by one.",
			rules: []string{"(c)(9) told before", "(c)(9) Tell those it touches: every step", "(e)(2)(ii) told after"}, tests: []string{"TestAffectedPeopleAreToldBeforeAndAfter"}},
	}}
}
