package procedures

import (
	"time"

	"stillsaw/procedures/plain"
)

// SkewTold is how far a phone's clock may stand from the server's before that is
// told of an act signed on it. Common practice, no source: phones set by their
// network agree to the second, and a form with a photo takes a while on a weak
// signal.
const SkewTold = 2 * time.Minute

// LateAfter is how far apart an act and its entry lie before the entry is called
// late; a phone's round trip is no lateness. Common practice, no source.
const LateAfter = time.Minute

// PhoneClock is an act's time by two clocks.
type PhoneClock struct {
	At    time.Time      // by the server's
	Phone time.Time      // by the phone's own, in the phone's zone; zero where it told none
	Mill  *time.Location // nil where it isn't known
}

// Skew is how far the phone's clock stood from the server's, behind it where
// negative; 0 where the phone told none.
func (c PhoneClock) Skew() time.Duration {
	if c.Phone.IsZero() {
		return 0
	}
	return c.Phone.Sub(c.At)
}

// Told is what is worth telling of the two clocks beside the act: a skew of
// [SkewTold] or more, and a zone other than the mill's at that time. Nothing where
// they agree, and where the phone told none.
func (c PhoneClock) Told() []plain.Sentence {
	var told []plain.Sentence
	if c.Phone.IsZero() {
		return nil
	}
	switch skew := c.Skew().Round(time.Second); {
	case skew >= SkewTold:
		told = append(told, plain.Say("phone %s ahead of the server", skew))
	case skew <= -SkewTold:
		told = append(told, plain.Say("phone %s behind the server", -skew))
	}
	if c.Mill == nil {
		return told
	}
	// The mill's offset at the moment the phone meant: it may have changed since.
	if phone, mill := east(c.Phone), east(c.Phone.In(c.Mill)); phone != mill {
		told = append(told, plain.Say("phone set to the zone %[1]s, the mill's was %[2]s", c.Phone.Format("-07:00"), c.Phone.In(c.Mill).Format("-07:00")))
	}
	return told
}

// Said is the whole of it in words, for the page of the entry.
func (c PhoneClock) Said() plain.Sentence {
	if c.Phone.IsZero() {
		return plain.Say("The phone's clock is not known.")
	}
	if told := c.Told(); len(told) > 0 {
		return plain.Say("Two clocks: %s.", told)
	}
	return plain.Say("The phone's clock and the server's agreed to within %s.", SkewTold)
}

func east(t time.Time) int {
	_, seconds := t.Zone()
	return seconds
}

// Late is by how much an act was entered after it happened: negative where it is
// dated after its entry, 0 where both are of one moment, or one of them isn't known.
func Late(entered, happened time.Time) time.Duration {
	if entered.IsZero() || happened.IsZero() {
		return 0
	}
	if apart := entered.Sub(happened); apart > LateAfter || apart < -LateAfter {
		return apart
	}
	return 0
}

// LateSaid is that in words, empty where the entry was not late.
func LateSaid(entered, happened time.Time) plain.Sentence {
	switch apart := Late(entered, happened).Truncate(time.Minute); {
	case apart > 0:
		return plain.Say("entered %[1]s late: happened %[2]s, entered %[3]s", apart, happened, entered)
	case apart < 0:
		return plain.Say("dated %[1]s after its entry: dated %[2]s, entered %[3]s", -apart, happened, entered)
	}
	return plain.Sentence{}
}
