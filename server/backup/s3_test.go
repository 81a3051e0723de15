package backup

import (
	"bufio"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"filippo.io/age"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// storage speaks as much of the S3 protocol (Amazon S3 API Reference: HeadBucket,
// ListObjectsV2, PutObject, GetObject, DeleteObject) as backups ask for, in memory.
type storage struct {
	mu      sync.Mutex
	objects map[string][]byte
	full    bool
}

func (s *storage) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	refuse := func(status int, code, message string) {
		w.Header().Set("Content-Type", "application/xml")
		w.WriteHeader(status)
		fmt.Fprintf(w, "<Error><Code>%s</Code><Message>%s</Message></Error>", code, message)
	}
	bucket, key, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	object, there := s.objects[key]
	switch {
	case !strings.Contains(r.Header.Get("Authorization"), "Credential=mill-key/"):
		refuse(http.StatusForbidden, "InvalidAccessKeyId", "no such access key")
	case bucket != "saw":
		refuse(http.StatusNotFound, "NoSuchBucket", "no such bucket")
	case r.Method == http.MethodGet && key == "":
		s.list(w, r.URL.Query().Get("prefix"))
	case r.Method == http.MethodHead && key == "":
	case r.Method == http.MethodPut && s.full:
		refuse(http.StatusInsufficientStorage, "InsufficientCapacity", "the quota is used up")
	case r.Method == http.MethodPut:
		body, err := bodyOf(r)
		if err != nil {
			refuse(http.StatusBadRequest, "IncompleteBody", err.Error())
			return
		}
		s.objects[key] = body
		w.Header().Set("ETag", `"etag"`)
	case r.Method == http.MethodDelete:
		delete(s.objects, key)
		w.WriteHeader(http.StatusNoContent)
	case !there:
		refuse(http.StatusNotFound, "NoSuchKey", "no such key")
	default:
		w.Header().Set("ETag", `"etag"`)
		http.ServeContent(w, r, "", begun, bytes.NewReader(object))
	}
}

func (s *storage) list(w io.Writer, prefix string) {
	type content struct {
		Key          string
		LastModified string
		ETag         string
		Size         int
	}
	type deeper struct{ Prefix string }
	var result struct {
		XMLName        xml.Name `xml:"ListBucketResult"`
		Name, Prefix   string
		IsTruncated    bool
		Contents       []content
		CommonPrefixes []deeper
	}
	result.Name, result.Prefix = "saw", prefix
	for key, object := range s.objects {
		rest, ok := strings.CutPrefix(key, prefix)
		if !ok {
			continue
		}
		if sub, _, isDeeper := strings.Cut(rest, "/"); isDeeper {
			if one := (deeper{prefix + sub + "/"}); !slices.Contains(result.CommonPrefixes, one) {
				result.CommonPrefixes = append(result.CommonPrefixes, one)
			}
			continue
		}
		result.Contents = append(result.Contents, content{key, begun.Format(time.RFC3339), `"etag"`, len(object)})
	}
	slices.SortFunc(result.Contents, func(a, b content) int { return strings.Compare(a.Key, b.Key) })
	_ = xml.NewEncoder(w).Encode(result)
}

// bodyOf is what was put, which over plain HTTP comes in signed chunks.
func bodyOf(r *http.Request) ([]byte, error) {
	if !strings.HasPrefix(r.Header.Get("X-Amz-Content-Sha256"), "STREAMING-") {
		return io.ReadAll(r.Body)
	}
	in, body := bufio.NewReader(r.Body), []byte(nil)
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return nil, err
		}
		length, _, _ := strings.Cut(strings.TrimSpace(line), ";")
		n, err := strconv.ParseInt(length, 16, 64)
		if err != nil || n == 0 {
			return body, err
		}
		chunk := make([]byte, n+2)
		if _, err := io.ReadFull(in, chunk); err != nil {
			return nil, err
		}
		body = append(body, chunk[:n]...)
	}
}

func TestBackupsGoToS3AndComeBack(t *testing.T) {
	t.Parallel()
	kept := &storage{objects: map[string][]byte{}}
	served := httptest.NewServer(kept)
	defer served.Close()
	m := newMill(t)
	own, err := age.GenerateX25519Identity()
	require.NoError(t, err)
	place := checklists.BackupPlace{Kind: checklists.BackupS3, Place: served.URL + "/saw/shed", User: "mill-key"}
	m.at, err = PlaceOf(place, m.desk.ID(), "secret")
	require.NoError(t, err)
	m.place.Recipients = []string{own.Recipient().String()}
	m.write(1)
	m.good()
	m.write(2)
	m.good()
	require.Len(t, m.listed(), 2)
	_, head, err := m.restored(time.Time{}, own)
	require.NoError(t, err)
	require.Equal(t, m.head(), head)
	for key, object := range kept.objects {
		require.True(t, strings.HasPrefix(key, "shed/stillsaw-backup-"+string(m.desk.ID())+"/"), key)
		require.NotContains(t, string(object), "example.com", "nothing of what people wrote is readable there")
	}
	for _, address := range []string{served.URL + "/saw/shed", served.URL + "/saw/shed/stillsaw-backup-" + string(m.desk.ID())} {
		places, err := PlacesInS3(t.Context(), address, "", "mill-key", "secret")
		require.NoError(t, err)
		found := 0
		for _, one := range places {
			all, err := List(t.Context(), one)
			require.NoError(t, err)
			found += len(all.Notes)
		}
		require.Equal(t, 2, found, address)
	}

	before := len(kept.objects)
	kept.full = true
	m.write(3)
	_, err = m.back()
	require.ErrorContains(t, err, "the quota is used up")
	require.Len(t, kept.objects, before)

	for name, spoil := range map[string]func(*checklists.BackupPlace){"no such access key": func(p *checklists.BackupPlace) { p.User = "else" }, "not there": func(p *checklists.BackupPlace) { p.Place = served.URL + "/other" }} {
		wrong := place
		spoil(&wrong)
		m.at, err = PlaceOf(wrong, m.desk.ID(), "secret")
		require.NoError(t, err)
		_, err = m.back()
		require.Error(t, err, name)
	}
	for _, address := range []string{"s3.example.com/x", "https://s3.example.com", "ftp://s3.example.com/x"} {
		_, err := PlaceOf(checklists.BackupPlace{Kind: checklists.BackupS3, Place: address}, "m", "")
		require.Error(t, err, address)
	}
}
