package secure

import (
	"bufio"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
)

// Listen speaks TLS on what listener takes in. A browser that was told only host
// and port tries plain HTTP first; it is sent on to the same address under https.
func Listen(listener net.Listener, config *tls.Config) net.Listener {
	return tls.NewListener(sending{listener}, config)
}

type sending struct{ net.Listener }

func (l sending) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return &greeted{Conn: conn, in: bufio.NewReader(conn)}, nil
}

// greeted looks at the first byte of a connection.
type greeted struct {
	net.Conn
	in     *bufio.Reader
	looked bool
}

// handshakeRecord is the first byte of every TLS connection. Source: RFC 8446
// section 5.1, ContentType handshake(22).
const handshakeRecord = 22

var errPlain = errors.New("a plain request on the port for TLS")

func (c *greeted) Read(p []byte) (int, error) {
	if !c.looked {
		c.looked = true
		first, err := c.in.Peek(1)
		if err != nil {
			return 0, err
		}
		if first[0] != handshakeRecord {
			return 0, c.sendOn()
		}
	}
	return c.in.Read(p)
}

// sendOn answers a plain request with where it should have gone.
func (c *greeted) sendOn() error {
	request, err := http.ReadRequest(c.in)
	if err != nil || request.Host == "" || strings.ContainsAny(request.Host, "/\\@?#\r\n") {
		return errPlain
	}
	_, err = fmt.Fprintf(c.Conn, "HTTP/1.1 307 Temporary Redirect\r\nLocation: https://%s%s\r\nContent-Length: 0\r\nConnection: close\r\n\r\n", request.Host, request.URL.RequestURI())
	return errors.Join(errPlain, err)
}
