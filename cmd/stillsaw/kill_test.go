package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// process is the built program, running.
type process struct {
	command *exec.Cmd
	out     *screen
	addr    string
}

func start(t *testing.T, binary, dir string) *process {
	t.Helper()
	p := launch(t, binary, dir)
	p.addr = p.out.address(t)
	return p
}

// launch is start without waiting until it answers.
func launch(t *testing.T, binary, dir string) *process {
	t.Helper()
	p := &process{command: exec.Command(binary, "-addr", "127.0.0.1:0", "-data", dir), out: newScreen()}
	p.command.Stdout, p.command.Stderr = p.out, p.out
	require.NoError(t, p.command.Start())
	t.Cleanup(func() {
		if p.command.ProcessState == nil { // the test failed while it ran
			p.command.Process.Kill()
			p.command.Wait()
		}
	})
	return p
}

// ended waits for the program to end by itself; one that does not is killed
// rather than left running behind the tests.
func (p *process) ended() error {
	late := time.AfterFunc(30*time.Second, func() { p.command.Process.Kill() })
	defer late.Stop()
	return p.command.Wait()
}

// program is the built one, made once for all tests that start it.
var program struct {
	once   sync.Once
	binary string
	said   []byte
	err    error
}

func TestMain(m *testing.M) {
	debug.SetGCPercent(400) // of what is run in here; the built program has its own
	code := m.Run()
	if program.binary != "" {
		if err := os.RemoveAll(filepath.Dir(program.binary)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
	}
	os.Exit(code)
}

func built(t *testing.T) string {
	t.Helper()
	program.once.Do(func() {
		dir, err := os.MkdirTemp("", "stillsaw-built-")
		if err != nil {
			program.err = err
			return
		}
		program.binary = filepath.Join(dir, "stillsaw")
		program.said, program.err = exec.Command("go", "build", "-ldflags", "-s -w", "-o", program.binary, ".").CombinedOutput()
	})
	require.NoError(t, program.err, string(program.said))
	return program.binary
}

// signOff is one person's signature under one walk.
type signOff struct {
	person     procedures.PersonID
	walk       checklists.InspectionID
	submission string
	answered   bool   // acknowledged before the kill
	to         string // where the answer led
}

// send signs over HTTP. An error is a connection that was lost: then it is not
// known whether it was signed.
func (s *signOff) send(ctx context.Context, b *browser) (to string, err error) {
	status, to, page, err := b.post(ctx, "/inspections/"+string(s.walk)+"/sign", url.Values{"submission": {s.submission}, "pin": {crewsPIN}})
	if err == nil && status != http.StatusSeeOther {
		return "", fmt.Errorf("status %d: %s", status, page)
	}
	return to, err
}

// walksFor begins a walk of the list for each person and answers it whole:
// nothing was looked at, which is for somebody to say and to sign.
func walksFor(t *testing.T, st *store.Store, list checklists.ListID, people []procedures.Person) []*signOff {
	t.Helper()
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	desk := st.Of(mill.ID)
	made := make([]*signOff, len(people))
	var group sync.WaitGroup
	for i, p := range people {
		group.Go(func() {
			now := time.Now().UTC()
			id, err := desk.BeginWalk(t.Context(), store.NewID(), list, p, now)
			if err != nil {
				t.Error(err)
				return
			}
			w, err := desk.Walk(t.Context(), id)
			if err != nil {
				t.Error(err)
				return
			}
			var answers []checklists.Answer
			for _, item := range w.List.Items {
				answers = append(answers, checklists.Answer{Item: item.ID, Result: checklists.NotChecked, Note: "round of the kill test"})
			}
			if err := desk.TakeAnswers(t.Context(), id, answers, p, now); err != nil {
				t.Error(err)
			}
			made[i] = &signOff{person: p.ID, walk: id, submission: store.NewID()}
		})
	}
	group.Wait()
	require.False(t, t.Failed())
	return made
}

// Many lists, so that everybody has several walks to sign in one round.
func shortLists(t *testing.T, dir string, n int) []checklists.ListID {
	t.Helper()
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	desk := st.Of(mill.ID)
	sam := procedures.Person{ID: "sam", Name: "Sam Ordway", Role: procedures.Supervisor}
	yesterday := time.Now().Add(-24 * time.Hour)
	var ids []checklists.ListID
	for i := range n {
		l := checklists.List{ID: checklists.ListID(fmt.Sprint("yard-", i)), Title: fmt.Sprint("Yard ", i), Schedule: checklists.Schedule{Every: checklists.EachDay},
			Items: []checklists.Item{{ID: "Y1", Station: "Yard", Equipment: "site", Prompt: "Ways clear", How: "Walk them.", State: checklists.Stopped,
				Kind: checklists.Choice, Severity: checklists.Mend, Source: "common practice, no source"}}}
		d, err := store.DraftOf(store.Lists, string(l.ID), l.Title, l)
		require.NoError(t, err)
		require.NoError(t, desk.KeepDraft(t.Context(), d, yesterday))
		require.NoError(t, desk.Publish(t.Context(), store.NewID(), store.Lists, d.ID, 1, sam, yesterday, nil))
		ids = append(ids, l.ID)
	}
	require.NoError(t, st.Close())
	return ids
}

// signAll has each person go through their own forms one after the other, all
// people at once, until sign says to stop.
func signAll(forms []*signOff, sign func(*signOff) bool) *sync.WaitGroup {
	own := map[procedures.PersonID][]*signOff{}
	for _, form := range forms {
		own[form.person] = append(own[form.person], form)
	}
	group := new(sync.WaitGroup)
	for _, forms := range own {
		group.Go(func() {
			for _, form := range forms {
				if !sign(form) {
					return
				}
			}
		})
	}
	return group
}

// The server is killed at a random moment while a crew signs, several times on
// one database, more often in CI, twenty times with STILLSAW_LONG. Whatever was
// acknowledged is there, once; whoever got no answer sends the form again and gets
// one; the record is whole.
func TestAcknowledgedSignOffsSurviveBeingKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("kills the server again and again")
	}
	binary, dir := built(t), preparedMill(t)
	lists := shortLists(t, dir, 2)
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	chance := rand.New(rand.NewPCG(seed, 0))

	phones := map[procedures.PersonID]*browser{}
	signedBefore, unanswered, acknowledged := int64(0), 0, 0
	rounds := 4
	switch {
	case os.Getenv("STILLSAW_LONG") != "":
		rounds = 20
	case os.Getenv("CI") != "":
		rounds = 6
	}
	for round := range rounds {
		st, err := store.Open(t.Context(), dir)
		require.NoError(t, err)
		var forms []*signOff
		for _, list := range lists {
			forms = append(forms, walksFor(t, st, list, crew())...)
		}
		require.NoError(t, st.Close())

		p := start(t, binary, dir)
		for _, person := range crew() {
			if phones[person.ID] == nil {
				phones[person.ID] = newBrowser(t, p.addr)
				require.NotEmpty(t, phones[person.ID].signIn(person.ID, crewsPIN))
			}
			phones[person.ID].addr = p.addr
		}
		acks := make(chan struct{}, len(forms))
		group := signAll(forms, func(form *signOff) bool {
			to, err := form.send(t.Context(), phones[form.person])
			if err != nil {
				return false // killed
			}
			form.answered, form.to = true, to
			acks <- struct{}{}
			return true
		})
		for range chance.IntN(len(forms)) {
			<-acks
		}
		<-time.After(time.Duration(chance.IntN(40)) * time.Millisecond) // into the next signatures, whatever the server is at
		require.NoError(t, p.command.Process.Kill())
		require.Error(t, p.command.Wait(), "killed, not ended")
		group.Wait()
		require.NotContains(t, p.out.String(), "panic")

		p = start(t, binary, dir)
		for _, phone := range phones {
			phone.addr = p.addr
		}
		signAll(forms, func(form *signOff) bool {
			to, err := form.send(t.Context(), phones[form.person])
			switch {
			case err != nil:
				t.Errorf("round %d: %s", round, err)
			case !strings.HasPrefix(to, "/inspections/"+string(form.walk)), form.answered && to != form.to:
				t.Errorf("round %d: answered with %s, the first time with %s", round, to, form.to)
			}
			return true
		}).Wait()
		require.False(t, t.Failed())
		for _, form := range forms {
			if form.answered {
				acknowledged++
			} else {
				unanswered++
			}
		}
		require.NoError(t, p.command.Process.Signal(syscall.SIGTERM))
		require.NoError(t, p.ended(), p.out.String())
		require.NoFileExists(t, filepath.Join(dir, store.FileName+"-wal"))

		out, err := exec.CommandContext(t.Context(), binary, "verify", "-data", dir).CombinedOutput()
		require.NoError(t, err, string(out))
		signedBefore += eachOnce(t, dir, forms)
		require.EqualValues(t, (round+1)*len(forms), signedBefore)
	}
	t.Logf("%d signatures were acknowledged before a kill, %d got their answer after it", acknowledged, unanswered)
	require.Positive(t, acknowledged)
	require.Positive(t, unanswered)
}

// eachOnce requires one entry and one inspection for every form.
func eachOnce(t *testing.T, dir string, forms []*signOff) int64 {
	t.Helper()
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	desk := st.Of(mill.ID)
	var count int64
	for _, form := range forms {
		entries, more, err := desk.Entries(t.Context(), store.Filter{Kind: store.KindInspection, Subject: string(form.walk), Limit: 9})
		require.NoError(t, err)
		require.False(t, more)
		require.Len(t, entries, 1, form.walk)
		in, seq, err := desk.Inspection(t.Context(), form.walk)
		require.NoError(t, err)
		require.Equal(t, entries[0].Seq, seq)
		require.Equal(t, form.person, in.Signer)
		count++
	}
	return count
}

func TestProgramEndsOrderlyOnASignal(t *testing.T) {
	binary, dir := built(t), t.TempDir()
	for _, signal := range []os.Signal{syscall.SIGTERM, os.Interrupt} {
		p := start(t, binary, dir)
		require.NoError(t, p.command.Process.Signal(signal))
		require.NoError(t, p.ended(), p.out.String())
		require.Contains(t, p.out.String(), "Stopped.")
		require.NoFileExists(t, filepath.Join(dir, store.FileName+"-wal"))
	}
}
