package server

import (
	"context"
	"crypto/tls"
	"net"
)

// closingSpares is a listener whose connections are closed when over ends, if
// nothing was asked on them. Browsers open such spare connections; to fasthttp
// each is a request under way until its time to read is up, so that stopping
// would wait for them.
type closingSpares struct {
	net.Listener
	over context.Context
}

func (l closingSpares) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	asked := context.AfterFunc(l.over, func() { conn.Close() })
	if encrypted, ok := conn.(*tls.Conn); ok {
		return &spareTLS{encrypted, asked}, nil
	}
	return &spare{conn, asked}, nil
}

type spare struct {
	net.Conn
	asked func() bool // it is closed no more when over ends
}

func (c *spare) Read(p []byte) (int, error) { return readAsked(c.Conn, c.asked, p) }

func (c *spare) Close() error {
	c.asked()
	return c.Conn.Close()
}

// spareTLS is a type of its own so that fasthttp still sees the connection is
// encrypted. A handshake asks nothing.
type spareTLS struct {
	*tls.Conn
	asked func() bool
}

func (c *spareTLS) Read(p []byte) (int, error) { return readAsked(c.Conn, c.asked, p) }

func (c *spareTLS) Close() error {
	c.asked()
	return c.Conn.Close()
}

func readAsked(conn net.Conn, asked func() bool, p []byte) (int, error) {
	n, err := conn.Read(p)
	if n > 0 {
		asked()
	}
	return n, err
}
