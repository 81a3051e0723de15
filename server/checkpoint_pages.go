package server

import (
	"errors"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/server/record"
	"stillsaw/server/store"
)

// checkpointRoutes are for programs and scripts, not for reading. The two of the
// checkpoint ask for no session: they say how many entries there are and no word
// of any, and a witness of the record need not be a person of the mill.
func (s *Server) checkpointRoutes() {
	s.get("/checkpoint", anyone, s.checkpoint)
	s.get("/checkpoint/consistency", anyone, s.consistency)
	s.get("/record/:seq/proof", signedIn, s.entryProof)
}

// sizeHeader bears the number of entries the answer's checkpoint is over.
const sizeHeader = "Stillsaw-Size"

// noKey is the answer where nothing can be signed.
func noKey(err error) error {
	if errors.Is(err, store.ErrNoKey) {
		return fiber.NewError(fiber.StatusServiceUnavailable, "The key that signs the record is not on this computer, so there is no checkpoint. Start Stillsaw again: it makes a new key and says so in the record.")
	}
	return err
}

// checkpoint answers the present checkpoint, a signed note (C2SP tlog-checkpoint).
func (s *Server) checkpoint(v *visit) error {
	c, err := v.desk.Checkpoint(v.ctx())
	if err != nil {
		return noKey(err)
	}
	return v.checkpointText(nil, c)
}

// consistency answers the hashes that show that the record goes on from its
// first from entries, in base64, one a line (RFC 6962 section 2.1.2), an empty
// line and the checkpoint they lead to. Where the record is shorter than that the
// status is 409 and there are no hashes: the checkpoint is to be kept.
func (s *Server) consistency(v *visit) error {
	from, err := strconv.ParseInt(v.Query("from", "0"), 10, 64)
	if err != nil || from < 0 {
		return fiber.NewError(fiber.StatusBadRequest, "from is the number of entries of an older checkpoint, such as 120.")
	}
	proof, c, err := v.desk.CheckpointSince(v.ctx(), from)
	switch {
	case errors.Is(err, store.ErrNotFound) && c.Text != "":
		v.Status(fiber.StatusConflict)
	case err != nil:
		return noKey(err)
	}
	return v.checkpointText(append(based(proof), ""), c)
}

// entryProof answers the entry and the proof that it stands at its place, as a
// C2SP tlog-proof with the leaf as its extra data.
func (s *Server) entryProof(v *visit) error {
	seq, err := strconv.ParseInt(v.Params("seq"), 10, 64)
	if err != nil {
		return store.ErrNotFound
	}
	proof, c, err := v.desk.EntryProof(v.ctx(), seq)
	if err != nil {
		return noKey(err)
	}
	_, leaf, err := v.desk.Leaf(v.ctx(), seq)
	if err != nil {
		return err
	}
	c.Text = record.EntryProof{Leaf: leaf, Seq: seq, Path: proof, Checkpoint: c.Text}.Text()
	return v.checkpointText(nil, c)
}

// based are hashes in base64.
func based(hashes []tlog.Hash) []string {
	lines := make([]string, len(hashes))
	for i, hash := range hashes {
		lines[i] = hash.String()
	}
	return lines
}

// checkpointText answers lines and below them a checkpoint.
func (v *visit) checkpointText(lines []string, c store.Checkpoint) error {
	v.Set(fiber.HeaderContentType, fiber.MIMETextPlainCharsetUTF8)
	v.Set(fiber.HeaderCacheControl, "no-store")
	v.Set(sizeHeader, strconv.FormatInt(c.Size, 10))
	text := c.Text
	if len(lines) > 0 {
		text = strings.Join(lines, "\n") + "\n" + text
	}
	return v.SendString(text)
}
