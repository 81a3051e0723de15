package bench

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"stillsaw/server/store"
)

// pace is what came of a while of load.
type pace struct {
	rate     float64 // acts a second
	p50, p99 time.Duration
	cpu      time.Duration // of this process, phones and all, for each act
}

func (p pace) String() string {
	return fmt.Sprintf("%.0f/s p50 %s p99 %s cpu %s", p.rate, p.p50.Round(time.Microsecond), p.p99.Round(time.Microsecond), p.cpu.Round(time.Microsecond))
}

// load has that many phones do act one after the other for a while, each with one
// request under way.
func load(t testing.TB, phones int, lasts time.Duration, act func(phone int) error) pace {
	t.Helper()
	took := make([][]time.Duration, phones)
	failed := make([]error, phones)
	began, worked := time.Now(), cpu()
	var group sync.WaitGroup
	for i := range phones {
		group.Go(func() {
			for last := began; last.Sub(began) < lasts; {
				if failed[i] = act(i); failed[i] != nil {
					return
				}
				now := time.Now()
				took[i], last = append(took[i], now.Sub(last)), now
			}
		})
	}
	group.Wait()
	all, worked := time.Since(began), cpu()-worked
	for _, err := range failed {
		require.NoError(t, err)
	}
	each := slices.Sorted(slices.Values(slices.Concat(took...)))
	return pace{float64(len(each)) / all.Seconds(), each[len(each)/2], each[len(each)*99/100], worked / time.Duration(len(each))}
}

// caller is a phone's side of a connection that stays open.
func caller(address string) *fasthttp.HostClient {
	return &fasthttp.HostClient{Addr: address, MaxConns: 128, NoDefaultUserAgentHeader: true}
}

// post sends body and wants that status.
func post(c *fasthttp.HostClient, path, contentType, token string, body []byte, want int) error {
	request, reply := fasthttp.AcquireRequest(), fasthttp.AcquireResponse()
	defer fasthttp.ReleaseRequest(request)
	defer fasthttp.ReleaseResponse(reply)
	request.SetRequestURI("http://" + c.Addr + path)
	request.Header.SetMethod(fasthttp.MethodPost)
	request.Header.SetContentType(contentType)
	request.Header.Set("Authorization", "Bearer "+token)
	request.Header.Set("Idempotency-Key", store.NewID())
	request.SetBody(body)
	if err := c.Do(request, reply); err != nil {
		return err
	}
	if reply.StatusCode() != want {
		return fmt.Errorf("%s: status %d: %.300s", path, reply.StatusCode(), reply.Body())
	}
	return nil
}

// postForm sends a form and wants to be led on.
func postForm(c *fasthttp.HostClient, path, cookie, body string) error {
	_, err := sendForm(c, path, cookie, body)
	return err
}

func sendForm(c *fasthttp.HostClient, path, cookie, body string) (cookieSet string, err error) {
	request, reply := fasthttp.AcquireRequest(), fasthttp.AcquireResponse()
	defer fasthttp.ReleaseRequest(request)
	defer fasthttp.ReleaseResponse(reply)
	request.SetRequestURI("http://" + c.Addr + path)
	request.Header.SetMethod(fasthttp.MethodPost)
	request.Header.SetContentType("application/x-www-form-urlencoded")
	request.Header.Set("Cookie", cookie)
	request.SetBodyString(body)
	if err := c.Do(request, reply); err != nil {
		return "", err
	}
	if reply.StatusCode() != fasthttp.StatusSeeOther {
		return "", fmt.Errorf("%s: status %d: %.300s", path, reply.StatusCode(), reply.Body())
	}
	reply.Header.VisitAllCookie(func(_, value []byte) { cookieSet, _, _ = strings.Cut(string(value), ";") })
	return cookieSet, nil
}

// signIn signs the person of a phone in and returns the cookie.
func signIn(t testing.TB, c *fasthttp.HostClient, phone int) string {
	t.Helper()
	cookie, err := sendForm(c, "/sign-in", "", "person="+string(person(phone))+"&pin="+pin)
	require.NoError(t, err)
	require.NotEmpty(t, cookie)
	return cookie
}

// signOff is a whole check in one request: thirty answers and the PIN.
func signOff() []byte {
	type answer struct {
		Item   string   `json:"item"`
		Result string   `json:"result,omitempty"`
		Number *float64 `json:"number,omitempty"`
	}
	var answers []answer
	for _, item := range thirty().Items {
		a := answer{Item: string(item.ID), Result: "ok"}
		if item.Limits.Unit != "" {
			n := 12.5
			a.Result, a.Number = "", &n
		}
		answers = append(answers, a)
	}
	body, err := json.Marshal(map[string]any{"pin": pin, "list": listID, "version": 1, "answers": answers})
	if err != nil {
		panic(err)
	}
	return body
}
