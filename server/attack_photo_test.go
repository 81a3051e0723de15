package server

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"image/jpeg"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// chunk is one part of a PNG. ISO/IEC 15948, 5.3.
func chunk(kind string, data []byte) []byte {
	out := append(binary.BigEndian.AppendUint32(nil, uint32(len(data))), kind...)
	out = append(out, data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

// bombOf is a PNG of a few pixels whose rows unpack to size bytes.
func bombOf(t *testing.T, size int) []byte {
	t.Helper()
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	_, err := z.Write(make([]byte, size))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	header := append(binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, 8), 8), 8, 2, 0, 0, 0)
	out := append([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", header)...)
	return append(append(out, chunk("IDAT", packed.Bytes())...), chunk("IEND", nil)...)
}

const script = `<html><script>alert(1)</script>`

// What is no photo is refused whatever it calls itself; what is one and something
// else besides is kept as the photo alone, encoded anew.
func TestOnlyThePictureOfAPhotoIsKept(t *testing.T) {
	for name, sent := range map[string][]byte{
		"svg": []byte(`<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>`), "html": []byte(script), "pdf": []byte("%PDF-1.7\n"), "zip": []byte("PK\x03\x04"),
		"gif and script": []byte("GIF89a/*\x01\x00\x01\x00\x80\x00\x00*/=1;alert(1)"), "empty": nil, "jpeg that ends": picture(t, 40, 40)[:60], "bmp": []byte("BM6\x00\x00\x00"),
		"png that is svg": []byte("\x89PNG\r\n\x1a\n<svg onload=alert(1)>"), "png that unpacks to more": bombOf(t, 64<<20),
	} {
		_, err := Prepare(sent)
		require.Error(t, err, name)
	}
	plain := picture(t, 40, 30)
	exif := append([]byte{0xff, 0xd8, 0xff, 0xfe, 0, byte(2 + 6 + len(script))}, "Exif\x00\x00"+script...)
	for name, sent := range map[string][]byte{"behind": append(bytes.Clone(plain), script...), "in a comment": append(exif, plain[2:]...)} {
		kept, err := Prepare(sent)
		require.NoError(t, err, name)
		require.NotContains(t, string(kept.Bytes), "script", name)
		require.NotContains(t, string(kept.Bytes), "Exif", name)
		_, err = jpeg.Decode(bytes.NewReader(kept.Bytes))
		require.NoError(t, err, name)
	}
}

func TestAPhotoIsServedAsAPhotoToWhoIsSignedIn(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	sent := append(picture(t, 60, 60), script...)
	require.Equal(t, http.StatusOK, ada.postFiles("/departures/new", signed("ada", cutLock()), map[string][]byte{"photo": sent}).Status)
	kept, err := Prepare(sent)
	require.NoError(t, err)
	at := "/photos/" + kept.Digest()
	reply := ada.asked(http.MethodGet, at, nil)
	require.Equal(t, http.StatusOK, reply.StatusCode)
	require.Equal(t, "image/jpeg", reply.Header.Get("Content-Type"))
	require.Equal(t, "nosniff", reply.Header.Get("X-Content-Type-Options"))
	require.Contains(t, reply.Header.Get("Content-Security-Policy"), "default-src 'none'")
	require.Contains(t, reply.Header.Get("Cache-Control"), "private")
	require.Equal(t, http.StatusSeeOther, m.phone().asked(http.MethodGet, at, nil).StatusCode, "not to anybody")
}

// Names of files and places in a path come from a table or the database, never from
// what was asked: there is no file to be reached.
func TestNoPathLeadsToAFile(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	up := []string{"..%2f..%2f..%2f..%2fetc%2fpasswd", "%2e%2e%2f%2e%2e%2fetc%2fpasswd", "..%5c..%5cwin.ini", "....%2f%2fetc%2fpasswd", "%252e%252e%252fetc%252fpasswd", "stillsaw.db", "%00", "a%00.jpg", "%0d%0aSet-Cookie:%20x=1", "'%20OR%20'1'='1", "%c0%ae%c0%ae%2f"}
	paths := []string{"/assets/:id", "/photos/:id"}
	for _, route := range m.server.routes {
		if route.Method == http.MethodGet && pathParameter.MatchString(route.Path) {
			paths = append(paths, route.Path)
		}
	}
	for i, route := range paths {
		for j, name := range up {
			if i > 1 && (i+j)%6 != 0 {
				continue // each address with a sixth of the names, each name at a sixth of the addresses
			}
			reply := sam.asked(http.MethodGet, pathParameter.ReplaceAllString(route, name), nil)
			require.Less(t, reply.StatusCode, 500, "%s %s", route, name)
			require.NotEqual(t, http.StatusOK, reply.StatusCode, "%s %s", route, name)
			require.Empty(t, reply.Header.Get("Set-Cookie"), "%s %s", route, name)
		}
	}
	for _, path := range []string{"/../../etc/passwd", "/assets/../../go.mod", "/.git/config", "/stillsaw.db", "/keys/", "/debug/pprof/", "/metrics", "/server-status", "/.env"} {
		require.Equal(t, http.StatusNotFound, m.phone().asked(http.MethodGet, path, nil).StatusCode, path)
	}
}
