package lift

import "strings"

// Answer is what the person at the hook says to a question.
type Answer uint8

// The answers. Only Yes lets a lift go ahead.
const (
	Unanswered Answer = iota
	Yes
	No
)

func answerNames() []string { return []string{"unanswered", "yes", "no"} }

// String is the name ParseAnswer takes.
func (a Answer) String() string { return nameOf(answerNames(), int(a)) }

// ParseAnswer reads yes or no; nothing typed is Unanswered.
func ParseAnswer(text string) (Answer, error) {
	if strings.TrimSpace(text) == "" {
		return Unanswered, nil
	}
	i, err := indexOf(answerNames(), text)
	return Answer(i), err
}

// MarshalText writes the name.
func (a Answer) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// UnmarshalText is ParseAnswer.
func (a *Answer) UnmarshalText(text []byte) (err error) {
	*a, err = ParseAnswer(string(text))
	return err
}

// Questions are asked at the hook before every lift.
type Questions struct {
	LandingClear Answer // the place it lands on is clear and ready
	NobodyUnder  Answer // nobody is under the load, or between it and anything it could swing against
	LatchClosed  Answer // hook latch shut, or nothing can come off the hook when it goes slack
	Free         Answer // not frozen down, not dogged, not caught
	TrialLift    Answer // a few inches up, stop, look, try the brake, before going on
	Seated       Answer // end hooks only: both points in to the maker's depth in sound, unfrozen, bark-free wood
}

// question is one of Questions with its words and where the duty stands.
type question struct {
	field, ask, source string
	answer             Answer
}

const numberOfQuestions = 6

// list is the questions this rig has to answer; the last only for end hooks.
// 29 CFR 1910.179(n)(3) was read in WAC 296-24-23527(3), which repeats it.
func (q Questions) list(grips bool) ([numberOfQuestions]question, int) {
	all := [numberOfQuestions]question{
		{"landing-clear", "the place it lands on is clear and ready", "common practice, no source", q.LandingClear},
		{"nobody-under", "nobody is under the load or between it and anything it could swing against", "29 CFR 1910.179(n)(3)(vi)", q.NobodyUnder},
		{"latch-closed", "the latch is shut, or nothing can come off the hook when it goes slack", "29 CFR 1910.265(c)(24)(ii)", q.LatchClosed},
		{"free", "the piece is free on all sides: not frozen down, dogged or caught", "common practice, no source", q.Free},
		{"trial-lift", "it will be lifted a few inches, stopped and looked at before going on", "29 CFR 1910.179(n)(3)(vii)", q.TrialLift},
		{"seated", "both points are in to the maker's depth, in sound wood without bark or frost", "common practice, no source", q.Seated},
	}
	if grips {
		return all, numberOfQuestions
	}
	return all, numberOfQuestions - 1
}
