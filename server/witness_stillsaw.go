package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"

	"stillsaw/checklists"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// witnessLasts is how long another Stillsaw may take to answer, and answerMost how
// many bytes of its answer are read.
const (
	witnessLasts = 15 * time.Second
	answerMost   = 16 << 10
)

// newWitnessClient asks witnesses. The address is typed by a supervisor and fetched
// by this computer, so nothing it answers leads anywhere else: no redirect is
// followed, no proxy of the environment is asked, and none of its text is shown.
func newWitnessClient() *http.Client {
	return &http.Client{
		Timeout:       witnessLasts,
		Transport:     &http.Transport{DisableKeepAlives: true, MaxResponseHeaderBytes: answerMost},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// toStillsaw sends the present checkpoint to a witness over C2SP tlog-witness.
func (g giving) toStillsaw(ctx context.Context) error {
	witness, err := record.NewCosignatureVerifier(g.to.Verifier)
	if err != nil {
		return err
	}
	old := g.to.Took.Size
	for range 3 { // what it saw last is asked for at most once, and may move on meanwhile
		proof, now, err := g.desk.CheckpointSince(ctx, old)
		switch {
		case errors.Is(err, store.ErrNoKey):
			return g.answered(ctx, checklists.WitnessNoKey, nil)
		case errors.Is(err, store.ErrNotFound): // beyond the record
			return g.disagrees(ctx, checklists.AlarmLonger, record.Head{Size: old}, "", now.Head)
		case err != nil:
			return err
		}
		answer, err := g.s.askWitness(ctx, g.to.Place, record.Submission{Old: old, Proof: proof, Checkpoint: now.Text})
		if err != nil {
			return g.answered(ctx, checklists.WitnessUnreached, err)
		}
		switch answer.status {
		case http.StatusOK:
			return g.cosigned(ctx, witness, now, answer.body)
		case http.StatusConflict:
			size, err := strconv.ParseInt(strings.TrimSuffix(answer.body, "\n"), 10, 64)
			if err != nil || size < 0 || answer.sort != sizeType {
				return g.answered(ctx, checklists.WitnessStrange, fmt.Errorf("409, %.40q", answer.sort))
			}
			if size == old { // and yet not this: another root for the same size
				return g.disagrees(ctx, checklists.AlarmForked, record.Head{Size: size}, "", now.Head)
			}
			old = size
		case http.StatusUnprocessableEntity:
			return g.disagrees(ctx, checklists.AlarmForked, record.Head{Size: old}, "", now.Head)
		case http.StatusNotFound:
			return g.answered(ctx, checklists.WitnessUnknownLog, nil)
		case http.StatusForbidden:
			return g.answered(ctx, checklists.WitnessUnknownKey, nil)
		default:
			return g.answered(ctx, checklists.WitnessStrange, fmt.Errorf("%d", answer.status))
		}
	}
	return g.answered(ctx, checklists.WitnessStrange, errors.New("409 over and over"))
}

// cosigned keeps the checkpoint with the signatures of the witness; lines by keys
// not known here are passed by.
func (g giving) cosigned(ctx context.Context, witness note.Verifier, now store.Checkpoint, lines string) error {
	opened, err := note.Open([]byte(now.Text+lines), note.VerifierList(append(verifiers(now.Keys), witness)...))
	if err != nil {
		return g.answered(ctx, checklists.WitnessNoSignature, nil)
	}
	text := now.Text
	for _, signature := range opened.Sigs {
		if signature.Name == witness.Name() && signature.Hash == witness.KeyHash() {
			text += "— " + signature.Name + " " + signature.Base64 + "\n"
		}
	}
	if text == now.Text {
		return g.answered(ctx, checklists.WitnessNoSignature, nil)
	}
	return g.desk.KeepWitnessed(ctx, g.to.ID, now.Head, text, g.now)
}

// witnessReply is what another Stillsaw answered.
type witnessReply struct {
	status     int
	sort, body string
}

func (s *Server) askWitness(ctx context.Context, place string, sent record.Submission) (witnessReply, error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, place+"/add-checkpoint", bytes.NewReader([]byte(sent.Text())))
	if err != nil {
		return witnessReply{}, err
	}
	request.Header.Set("Content-Type", "text/plain; charset=utf-8")
	request.Header.Set("User-Agent", "stillsaw")
	reply, err := s.witnesses.Do(request)
	if err != nil {
		return witnessReply{}, err
	}
	body, err := io.ReadAll(io.LimitReader(reply.Body, answerMost))
	return witnessReply{reply.StatusCode, reply.Header.Get("Content-Type"), string(body)}, errors.Join(err, reply.Body.Close())
}
