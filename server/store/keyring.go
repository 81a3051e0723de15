package store

import (
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"

	"golang.org/x/mod/sumdb/note"

	"stillsaw/checklists"
)

// KeysFolderName is the folder that lies beside the database. What is in it goes into no copy of the
// database: whoever has both could write another record under the mill's name.
const KeysFolderName = "keys"

// ErrNoKey is a checkpoint that can't be signed: no key is named yet, or the
// file of the one that is named is not here.
var ErrNoKey = errors.New("the key that signs this mill's checkpoints is not on this computer")

// keyring is the private parts of the keys of all mills, a file each.
type keyring struct {
	dir    string
	making sync.Mutex   // one key is made at a time
	files  sync.RWMutex // held for writing while files are moved
}

// path is where the key in use lies once it is settled.
func (k *keyring) path(mill checklists.MillID) string {
	return filepath.Join(k.dir, url.PathEscape(string(mill))+".key")
}

// next is where a key lies that no entry is known to name yet.
func (k *keyring) next(mill checklists.MillID) string { return k.path(mill) + ".new" }

// signer finds the private part of verifier among the mill's files, and where
// it lies. Without one the error is ErrNoKey.
func (k *keyring) signer(mill checklists.MillID, verifier string) (note.Signer, string, error) {
	public, err := note.NewVerifier(verifier)
	if err != nil {
		return nil, "", fmt.Errorf("a key of the record can't be read: %w", err)
	}
	k.files.RLock()
	defer k.files.RUnlock()
	files, err := os.ReadDir(k.dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, "", fmt.Errorf("the folder of keys %s can't be read: %w", k.dir, Cause(err))
	}
	for _, file := range files {
		path := filepath.Join(k.dir, file.Name())
		if !strings.HasPrefix(path, k.path(mill)) {
			continue
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return nil, "", fmt.Errorf("the key %s can't be read: %w", path, Cause(err))
		}
		signer, err := note.NewSigner(strings.TrimSpace(string(text)))
		if err == nil && signs(signer, public) {
			return signer, path, nil
		}
	}
	return nil, "", ErrNoKey
}

// signs tells whether signer is the private part of public.
func signs(signer note.Signer, public note.Verifier) bool {
	if signer.Name() != public.Name() || signer.KeyHash() != public.KeyHash() {
		return false
	}
	said := []byte("whose key is this")
	signature, err := signer.Sign(said)
	return err == nil && public.Verify(said, signature)
}

// write puts a key into the file at path, whole or not at all, to be read by
// this user alone.
func (k *keyring) write(path, key string) error {
	if err := os.MkdirAll(k.dir, 0o700); err != nil {
		return fmt.Errorf("the folder of keys %s can't be made: %w", k.dir, Cause(err))
	}
	file, err := os.CreateTemp(k.dir, ".key-*") // which only this user may read
	if err != nil {
		return fmt.Errorf("no key can be written to %s: %w", k.dir, Cause(err))
	}
	_, err = file.WriteString(key + "\n")
	err = errors.Join(err, file.Sync(), file.Close())
	if err == nil {
		err = k.move(file.Name(), path)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("no key can be written to %s: %w", k.dir, Cause(err)), os.Remove(file.Name()))
	}
	return nil
}

// move renames a file over another and makes that last over a power cut.
func (k *keyring) move(from, to string) error {
	k.files.Lock()
	defer k.files.Unlock()
	if err := os.Rename(from, to); err != nil {
		return err
	}
	if runtime.GOOS == "windows" {
		return nil // a folder can't be synced there
	}
	return syncFile(k.dir)
}

// settle leaves the key at path as the only one of the mill but for those set
// aside: what lay in its place was replaced by it, or is not named here.
func (k *keyring) settle(mill checklists.MillID, path string) error {
	if path == k.path(mill) {
		if err := os.Remove(k.next(mill)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		return nil
	}
	return k.move(path, k.path(mill))
}

// setAside keeps a file that holds a key the record does not name. It may be the
// key of a newer state of the database, which is put back yet.
func (k *keyring) setAside(mill checklists.MillID) error {
	text, err := os.ReadFile(k.path(mill))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	name := "damaged"
	if signer, err := note.NewSigner(strings.TrimSpace(string(text))); err == nil {
		name = fmt.Sprintf("%08x", signer.KeyHash())
	}
	return k.move(k.path(mill), k.path(mill)+"."+name)
}

// exposed tells whether others than this user may read the key in use. On
// Windows a file's mode says nothing of that.
func (k *keyring) exposed(mill checklists.MillID) bool {
	info, err := os.Stat(k.path(mill))
	return err == nil && runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0
}
