package server

import (
	"context"
	"encoding/binary"
	"hash/crc32"
	"net/http"
	"net/url"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// pngOf is a PNG that says how large it is and then ends: what is refused by its
// size must be refused before a decoder asks for memory. ISO/IEC 15948, 5.3 and
// 11.2.2.
func pngOf(width, height uint32, bits byte) []byte {
	header := binary.BigEndian.AppendUint32([]byte("IHDR"), width)
	header = binary.BigEndian.AppendUint32(header, height)
	header = append(header, bits, 2, 0, 0, 0) // of each of three colours
	out := binary.BigEndian.AppendUint32([]byte("\x89PNG\r\n\x1a\n"), 13)
	return binary.BigEndian.AppendUint32(append(out, header...), crc32.ChecksumIEEE(header))
}

func TestPhotoOfTooManyPixelsIsNotDecoded(t *testing.T) {
	for _, size := range [][2]uint32{{5001, 5000}, {7700, 7700}, {25_000_001, 1}, {1, 25_000_001}, {100_000, 100_000}} {
		_, err := Prepare(pngOf(size[0], size[1], 8))
		require.EqualError(t, err, "a photo of at most 25 megapixels; take it with a smaller setting", size)
	}
	_, err := Prepare(pngOf(5000, 5000, 8))
	require.EqualError(t, err, "a photo as JPEG or PNG; this file is damaged", "25 megapixels it tries")
	_, err = Prepare(pngOf(5000, 5000, 16))
	require.EqualError(t, err, "a photo of at most 12 megapixels; take it with a smaller setting", "sixteen bits a colour")
	kept, err := Prepare(picture(t, 2400, 1200))
	require.NoError(t, err)
	require.Equal(t, []int{1600, 800}, []int{kept.Width, kept.Height})
}

func TestOnePhotoIsDecodedAtATime(t *testing.T) {
	s, _, _ := newServer(t, "")
	var all sync.WaitGroup
	for i := range 6 {
		sent := picture(t, 60+i, 40)
		all.Go(func() {
			photo, problems, err := s.decode(t.Context(), "photo", func() ([]byte, error) {
				assert.Len(t, s.decoding, 1, "the place is taken")
				return sent, nil
			})
			assert.NoError(t, err)
			assert.Empty(t, problems)
			assert.Equal(t, 60+i, photo.Width)
		})
	}
	all.Wait()
	require.Equal(t, 1, cap(s.decoding), "and there is one place")
	_, problems, err := s.decode(t.Context(), "photo", func() ([]byte, error) { return []byte("no picture"), nil })
	require.NoError(t, err)
	require.NotNil(t, problems.For("photo"))
	require.Empty(t, s.decoding, "it is free again, whatever came of it")
	s.decoding <- struct{}{}
	gone, leave := context.WithCancel(t.Context())
	leave()
	_, _, err = s.decode(gone, "photo", nil)
	require.ErrorIs(t, err, context.Canceled, "nobody waits for who is gone")
}

// Whoever guesses PINs on a form with a photo costs no decoding once they have
// to wait; who only mistyped finds the photo kept.
func TestWhoHasToWaitForThePINHasNoPhotoDecoded(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	send := func(pin string, photo []byte) page {
		form := cutLock()
		form.Set("pin", pin)
		form.Set("submission", store.NewID())
		return ada.postFiles("/departures/new", form, map[string][]byte{"photo": photo})
	}
	stored := func(photo []byte) bool {
		prepared, err := Prepare(photo)
		require.NoError(t, err)
		_, err = m.desk().Photo(t.Context(), prepared.Digest())
		return err == nil
	}
	mistyped, guessed := picture(t, 60, 60), picture(t, 61, 60)
	for range freeTriesPerson {
		send("0000", mistyped).says(t, `name="photo_kept" value="`)
	}
	require.True(t, stored(mistyped))
	for _, pin := range []string{"0000", testSecrets["ada"]} {
		reply := send(pin, guessed)
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, `href="#f-photo"`)
		reply.says(t, "the photo once more; it was not looked at: too many wrong tries")
		reply.says(t, "lock cut off the saw disconnect</textarea>")
	}
	require.False(t, stored(guessed))
	m.clock.Advance(firstWait)
	require.Equal(t, http.StatusOK, send(testSecrets["ada"], guessed).Status)
	require.True(t, stored(guessed))
}

// The PIN of a form is tried once, however many photos the form has.
func TestPINOfAFormWithPhotosIsTriedOnce(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	for range freeTriesPerson - 1 {
		form := with(cutLock(), "pin", "0000", "submission", store.NewID())
		ada.postFiles("/departures/new", form, map[string][]byte{"photo": picture(t, 60, 60)}).says(t, "that is not it")
	}
	require.Equal(t, "/", m.phone().post("/sign-in", url.Values{"person": {string(m.people["ada"].ID)}, "pin": {testSecrets["ada"]}}).URL.Path)
}
