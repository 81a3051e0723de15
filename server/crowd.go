package server

import (
	"errors"
	"net"
	"sync"
	"sync/atomic"
	"time"
)

// How much of the server connections take up at most, so that neither a broken
// program nor somebody who means harm keeps the crew out. A phone holds half a
// dozen connections, and all phones may come from the address of one access point.
const (
	connectionsFrom = 400       // at a time from one address; a proxy speaks for many
	bodiesMost      = 256 << 20 // bytes of requests under way, of all connections together
	bodyFree        = 64 << 10  // not counted of each: a form without a photo always has room
	takesWithin     = time.Minute
	takenAtOnce     = 64 << 10 // how much of an answer a phone has to take in that time
)

// crowd counts what connections take up.
type crowd struct {
	connections int
	bodies      int64
	within      time.Duration
	proxy       func(address string) bool
	tell        func(what, from string) // the log; nil for nobody

	sent atomic.Int64 // beyond bodyFree, not answered yet
	mu   sync.Mutex
	from map[string]int
}

func newCrowd(proxy func(address string) bool) *crowd {
	return &crowd{connections: connectionsFrom, bodies: bodiesMost, within: takesWithin, proxy: proxy, from: map[string]int{}}
}

// enter tells whether one more connection from address is taken.
func (c *crowd) enter(address string) bool {
	c.mu.Lock()
	taken := c.from[address] < c.connections || c.proxy(address)
	if taken {
		c.from[address]++
	}
	c.mu.Unlock()
	if !taken {
		c.refused(crowdedLine, address)
	}
	return taken
}

func (c *crowd) refused(what, from string) {
	if c.tell != nil {
		c.tell(what, from)
	}
}

func (c *crowd) leave(address string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.from[address]--; c.from[address] <= 0 {
		delete(c.from, address)
	}
}

var errCrowded = errors.New("requests under way take up all the room there is for them")

// place is what one connection takes up.
type place struct {
	conn  net.Conn
	asked func() bool // it is closed no more when the server stops
	crowd *crowd
	from  string

	sent  int64        // since the last answer
	taken atomic.Int64 // of it what the crowd counts
	left  sync.Once
}

// read counts what is sent until an answer begins. Where all connections together
// sent too much, those that send much are closed.
func (p *place) read(b []byte) (int, error) {
	n, err := p.conn.Read(b)
	if n <= 0 {
		return n, err
	}
	p.asked()
	p.sent += int64(n)
	if more := p.sent - bodyFree - p.taken.Load(); more > 0 {
		p.taken.Add(more)
		if p.crowd.sent.Add(more) > p.crowd.bodies {
			p.crowd.refused(heavyLine, p.from)
			return 0, errors.Join(errCrowded, p.close())
		}
	}
	return n, err
}

// write gives up on who takes nothing of the answer for too long.
func (p *place) write(b []byte) (written int, err error) {
	p.sent = 0
	p.giveBack()
	for {
		part := b[written:min(written+takenAtOnce, len(b))]
		if err := p.conn.SetWriteDeadline(time.Now().Add(p.crowd.within)); err != nil {
			return written, err
		}
		n, err := p.conn.Write(part)
		if written += n; err != nil || written == len(b) {
			return written, err
		}
	}
}

func (p *place) giveBack() { p.crowd.sent.Add(-p.taken.Swap(0)) }

func (p *place) close() error {
	p.left.Do(func() {
		p.asked()
		p.giveBack()
		p.crowd.leave(p.from)
	})
	return p.conn.Close()
}
