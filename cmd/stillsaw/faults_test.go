package main

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"image"
	"image/jpeg"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// faulted is a program at work on a folder something happens to, with one phone
// that sends stops and keeps account of them.
type faulted struct {
	t      *testing.T
	dir    string
	p      *process
	ada    *browser
	kept   []string   // acknowledged
	unsure url.Values // refused, sent again once the cause is gone
	said   string     // what the screen said of it
}

func atWork(t *testing.T, binary, dir string) *faulted {
	t.Helper()
	f := &faulted{t: t, dir: dir, p: start(t, binary, dir)}
	f.ada = newBrowser(t, f.p.addr)
	require.NotEmpty(t, f.ada.signIn("ada", crewsPIN))
	f.works("before")
	return f
}

// works has a stop acknowledged.
func (f *faulted) works(what string) {
	f.t.Helper()
	status, page := f.ada.stopped(aStop(what))
	require.Equal(f.t, http.StatusSeeOther, status, page)
	f.kept = append(f.kept, what)
}

// refused sends stops until one is not taken in, which is to be soon.
func (f *faulted) refused() {
	f.t.Helper()
	for i := range 200 {
		form := aStop(fmt.Sprint("stop ", i))
		status, page := f.ada.stopped(form)
		if status == http.StatusSeeOther {
			f.kept = append(f.kept, form.Get("what"))
			continue
		}
		require.GreaterOrEqual(f.t, status, 500, page)
		f.unsure, f.said = form, page
		return
	}
	require.Fail(f.t, "every stop was taken in")
}

// reads requires the first page to be shown all the same.
func (f *faulted) reads() {
	f.t.Helper()
	reply, err := f.ada.http.Get("http://" + f.p.addr + "/")
	require.NoError(f.t, err)
	require.NoError(f.t, reply.Body.Close())
	require.Equal(f.t, http.StatusOK, reply.StatusCode)
}

// recovers has what was refused sent again to the same process, without a restart,
// and something new; then all that was acknowledged is there, once.
func (f *faulted) recovers() {
	f.t.Helper()
	status, page := f.ada.stopped(f.unsure)
	require.Equal(f.t, http.StatusSeeOther, status, page)
	f.kept = append(f.kept, f.unsure.Get("what"))
	f.works("after")
	f.whole()
}

func (f *faulted) whole() {
	f.t.Helper()
	f.p.kill(f.t)
	require.Equal(f.t, f.kept, stopsIn(f.t, f.dir))
	c := callIt(f.t, "verify", "-rebuild", "-data", f.dir)
	require.Equal(f.t, exitOK, c.status, c.out+c.err)
}

// row writes what was seen.
func (f *faulted) row(fault, recovery string) {
	f.t.Helper()
	log := lastLogged(f.p.out.String())
	require.NotEmpty(f.t, log, "nothing was logged:\n%s", f.p.out)
	said, _, _ := strings.Cut(f.said, " To the first page")
	faultRow(f.t, fault, words(said), log, recovery)
}

// Another program begins to write and keeps the database for a while: an act waits
// for it, and one that waits longer than five seconds is refused and sent again.
func TestFaultDatabaseKeptByAnotherProgram(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program")
	}
	f := atWork(t, built(t), preparedMill(t))
	db, err := sql.Open(driverHere(), "file:"+filepath.Join(f.dir, store.FileName))
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	defer func() { require.NoError(t, db.Close()) }()
	keep := func() {
		t.Helper()
		_, err := db.ExecContext(t.Context(), "BEGIN IMMEDIATE")
		require.NoError(t, err)
	}
	letGo := func() {
		t.Helper()
		_, err := db.ExecContext(t.Context(), "ROLLBACK")
		require.NoError(t, err)
	}
	keep()
	f.reads()
	answered := make(chan string, 1)
	go func() {
		status, _, page, err := f.ada.post(context.WithoutCancel(t.Context()), "/stop-it", aStop("waited"))
		answered <- fmt.Sprint(status, err, page)
	}()
	select {
	case said := <-answered:
		require.Fail(t, "answered while another program had the database", said)
	case <-time.After(300 * time.Millisecond):
	}
	letGo()
	require.Contains(t, <-answered, "303")
	f.kept = append(f.kept, "waited")
	if !thorough() {
		f.whole()
		return // the refusal takes its five seconds
	}
	keep()
	f.refused()
	f.reads()
	letGo()
	f.recovers()
	f.row("Database kept by another program for seconds", "An act waits up to 5 seconds and is then taken in; one refused is taken in when sent again, as soon as the other lets go. No restart.")
}

// bigPhoto is a picture as large as is taken, in pixels.
func bigPhoto(t *testing.T) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, image.NewGray(image.Rect(0, 0, 5000, 5000)), &jpeg.Options{Quality: 60}))
	return out.Bytes()
}

// describes sends a photo with a defect.
func (f *faulted) describes(photo []byte) (status int, page string, err error) {
	form := aStop("")
	form.Del("what")
	status, to, page, err := f.ada.post(f.t.Context(), "/stop-it", form)
	if err != nil || status != http.StatusSeeOther {
		return status, page, err
	}
	f.kept = append(f.kept, "A tooth is gone")
	to, _, _ = strings.Cut(to, "?")
	status, _, page, err = f.ada.postPhoto(f.t.Context(), to+"/describe", url.Values{"submission": {store.NewID()}, "what": {"A tooth is gone"}}, "what_photo", photo)
	return status, page, err
}
