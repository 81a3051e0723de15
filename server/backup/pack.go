package backup

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"strings"

	"filippo.io/age"
	"github.com/klauspost/compress/zstd"

	"stillsaw/server/store"
)

// windowMost bounds what memory unpacking a file of others may ask for.
const windowMost = 64 << 20

// Recipients reads the public keys of age in texts, age1… each.
func Recipients(texts []string) ([]age.Recipient, error) {
	var all []age.Recipient
	for _, text := range texts {
		found, err := age.ParseRecipients(strings.NewReader(text))
		if err != nil || len(found) != 1 {
			return nil, fmt.Errorf("%.80q is no public key of age; such a key begins with age1", text)
		}
		all = append(all, found...)
	}
	return all, nil
}

// Identities reads the private keys of age in a file. They belong to restoring
// alone and never to the server.
func Identities(file string) ([]age.Identity, error) {
	text, err := os.Open(file)
	if err != nil {
		return nil, fmt.Errorf("the identity file %s: %w", file, store.Cause(err))
	}
	defer text.Close()
	all, err := age.ParseIdentities(text)
	if err != nil {
		return nil, fmt.Errorf("the identity file %s can't be used: %w. It has a line that begins with AGE-SECRET-KEY-; one protected by a passphrase is to be opened with age first", file, err)
	}
	return all, nil
}

// counting hashes and counts what is written.
type counting struct {
	hash.Hash
	n int64
}

func newCounting() *counting { return &counting{Hash: sha256.New()} }

func (c *counting) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return c.Hash.Write(p)
}

func (c *counting) digest() string { return hex.EncodeToString(c.Sum(nil)) }

// pack compresses the file from, encrypts it to recipients where there are any,
// and writes it to the new file to. It fills in sizes and digests of the note.
func pack(ctx context.Context, from, to string, recipients []age.Recipient, n *Note) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	file, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	packed, plain := newCounting(), newCounting()
	out := io.WriteCloser(unclosed{io.MultiWriter(file, packed)})
	if len(recipients) > 0 {
		if out, err = age.Encrypt(out, recipients...); err != nil {
			return fmt.Errorf("it could not be encrypted: %w", err)
		}
	}
	zip, err := zstd.NewWriter(out, zstd.WithEncoderConcurrency(1), zstd.WithWindowSize(1<<20))
	if err != nil {
		return err
	}
	_, err = io.Copy(zip, io.TeeReader(under(ctx, in), plain))
	if err := errors.Join(err, zip.Close(), out.Close()); err != nil {
		return err
	}
	n.Bytes, n.Digest, n.PlainBytes, n.PlainDigest, n.Encrypted = packed.n, packed.digest(), plain.n, plain.digest(), len(recipients) > 0
	return nil
}

func digestOf(ctx context.Context, file string) (string, error) {
	in, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer in.Close()
	sum := newCounting()
	_, err = io.Copy(sum, under(ctx, in))
	return sum.digest(), err
}

type unclosed struct{ io.Writer }

func (unclosed) Close() error { return nil }

// ErrChanged is a backup that is not what was written: cut short, damaged or
// changed.
var ErrChanged = errors.New("it was cut short, damaged or changed since it was written")

// ErrWrongIdentity is a backup that none of the identities opens.
var ErrWrongIdentity = errors.New("none of the keys in the identity file opens it: it was encrypted to others. Use the identity file whose public key was entered on the page Backups then")

// ErrNoIdentity is an encrypted backup and no identity.
var ErrNoIdentity = errors.New("it is encrypted; name the file with the private key by -identity FILE")

// fetch reads a backup from its place and holds it against its note. It is
// unpacked into the new file to, "" for only reading it.
func fetch(ctx context.Context, at Place, n Note, identities []age.Identity, to string) (err error) {
	from, err := at.Open(ctx, n.Name)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	packed := newCounting()
	in := io.TeeReader(under(ctx, io.LimitReader(from, n.Bytes+1)), packed)
	var wrong error
	if to != "" {
		wrong = unpack(in, n, identities, to)
	}
	if errors.Is(wrong, ErrWrongIdentity) || errors.Is(wrong, ErrNoIdentity) {
		return fmt.Errorf("the backup %s: %w", n.Name, wrong)
	}
	if ctx.Err() == nil { // what was not unpacked is read all the same
		if _, err := io.Copy(io.Discard, in); err != nil {
			return fmt.Errorf("the backup %s can't be read: %w", n.Name, err)
		}
	}
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case packed.n != n.Bytes || packed.digest() != n.Digest:
		return fmt.Errorf("the backup %s: %w", n.Name, ErrChanged)
	case wrong != nil:
		return fmt.Errorf("the backup %s: %w", n.Name, wrong)
	}
	return nil
}

func unpack(in io.Reader, n Note, identities []age.Identity, to string) (err error) {
	if n.Encrypted {
		if len(identities) == 0 {
			return ErrNoIdentity
		}
		in, err = age.Decrypt(in, identities...)
		var others *age.NoIdentityMatchError
		if errors.As(err, &others) {
			return ErrWrongIdentity
		}
		if err != nil {
			return errors.Join(ErrChanged, err)
		}
	}
	zip, err := zstd.NewReader(in, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(windowMost))
	if err != nil {
		return err
	}
	defer zip.Close()
	file, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	plain := newCounting()
	// Of what says it is more than the note says, no more is written.
	_, err = io.Copy(io.MultiWriter(file, plain), io.LimitReader(zip, n.PlainBytes+1))
	if err := errors.Join(file.Sync(), file.Close()); err != nil {
		return err
	}
	if err != nil || plain.n != n.PlainBytes || plain.digest() != n.PlainDigest {
		return errors.Join(ErrChanged, err)
	}
	return nil
}
