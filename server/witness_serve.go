package server

import (
	"errors"
	"strconv"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/server/record"
	"stillsaw/server/store"
)

// sizeType is the content type of the size a witness saw last (C2SP tlog-witness).
const sizeType = "text/x.tlog.size"

// How many checkpoints a minute are taken, from one address and from all: a mill
// sends one in five minutes.
const (
	takenFrom = 30
	takenAll  = 300
)

// takings counts what came in a minute.
type takings struct {
	mu     sync.Mutex
	minute time.Time
	all    int
	from   map[string]int
}

// take tells whether one more from address is taken now.
func (t *takings) take(address string, now time.Time) bool {
	return t.takeUpTo(takenFrom, takenAll, address, now)
}

// takeUpTo tells the same where from one address so many are taken, and from all.
func (t *takings) takeUpTo(fromMost, allMost int, address string, now time.Time) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	if minute := now.Truncate(time.Minute); !minute.Equal(t.minute) {
		t.minute, t.all, t.from = minute, 0, map[string]int{}
	}
	t.all++
	if t.all > allMost {
		return false // and nothing more is counted, so that what is counted stays small
	}
	t.from[address]++
	return t.from[address] <= fromMost
}

// addCheckpoint is this Stillsaw as the witness of another mill's record, as in
// C2SP tlog-witness. Nobody signs in: what counts is the signature of a key that a
// supervisor entered here.
func (s *Server) addCheckpoint(v *visit) error {
	plainly := func(status int, text string) error {
		v.Set(fiber.HeaderContentType, fiber.MIMETextPlainCharsetUTF8)
		return v.Status(status).SendString(text)
	}
	if !s.takings.take(v.IP(), v.now) {
		v.Set(fiber.HeaderRetryAfter, "60")
		return plainly(fiber.StatusTooManyRequests, "too many checkpoints in a minute\n")
	}
	if len(v.Body()) > record.SubmissionMost {
		return plainly(fiber.StatusRequestEntityTooLarge, "a submission is much shorter\n")
	}
	sent, err := record.ParseSubmission(string(v.Body()))
	if err != nil {
		return plainly(fiber.StatusBadRequest, err.Error()+"\n")
	}
	signature, size, err := v.desk.SeeCheckpoint(v.ctx(), sent, v.now)
	switch {
	case err == nil:
		return plainly(fiber.StatusOK, signature)
	case errors.Is(err, store.ErrNotFound):
		return plainly(fiber.StatusNotFound, "this log is not known here\n")
	case errors.Is(err, record.ErrNotSigned):
		return plainly(fiber.StatusForbidden, "no signature of a key known here\n")
	case errors.Is(err, record.ErrBadOld), errors.Is(err, record.ErrNotALogText):
		return plainly(fiber.StatusBadRequest, err.Error()+"\n")
	case errors.Is(err, record.ErrOtherSize), errors.Is(err, record.ErrOtherRoot):
		v.Set(fiber.HeaderContentType, sizeType)
		return v.Status(fiber.StatusConflict).SendString(strconv.FormatInt(size, 10) + "\n")
	case errors.Is(err, record.ErrProofWrong):
		return plainly(fiber.StatusUnprocessableEntity, "the proof does not show that it goes on from what was seen\n")
	}
	return err
}
