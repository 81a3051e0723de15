package procedures_test

func applying() chapter {
	return chapter{"(d) Putting control on, in this order", []clause{
		{id: "(d)", asks: "In the order stated.", standing: enforced, how: "No act of a later stage, no step twice, no time running backwards. An entry made late takes the place of its time, is shown as late, and is refused where the rest would then stand out of order.",
			rules: []string{"(d) in order", "(d) each step once", "(d) a lock was on", "(d) called off with nobody in", "(d) who cancels"},
			tests: []string{"TestNoStepOutOfOrder", "TestLateEntriesFoldAtTheTimeTheyHappened", "TestEachInvariantFailsOnABrokenLaw", "TestALockoutCalledOffHalfLockedLetsNobodyIn", "TestWhatALateEntryLacksIsADeparture", "TestAMiscountOrABadTagEnteredLateIsADeparture"}},
		{id: "(d)(1)", asks: "Before the shutdown, know kind and size of each energy, its hazard and its control.", standing: enforced, how: "The list is ticked as read by the one who answers for it; who joins isn't asked for it.", rules: []string{"(d)(1) Know every energy: every step"}},
		{id: "(d)(2)", asks: "Shut down in an orderly way.", standing: enforced, how: "Step by step as listed, each ticked by itself; several may be sent in one go.", rules: []string{"(d)(2) Shut down: every step", "(d)(2) in the order listed"}},
		{id: "(d)(3)", asks: "Work every isolating device.", standing: enforced, how: "A step for each.", rules: []string{"(d)(3) Isolate: every step"}},
		{id: "(d)(4)(i)", asks: "An authorized person puts a lock or tag on each.", standing: enforced, how: "An own numbered lock on each device; a tick isn't one.",
			rules: []string{"(d)(4) Put your locks on: every step", "(d)(4) locks before the proof", "(d)(4)(i) a device of this procedure", "(d)(4)(i) one own lock a device", "(d)(4)(i) a lock, not a tick", "(d)(4)(i) own locks left on"}},
		{id: "(d)(4)(ii)", asks: "The lock holds it safe or off.", standing: enforced, how: "Off, closed, removed or blocked, as the kind of device asks, stands with each lock, and another is refused. The form names it beside the lock's number and enters it with that: it isn't asked by itself, and of a lock on the box not at all.",
			rules: []string{"(d)(4)(ii) held in the safe position", "(d)(4)(ii) position said"}, tests: []string{"TestALockSaysWhereItHoldsTheDevice"}},
		{id: "(d)(4)(iii)", asks: "A tag says plainly that moving the device is forbidden.", standing: enforced, how: "As (c)(5)(iii).", like: []string{"(c)(5)(iii)"}},
		{id: "(d)(4)(iii)(A)", asks: "On a device that takes a lock, the tag hangs where the lock would.", standing: outside, how: "No tag in place of a lock there: see (c)(3)(i).", like: []string{"(c)(2)(ii)"}},
		{id: "(d)(4)(iii)(B)", asks: "Else as near as is safe, plain to whoever would work it.", standing: enforced, how: "On the device, or the place is said, where no lock goes on.", rules: []string{"(d)(4)(iii)(B) where the tag hangs"}},
		{id: "(d)(5)(i)", asks: "After the locks, let out or hold all that is stored.", standing: enforced, how: "Each in its listed order; what coasts after its measured time, unmeasured after a long one. It counts from the last stop, from the end of its minute where that was entered afterwards.",
			rules: []string{"(d)(5) Relieve or hold what is stored: every step", "(d)(5)(i) wait over", "(d)(5)(i) wait over from a stop entered to the minute"}, tests: []string{"TestTheCoastWaitCountsFromTheLastStepOfShuttingDown", "TestTheCoastWaitCountsFromTheEndOfAMinuteThatWasTyped"}},
		{id: "(d)(5)(ii)", asks: "What can build up is proven again until the work is done.", standing: enforced, how: "At its interval; when late nobody joins or begins, and nobody's proof counts.",
			rules: []string{"(d)(5)(ii) rechecked in time", "(d)(5)(ii) a step that proves zero"}, tests: []string{"TestWhatBuildsUpAgainIsProvenAgainInTime"}},
		{id: "(d)(6)", asks: "Before work, prove that it is isolated and at zero.", standing: enforced, how: "Each energy by its proof by the one who answers for it; whoever joins, or comes back after a night, reports one proof of their own for all, after their last lock. A meter by a qualified person.",
			rules: []string{"(d)(6) Prove it at zero: every step", "(d)(6) proof as the step asks", "(d)(6) proven by oneself", "(d)(6) proof again", "(d)(6) start tried again", "(d)(6) meter by a qualified person", "Appendix A-7 control back at off"}},
	}}
}

func release() chapter {
	return chapter{"(e) Release", []clause{
		{id: "(e)", asks: "Before locks come off, the following.", standing: enforced, how: "An ordered release of its own; once a lock was on it is the only way out. Until the first lock is off, or a block out, the primary goes back to work from it; everybody proves zero again first.",
			rules: []string{"(e) back from the release", "(f)(3)(ii)(A) back by the primary", "(d)(6) back only to what was at zero", "(d)(4) back only under every lock", "(e) checked and clear first", "(e) before the release", "(e) no lock was on", "(e) a lock was on to take to the end", "(f)(3)(ii)(A) ended by the primary"},
			tests: []string{"TestAGuardThatWontGoOnLeadsBackToWork", "TestALockoutGivenUpHalfWayGoesThroughTheRelease", "TestASupervisorTakesALockoutToItsEndAtAnyStage"}},
		{id: "(e)(1)", asks: "Loose things gone, machine whole.", standing: enforced, how: "Every step the procedure has there, of which the starters' say guards back; that tools and parts were counted out is said. Where they were counted in, each person's add up and as many come out; counting in is asked of nobody. What is entered after the count and was in it or out of it by then is a departure.",
			rules: []string{"(e)(1) Look the area over: every step", "(e)(1) tools counted", "(e)(1) as many out as in", "(e)(1) no more out than in"}, tests: []string{"TestToolsAreCountedForEachPersonAndAddUp", "TestToolsEnteredAfterTheCountAreSaid"}},
		{id: "(e)(2)(i)", asks: "Everybody clear.", standing: enforced, how: "Nobody but the primary signed on any more, and it is ticked as seen.", rules: []string{"(e)(2)(i) Everybody clear: every step", "(e)(2)(i) nobody signed on", "(e)(2)(i) nobody in since the test"}},
		{id: "(e)(2)(ii)", asks: "After that, affected people are told.", standing: enforced, how: "Whom, and how, before it is back in service.",
			rules: []string{"(e)(2)(ii) told after", "(e)(2)(ii) everything done before it is back", "(f)(3)(ii)(A) restored by the primary"}},
		{id: "(e)(3)", asks: "Each takes the own lock off.", standing: enforced, how: "By its owner signed in as themselves, and every one off before power.", rules: []string{"(e)(3) by its owner only", "(e)(3) a lock that is on", "(e)(3) every lock off"}},
		{id: "(e)(3) Exception", asks: "For somebody not there the employer may, by a written procedure.", standing: enforced, how: "A supervisor, not the owner, with the mill's procedure on file.",
			rules: []string{"(e)(3) by a supervisor", "(e)(3) written procedure on file", "(e)(3) not the own lock", "(f)(3)(ii)(A) the primary is replaced first"},
			tests: []string{"server/store.TestLockOfSomebodyAbsentComesOffByTheProgramAndIsToldOf"}},
		{id: "(e)(3)(i)", asks: "It was made sure that they aren't at the mill.", standing: enforced, how: "Who looked where is said; who is signed on counts as there until the end that was expected, who is recorded as having left the mill doesn't. Before that end a supervisor may say that they looked and tried to reach them; it stands so in the record.",
			rules: []string{"(e)(3)(i) made sure the owner isn't here", "(e)(3)(i) signed on counts as here", "(e)(3)(i) the primary isn't here"},
			tests: []string{"TestWhoWentHomeEarlyIsActedForOnceLookedFor", "TestWhoLeftTheMillIsntHere", "server/store.TestWhoLeavesTheMillWithALockOnIsRaised"}},
		{id: "(e)(3)(ii)", asks: "All reasonable tries to reach them.", standing: enforced, how: "At least one, each with time, way and what came of it.", rules: []string{"(e)(3)(ii) tried to reach the primary", "(e)(3)(ii) tried to reach the owner", "(e)(3)(ii) each try told"}},
		{id: "(e)(3)(iii)", asks: "They know before they work there again.", standing: enforced, how: "They say so themselves before they begin, join or put a lock on, in this lockout and in every other.",
			rules: []string{"(e)(3)(iii) told of the own lock", "(e)(3)(iii) said by the owner"}, tests: []string{"server/store.TestLockOfSomebodyAbsentComesOffByTheProgramAndIsToldOf"}},
	}}
}

func extra() chapter {
	return chapter{"(f) Testing, contractors, groups, shifts", []clause{
		{id: "(f)(1)", asks: "Locks off for a test or positioning: in this order.", standing: enforced, how: "A loop within the lockout: it stays held, nobody counts as protected, nobody joins, leaves it for the night or works.",
			rules: []string{"(f)(1) asked by the primary", "(f)(1) one test at a time", "(f)(1) not in a test", "(f)(1) everything out first", "(f)(1) ended by the primary", "(f)(1) a test to end"},
			tests: []string{"TestATestTakesEverythingBackAndAllOfIsolationIsDoneAgain"}},
		{id: "(f)(1)(i)", asks: "Tools and materials out.", standing: enforced, how: "Said to be counted out; as many as went in, where they were counted in.", rules: []string{"(f)(1)(i) tools out", "(f)(1)(i) as many out as in"}},
		{id: "(f)(1)(ii)", asks: "People out.", standing: enforced, how: "No lock of anybody else on, in this lockout or in another that the power could reach; everybody seen clear before it. While it is on nobody begins, joins, proves zero, starts work or takes over in another lockout that it reaches.", rules: []string{"(f)(1)(ii) people out", "(f)(1)(ii) everybody seen clear"}},
		{id: "(f)(1)(iii)", asks: "Locks off by their owners.", standing: enforced, how: "Every one, before power.", rules: []string{"(f)(1)(iii) own locks off"}},
		{id: "(f)(1)(iv)", asks: "Power, and test or position.", standing: enforced, how: "By the primary: from where it is run, what is going to move.", rules: []string{"(f)(1)(iv) from where it is run", "(f)(1)(iv) what moves", "(f)(1)(iv) power by the primary"}},
		{id: "(f)(1)(v)", asks: "Power off and control put on again by (d) before going on.", standing: enforced, how: "Control at off, then all of it again from the shutdown, also when the test was given up. When the work is done with the test there is no going on: the release, with no lock on, from outside; going back is all of it again.",
			rules: []string{"(f)(1)(v) control off", "(f)(1)(v) done only after the test"}, tests: []string{"TestAfterATestThatWentWellTheWorkIsDone", "TestATestGivenUpBeforePowerStillMeansAllOfIsolation"}, like: []string{"(d)(3)", "(d)(4)(i)", "(d)(6)"}},
		{id: "(f)(2)(i)", asks: "Firms from outside and the mill tell each other their procedures.", standing: enforced, how: "Nobody of a firm begins or joins before both days are entered; entered late it is a departure. What the procedures say isn't kept."},
		{id: "(f)(2)(ii)", asks: "The mill's people know and keep to the firm's restrictions.", standing: recorded, how: "Who of the affected people wasn't told shows as a gap.", hand: "BriefingGaps made to find nobody"},
		{id: "(f)(3)(i)", asks: "A group protects each as well as their own lock would.", standing: enforced, how: "Each has locks of their own, on every device or on the box with the keys, and a proof of their own. No energy comes back, and no block out, at what another lockout has a lock on or was set for.",
			rules: []string{"(f)(3)(i) nobody else on the job", "(f)(3)(ii)(D) own locks before the own proof", "(d)(6) proven by oneself", "(c)(5)(ii) a numbered lock"}, tests: []string{"TestAJoinerIsProtectedOnlyWithOwnLocksAndOwnProof"}},
		{id: "(f)(3)(ii)(A)", asks: "One authorized person answers for the group.", standing: enforced, how: "Exactly one primary, who doesn't leave before another has taken over; a supervisor takes to its end what an absent one left.",
			rules: []string{"(f)(3)(ii)(A) steps by the primary", "(f)(3)(ii)(A) the primary stays", "(f)(3)(ii)(A) one primary", "(f)(3)(ii)(A) ended by the primary", "(f)(3)(ii)(A) restored by the primary", "(f)(3)(ii)(A) the primary is replaced first", "(f)(3)(ii)(A) to its end by a supervisor", "(f)(3)(ii)(A) only to its end", "(f)(3)(ii)(A) put off by the primary"},
			tests: []string{"TestASupervisorTakesALockoutToItsEndAtAnyStage", "TestAJobThatTakesLongerIsntForgotten"}},
		{id: "(f)(3)(ii)(B)", asks: "That person can tell how each is exposed.", standing: recorded, how: "Each member with their state and since when.", tests: []string{"TestASecondCraftMakesThePrimaryCoordinator"}, hand: "StatusOf made to say the same of everybody"},
		{id: "(f)(3)(ii)(C)", asks: "With more crews or crafts one coordinates them.", standing: enforced, how: "A second lockout that meets the first, at equipment or a device either works on or locks off, names the primary of the first, where it meets more somebody who answers for or coordinates each; when nobody on the job coordinates any more the pages say so. A second craft makes the primary coordinator.",
			rules: []string{"(f)(3)(ii)(C) coordinated"}, tests: []string{"TestACoordinatorIsOverEveryLockoutMet", "TestTwoLockoutsOfTheSameEquipmentAreCoordinated", "TestLockoutsMeetAtDevicesAndAtWhatIsHeld", "TestASecondCraftMakesThePrimaryCoordinator"}},
		{id: "(f)(3)(ii)(D)", asks: "Each puts their own lock on when they begin and takes it off when they stop.", standing: enforced, how: "Signing on is a lock on, signing off is it off; the keys are seen in the box before a lock goes on it, and stay in while one is on. Where that was entered afterwards and nobody saw them, nobody proves zero again, begins the work or takes over before somebody has.",
			rules: []string{"(f)(3)(ii)(D) signed on", "(f)(3)(ii)(D) joins once", "(f)(3)(ii)(D) lock off is signing off", "(f)(3)(ii)(D) box locked", "(f)(3)(ii)(D) keys seen in the box", "(f)(3)(ii)(D) keys seen before going on", "(f)(3)(ii)(D) own locks before the own proof"},
			tests: []string{"TestNobodyGoesOnWithABoxNobodyLookedInto"}},
		{id: "(f)(4)", asks: "Change of shift without a gap.", standing: enforced, how: "Own locks on every device and own proof first, then the word of the one going off, then theirs come off. No device is bare between the locks and the release, but in a test. Overnight the own lock stays on and zero is proven again.",
			rules: []string{"(f)(4) no device bare", "(f)(4) the primary leaves last", "(f)(4) own locks on every device", "(f)(4) zero proven by the one coming on", "(f)(4) keys into the box", "(f)(4) told by the one going off", "(f)(4) told by somebody of this lockout", "(f)(4) the state told"},
			tests: []string{"TestAHandOverLeavesNoDeviceWithoutALock", "TestACrewLeavesItLockedOvernightAndWhoAnswersForItGoesLast"}},
	}}
}

// appendix is a pattern to follow, binding on nobody.
func appendix() chapter {
	as := func(id, asks, how string, like ...string) clause {
		return clause{id: id, asks: asks, standing: enforced, how: how, like: like}
	}
	step := func(id, asks, how string, rules ...string) clause {
		return clause{id: id, asks: asks, standing: enforced, how: how, rules: rules}
	}
	return chapter{"Appendix A, a pattern to follow", []clause{
		as("A-0", "Says what it is for, that everybody obeys, and what happens else.", "Purpose, duty and enforcement of the program."),
		as("A-1", "Tell affected people.", "As (c)(9).", "(c)(9)"),
		as("A-2", "Look up kind, size, hazard and control of each energy.", "As (d)(1).", "(d)(1)"),
		as("A-3", "Stop it the usual way.", "As (d)(2).", "(d)(2)"),
		as("A-4", "Work the isolating devices.", "As (d)(3).", "(d)(3)"),
		as("A-5", "Own assigned locks on.", "As (d)(4).", "(d)(4)(i)"),
		as("A-6", "Let out or hold what is stored.", "As (d)(5).", "(d)(5)(i)"),
		step("A-7", "Nobody exposed, try the start, control back to off.", "The try counts only with the control back at off.", "Appendix A-7 control back at off", "(d)(6) start tried again"),
		as("A-8", "Now it is locked out.", "Work begins only from there, and the screens say who reported it.", "(d)(6)"),
		as("A-R1", "Restoring: machine and area checked.", "As (e)(1).", "(e)(1)"),
		as("A-R2", "People safe.", "As (e)(2)(i).", "(e)(2)(i)"),
		step("A-R3", "Controls at neutral before locks come off.", "Each control a step, before the first lock.", "Appendix A Controls to off: every step"),
		step("A-R4", "Locks off, power back; some blocks only then.", "What is left in is a step after the locks, in its listed order, before it is back in service.", "Appendix A Restore: every step", "(d)(2) in the order listed", "(e)(2)(ii) everything done before it is back"),
		as("A-R5", "Tell affected people.", "As (e)(2)(ii).", "(e)(2)(ii)"),
	}}
}
