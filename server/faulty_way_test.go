package server

import (
	"bytes"
	"context"
	"crypto/tls"
	"io"
	"net"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/secure"
)

// cut is what a way between phone and server does to what goes over it.
type cut int

const (
	heals      cut = iota // all goes over
	refuses               // no connection comes about
	cutsBefore            // a connection ends before what was asked goes on
	cutsMiddle            // the server gets half of what is sent off
	losesReply            // the server gets all of it and answers; the phone hears nothing
	losesForms            // so it is with every form; pages go over
)

func (c cut) String() string {
	return [...]string{"heals", "refuses", "cuts before", "cuts in the middle", "loses the reply", "loses the reply to forms"}[c]
}

// faultyWay stands between a phone and the server. The first form sent off after
// it is cut meets the cut; from then on, and for pages at once, nothing goes over
// until it heals.
type faultyWay struct {
	url    string
	server string // address of the real one
	pass   *http.Transport
	late   func(r *http.Request) (breaksOff bool) // where set, each answer that goes over waits for it; one that breaks off ends in its middle

	lock    sync.Mutex
	now     cut
	met     bool                     // a form has met the cut
	ways    map[net.Conn]bool        // open towards phones
	passing map[*http.Request]func() // ends one that goes over
}

// faultyBetween is a way to the server at address, encrypted where keeper is not
// nil, as host.
func faultyBetween(t *testing.T, address, host string, keeper *secure.Keeper) *faultyWay {
	t.Helper()
	way := &faultyWay{server: strings.TrimPrefix(address, "http://"), pass: &http.Transport{DisableCompression: true}, ways: map[net.Conn]bool{}, passing: map[*http.Request]func(){}}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	_, port, err := net.SplitHostPort(listener.Addr().String())
	require.NoError(t, err)
	way.url = "http://" + host + ":" + port
	served := &http.Server{Handler: way, ConnState: way.follow}
	var inner net.Listener = refusing{listener, way}
	if keeper != nil {
		way.url = "https://" + host + ":" + port
		inner = tls.NewListener(inner, &tls.Config{GetCertificate: keeper.GetCertificate, NextProtos: []string{"http/1.1"}})
	}
	done := make(chan struct{})
	go func() { defer close(done); _ = served.Serve(inner) }()
	t.Cleanup(func() {
		way.set(refuses)
		served.Close()
		way.pass.CloseIdleConnections()
		<-done
	})
	return way
}

// refusing takes no connection while its way refuses.
type refusing struct {
	net.Listener
	way *faultyWay
}

func (l refusing) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil || l.way.is() != refuses {
			return c, err
		}
		if tcp, is := c.(*net.TCPConn); is {
			_ = tcp.SetLinger(0)
		}
		c.Close()
	}
}

func (way *faultyWay) follow(c net.Conn, state http.ConnState) {
	way.lock.Lock()
	defer way.lock.Unlock()
	if state == http.StateNew {
		way.ways[c] = true
	} else if state == http.StateClosed || state == http.StateHijacked {
		delete(way.ways, c)
	}
}

func (way *faultyWay) is() cut {
	way.lock.Lock()
	defer way.lock.Unlock()
	return way.now
}

// set cuts or heals the way. What is under way is broken off by a cut, but for
// those that wait for a form to meet them.
func (way *faultyWay) set(c cut) {
	way.lock.Lock()
	defer way.lock.Unlock()
	way.now, way.met = c, false
	if c == heals {
		return
	}
	for _, end := range way.passing {
		end()
	}
	if c == refuses {
		for conn := range way.ways {
			conn.Close()
		}
	}
}

func (way *faultyWay) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	ctx, end := context.WithCancel(r.Context())
	defer end()
	way.lock.Lock()
	now, first := way.now, false
	if now == heals {
		way.passing[r] = end
	} else if r.Method == http.MethodPost && !way.met {
		way.met, first = true, true
	}
	way.lock.Unlock()
	defer func() {
		way.lock.Lock()
		delete(way.passing, r)
		way.lock.Unlock()
	}()
	switch {
	case now == heals, now == losesForms && r.Method != http.MethodPost:
		way.over(w, r.WithContext(ctx))
		return
	case first && now == cutsMiddle:
		way.half(r)
	case first && now == losesReply, now == losesForms:
		if reply, err := way.send(r.WithContext(ctx)); err == nil {
			_, _ = io.Copy(io.Discard, reply.Body)
			reply.Body.Close()
		}
	}
	panic(http.ErrAbortHandler) // the connection ends without an answer
}

func (way *faultyWay) send(r *http.Request) (*http.Response, error) {
	out := r.Clone(r.Context())
	out.RequestURI, out.URL.Scheme, out.URL.Host = "", "http", way.server
	return way.pass.RoundTrip(out)
}

// over lets a request over and its answer back, as it comes.
func (way *faultyWay) over(w http.ResponseWriter, r *http.Request) {
	reply, err := way.send(r)
	if err != nil {
		panic(http.ErrAbortHandler)
	}
	defer reply.Body.Close()
	for name, values := range reply.Header {
		w.Header()[name] = values
	}
	if way.late != nil && way.late(r) {
		body, _ := io.ReadAll(reply.Body)
		w.Header().Set("Content-Length", strconv.Itoa(len(body)))
		_, _ = w.Write(body[:len(body)/2])
		w.(http.Flusher).Flush()
		panic(http.ErrAbortHandler)
	}
	w.WriteHeader(reply.StatusCode)
	chunk := make([]byte, 16<<10)
	for {
		n, err := reply.Body.Read(chunk)
		if n > 0 {
			if _, gone := w.Write(chunk[:n]); gone != nil {
				return
			}
			w.(http.Flusher).Flush()
		}
		if err == io.EOF {
			return
		}
		if err != nil {
			panic(http.ErrAbortHandler)
		}
	}
}

// half gives the server the head of a request and half of what it announces.
func (way *faultyWay) half(r *http.Request) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return
	}
	var whole bytes.Buffer
	out := r.Clone(r.Context())
	out.Body, out.ContentLength = io.NopCloser(bytes.NewReader(body)), int64(len(body))
	if out.Write(&whole) != nil {
		return
	}
	server, err := net.Dial("tcp", way.server)
	if err != nil {
		return
	}
	_, _ = server.Write(whole.Bytes()[:whole.Len()-len(body)+len(body)/2])
	server.Close()
}
