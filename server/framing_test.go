package server

import (
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// A message whose end two readers could see at two places is taken by neither
// reading, and what follows it on the line is not taken for a request. RFC 9112
// sections 5.2, 6.1 and 6.3.
func TestAMessageEndsWhereEverybodySeesItEndOrIsRefused(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	to := strings.TrimPrefix(onTheNetwork(t, m.server), "http://")
	stop := func(machine string) string {
		return url.Values{"submission": {store.NewID()}, "equipment": {machine}}.Encode()
	}
	chunks := func(body string) string { return fmt.Sprintf("%x\r\n%s\r\n0\r\n\r\n", len(body), body) }
	const first = "POST /stop-it HTTP/1.1\r\nHost: mill\r\nContent-Type: application/x-www-form-urlencoded\r\n"
	smuggled := func() string {
		body := stop("hoist")
		return first + fmt.Sprintf("Content-Length: %d\r\n\r\n%s", len(body), body)
	}
	// answers are the status lines that come for what is sent, until the line is closed.
	answers := func(sent string) (status []string, closed bool) {
		conn, err := net.Dial("tcp", to)
		require.NoError(t, err)
		defer conn.Close()
		_, err = conn.Write([]byte(sent))
		require.NoError(t, err)
		require.NoError(t, conn.SetReadDeadline(time.Now().Add(20*time.Second)))
		reply, err := io.ReadAll(conn)
		for line := range strings.Lines(string(reply)) {
			if strings.HasPrefix(line, "HTTP/1.") {
				status = append(status, strings.Fields(line)[1])
			}
		}
		return status, !os.IsTimeout(err)
	}
	carriage := stop("carriage")
	length := fmt.Sprintf("Content-Length: %d\r\n", len(carriage))
	for name, sent := range map[string]string{
		"chunked and a length":       first + "Transfer-Encoding: chunked\r\nContent-Length: 5\r\n\r\n" + chunks(carriage),
		"a length and chunked":       first + length + "Transfer-Encoding: chunked\r\n\r\n" + chunks(carriage),
		"a length that hides":        first + "Content-Length: 400\r\nTransfer-Encoding: chunked\r\n\r\n" + chunks(carriage),
		"two lengths":                first + length + "Content-Length: 0\r\n\r\n" + carriage,
		"two lengths the other way":  first + "Content-Length: 0\r\n" + length + "\r\n" + carriage,
		"the same length twice":      first + length + length + "\r\n" + carriage,
		"lengths in a list":          first + "Content-Length: 5, 5\r\n\r\n" + carriage,
		"a length with a sign":       first + fmt.Sprintf("Content-Length: +%d\r\n\r\n", len(carriage)) + carriage,
		"a length below nothing":     first + "Content-Length: -1\r\n\r\n" + carriage,
		"no length":                  first + "Content-Length:\r\n\r\n" + carriage,
		"a length and a blank":       first + "Content-Length : 5\r\n\r\n" + carriage,
		"another coding":             first + "Transfer-Encoding: xchunked\r\n\r\n" + chunks(carriage),
		"a coding behind it":         first + "Transfer-Encoding: chunked, identity\r\n\r\n" + chunks(carriage),
		"identity and a length":      first + "Transfer-Encoding: identity\r\n" + length + "\r\n" + carriage,
		"chunked twice":              first + "Transfer-Encoding: chunked\r\nTransfer-Encoding: identity\r\n\r\n" + chunks(carriage),
		"a folded line":              first + "Transfer-Encoding:\r\n chunked\r\n\r\n" + chunks(carriage),
		"a folded line that is none": first + "X-A: b\r\n Content-Length: 5\r\n" + length + "\r\n" + carriage,
		"chunked in HTTP/1.0":        strings.Replace(first, "1.1", "1.0", 1) + "Connection: keep-alive\r\nTransfer-Encoding: chunked\r\n\r\n" + chunks(carriage),
	} {
		m.storesNothing(func() {
			status, closed := answers(sent + smuggled())
			require.True(t, closed, "%s: the line is closed", name)
			require.Equal(t, []string{"400"}, status, name)
		})
	}
	require.Empty(t, m.everStopped(), "nothing was stopped by any of them")

	for _, sent := range []string{first + length + "\r\n" + carriage, first + "Transfer-Encoding: chunked\r\n\r\n" + chunks(stop("carriage"))} {
		status, _ := answers(sent + strings.Replace(smuggled(), "\r\n", "\r\nConnection: close\r\n", 1))
		require.Equal(t, []string{"303", "303"}, status, "what has one end is taken, and so is what follows")
	}
	require.Equal(t, checklists.Held, m.status("hoist"))
}

// everStopped are the machines somebody stopped.
func (m *testMill) everStopped() (all []string) {
	m.t.Helper()
	defects, err := m.desk().Defects(m.t.Context(), true, 50)
	require.NoError(m.t, err)
	for _, d := range defects {
		all = append(all, string(d.Equipment))
	}
	return all
}
