package server

import (
	"context"
	"crypto/tls"
	"net"
)

// taking is a listener that closes connections on which nothing was asked when over
// ends, and lets nobody take up more of the server than crowd allows. Browsers open
// such spare connections; to fasthttp each is a request under way until its time to
// read is up, so that stopping would wait for them.
type taking struct {
	net.Listener
	over  context.Context
	crowd *crowd
}

func (l taking) Accept() (net.Conn, error) {
	for {
		conn, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := hostOnly(conn.RemoteAddr().String())
		if !l.crowd.enter(from) {
			conn.Close()
			continue
		}
		asked := context.AfterFunc(l.over, func() { conn.Close() })
		at := &place{conn: conn, asked: asked, crowd: l.crowd, from: from}
		if encrypted, ok := conn.(*tls.Conn); ok {
			return &spareTLS{Conn: encrypted, place: at}, nil
		}
		return &spare{Conn: conn, place: at}, nil
	}
}

type spare struct {
	net.Conn
	*place
}

func (c *spare) Read(p []byte) (int, error)  { return c.place.read(p) }
func (c *spare) Write(p []byte) (int, error) { return c.place.write(p) }
func (c *spare) Close() error                { return c.place.close() }

// spareTLS is a type of its own so that fasthttp still sees the connection is
// encrypted. A handshake asks nothing.
type spareTLS struct {
	*tls.Conn
	*place
}

func (c *spareTLS) Read(p []byte) (int, error)  { return c.place.read(p) }
func (c *spareTLS) Write(p []byte) (int, error) { return c.place.write(p) }
func (c *spareTLS) Close() error                { return c.place.close() }
