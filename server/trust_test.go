package server

import (
	"crypto/x509"
	"io"
	"net/http"
	"net/netip"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"

	"stillsaw/server/secure"
	"stillsaw/server/store"
)

func TestTheCertificateToInstallIsTheOneThePagesAreSignedUnder(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := overHTTPS(t, m.server)
	reply, der := fetched(t, http.DefaultClient, at.plain+"/trust/stillsaw.crt")
	require.Equal(t, "application/x-x509-ca-cert", reply.Header.Get("Content-Type"))
	root, err := x509.ParseCertificate([]byte(der))
	require.NoError(t, err)
	pool := x509.NewCertPool()
	pool.AddCert(root)
	_, front := fetched(t, clientThatTrusts(t, pool), at.https+"/")
	require.Contains(t, front, "HELD")

	_, pem := fetched(t, http.DefaultClient, at.plain+"/trust/stillsaw.pem")
	pool = x509.NewCertPool()
	require.True(t, pool.AppendCertsFromPEM([]byte(pem)))

	_, page := fetched(t, http.DefaultClient, at.plain+"/trust")
	for row := range strings.SplitSeq(strings.Join(trustPage{Print: secure.Fingerprint(root)}.Rows(), "\n"), "\n") {
		require.Contains(t, page, row)
	}
}

func TestOpenSSLReachesTheServerWithTheCertificateInstalled(t *testing.T) {
	openssl, err := exec.LookPath("openssl")
	if err != nil {
		t.Skip("no openssl on this machine")
	}
	m := newMill(t)
	at := overHTTPS(t, m.server)
	said, err := exec.CommandContext(t.Context(), openssl, "s_client", "-connect", strings.TrimPrefix(at.https, "https://"), "-verify_return_error", "-verify_hostname", "localhost", "-CAfile", at.rootFile(t)).CombinedOutput()
	require.NoError(t, err, string(said))
	require.Contains(t, string(said), "Verify return code: 0 (ok)")
}

func TestThePlainPageSaysHowToComeToTheEncryptedOneAndThatOneDoesNot(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := overHTTPS(t, m.server)
	for path, to := range map[string]string{"/": `href="/trust"`, "/sign-in": `href="/trust?at=/sign-in"`} {
		_, plain := fetched(t, http.DefaultClient, at.plain+path)
		require.Contains(t, plain, to)
		_, encrypted := fetched(t, at.client, at.https+path)
		require.NotContains(t, encrypted, `href="/trust`)
	}
	_, page := fetched(t, http.DefaultClient, at.plain+"/trust?at=/due")
	require.Contains(t, page, strings.Replace(at.https, "localhost", "127.0.0.1", 1)+"/due", "by the host the phone came to")
	_, page = fetched(t, http.DefaultClient, at.plain+"/trust?at=https://evil.example/")
	require.NotContains(t, page, "evil.example")
	_, page = fetched(t, at.client, at.https+"/trust")
	require.Contains(t, page, "This page is encrypted")
}

func TestTheWayToTrustIsThereBeforeAMillIs(t *testing.T) {
	s, _, _ := newServer(t, "WREN-4821")
	at := overHTTPS(t, s)
	_, page := fetched(t, http.DefaultClient, at.plain+"/trust")
	require.Contains(t, page, "stillsaw.crt")
	_, page = fetched(t, http.DefaultClient, at.plain+"/set-up")
	require.Contains(t, page, "/trust?at=/set-up")
}

func TestWithoutHTTPSThePageSaysSo(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.phone().get("/trust").says(t, "switched off", "-https off")
	require.Equal(t, http.StatusNotFound, m.phone().get("/trust/stillsaw.crt").Status)
	require.NotContains(t, m.phone().get("/").Body, "/trust")
}

// One browser has installed nothing, the other trusts the issuer.
func TestAPhoneIsOfferedTheEncryptedPageOnlyWhereItTrustsIt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := overHTTPS(t, m.server)
	stranger := newBrowser(t, at.plain, true)
	stranger.open("/trust")
	stranger.within("the answer", chromedp.WaitVisible(`#trusts [data-when=no]`))
	require.NotContains(t, stranger.text(), "Go on encrypted")
	stranger.shot("trust-not-yet")

	trusts := newBrowser(t, at.plain, true, at.flags...)
	trusts.open("/trust?at=/sign-in")
	trusts.within("the answer", chromedp.WaitVisible(`#trusts [data-when=yes]`))
	trusts.shot("trust-yes")
	trusts.press(`#trusts [data-when=yes] a`)
	require.Equal(t, strings.Replace(at.https, "localhost", "127.0.0.1", 1)+"/sign-in", trusts.where())
	trusts.within("the same page encrypted", chromedp.Navigate(at.https+"/trust"), chromedp.WaitReady("main"))
	trusts.shot("trust-encrypted")
}

// A browser lets no plain page replace a Secure cookie, so the two have names of
// their own and both sign-ins hold side by side.
func TestSignInOnEitherPageLeavesTheOtherAlone(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := overHTTPS(t, m.server)
	b := newBrowser(t, strings.Replace(at.https, "localhost", "127.0.0.1", 1), true, at.flags...)
	b.signIn(m, "ada")
	b.url = at.plain
	b.open("/due")
	require.Contains(t, b.where(), "/sign-in", "the encrypted sign-in is not sent in the clear")
	b.signIn(m, "bo")
	b.open("/due")
	require.NotContains(t, b.where(), "/sign-in")
	b.url = strings.Replace(at.https, "localhost", "127.0.0.1", 1)
	b.open("/due")
	require.NotContains(t, b.where(), "/sign-in")
}

func TestCookieIsSecureOverHTTPSAndNothingAsksForItForGood(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := overHTTPS(t, m.server)
	form := strings.NewReader("person=" + string(m.people["ada"].ID) + "&pin=" + testSecrets["ada"])
	at.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	reply, err := at.client.Post(at.https+"/sign-in", "application/x-www-form-urlencoded", form)
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	require.Len(t, reply.Cookies(), 1)
	cookie := reply.Cookies()[0]
	require.Equal(t, "__Host-stillsaw", cookie.Name)
	require.True(t, cookie.Secure && cookie.HttpOnly)
	require.Empty(t, cookie.Domain)
	require.Empty(t, reply.Header.Get("Strict-Transport-Security"), "it would shut the plain page, where the certificate is got")
}

func TestEventsComeOverBoth(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := overHTTPS(t, m.server)
	for base, client := range map[string]*http.Client{at.plain: http.DefaultClient, at.https: at.client} {
		reply, err := client.Get(base + "/events")
		require.NoError(t, err)
		said := make([]byte, len("retry: 2000\nevent: here\ndata: -1\n\nevent: moved\n"))
		_, err = io.ReadFull(reply.Body, said)
		require.NoError(t, err)
		require.Regexp(t, `^retry: [1-3]\d{3}\nevent: here\ndata: -1\n\nevent: moved\n$`, string(said))
		require.NoError(t, reply.Body.Close())
	}
}

func aProcedure(t *testing.T, m *testMill) string {
	t.Helper()
	published, err := m.desk().InForce(t.Context(), store.Procedures)
	require.NoError(t, err)
	require.NotEmpty(t, published)
	return published[0].ID
}

// An address that is given on is the plain one, which every phone opens.
func TestAPlacardsCodeOpensOnAPhoneThatInstalledNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := overHTTPS(t, m.server)
	at.signIn(t, m, "ada")
	_, page := fetched(t, at.client, at.https+"/procedures/"+aProcedure(t, m)+"/placard")
	_, port, _ := strings.Cut(at.plain, "127.0.0.1:")
	require.Contains(t, page, "http://localhost:"+port+"/procedures/")
	m.server.ways.public = "https://mill.example.com"
	_, page = fetched(t, at.client, at.https+"/procedures/"+aProcedure(t, m)+"/placard")
	require.Contains(t, page, "https://mill.example.com/procedures/")
}

func TestAPublicNameIsKeptTo(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	keeper, err := secure.Open(secure.Config{Folder: t.TempDir(), Now: time.Now, Here: func() secure.Place { return secure.Place{} }, Log: m.server.log})
	require.NoError(t, err)
	keeper.Public, err = secure.NewPublic("mill.example.com", t.TempDir(), "http://127.0.0.1:1/")
	require.NoError(t, err)
	s, err := New(Config{Store: m.store, Now: m.clock.Now, Log: m.server.log, pages: testPages(), Secure: keeper, Public: "https://mill.example.com"})
	require.NoError(t, err)
	base := onTheNetwork(t, s)
	ask := func(host, path string) *http.Response {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, base+path, nil)
		require.NoError(t, err)
		request.Host = host
		client := &http.Client{Timeout: 20 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		reply, err := client.Do(request)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		return reply
	}
	reply := ask("mill.example.com:8090", "/due?x=1")
	require.Equal(t, http.StatusPermanentRedirect, reply.StatusCode)
	require.Equal(t, "https://mill.example.com/due?x=1", reply.Header.Get("Location"))
	require.Equal(t, http.StatusOK, ask("192.168.1.20:8090", "/").StatusCode, "the mill's own network goes on")
	require.Equal(t, http.StatusNotFound, ask("mill.example.com", "/.well-known/acme-challenge/x").StatusCode, "the authority asks there, in the clear")
}

func TestBehindAProxyOnlyTheProxyIsBelieved(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	app, err := New(Config{Store: m.store, Now: m.clock.Now, Log: m.server.log, pages: testPages(), Public: "https://mill.example.com", Proxies: []netip.Prefix{netip.MustParsePrefix("127.0.0.1/32")}})
	require.NoError(t, err)
	believed := onTheNetwork(t, app)
	bare, err := New(Config{Store: m.store, Now: m.clock.Now, Log: m.server.log, pages: testPages()})
	require.NoError(t, err)
	unbelieved := onTheNetwork(t, bare)
	for base, name := range map[string]string{believed: "__Host-stillsaw", unbelieved: "stillsaw"} {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, base+"/sign-in", strings.NewReader("person="+string(m.people["ada"].ID)+"&pin="+testSecrets["ada"]))
		require.NoError(t, err)
		request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		request.Header.Set("X-Forwarded-Proto", "https")
		request.Header.Set("Origin", "https://mill.example.com")
		if base == unbelieved {
			request.Header.Del("Origin")
		}
		client := &http.Client{Timeout: 20 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		reply, err := client.Do(request)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		require.Len(t, reply.Cookies(), 1)
		require.Equal(t, name, reply.Cookies()[0].Name)
		require.Equal(t, name == "__Host-stillsaw", reply.Cookies()[0].Secure)
	}
}

func TestThePhonesAddressIsTheLastTheProxySaw(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.server.ways.proxies = []netip.Prefix{netip.MustParsePrefix("0.0.0.0/32"), netip.MustParsePrefix("10.1.0.0/16")} // app.Test comes from 0.0.0.0
	app := fiber.New()
	app.Get("/", func(c *fiber.Ctx) error { return c.SendString((&visit{Ctx: c, s: m.server}).IP()) })
	for said, want := range map[string]string{
		"": "0.0.0.0", "203.0.113.7": "203.0.113.7", "6.6.6.6, 203.0.113.7": "203.0.113.7", "203.0.113.7, 10.1.0.9": "203.0.113.7",
		"203.0.113.7, what": "0.0.0.0", "10.1.0.9": "10.1.0.9",
	} {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "/", nil)
		require.NoError(t, err)
		request.Header.Set("X-Forwarded-For", said)
		reply, err := app.Test(request)
		require.NoError(t, err)
		body, err := io.ReadAll(reply.Body)
		require.NoError(t, err)
		require.Equal(t, want, string(body), said)
	}
	m.server.ways.proxies = nil
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "/", nil)
	require.NoError(t, err)
	request.Header.Set("X-Forwarded-For", "6.6.6.6")
	reply, err := app.Test(request)
	require.NoError(t, err)
	body, err := io.ReadAll(reply.Body)
	require.NoError(t, err)
	require.Equal(t, "0.0.0.0", string(body), "nobody is believed at a mill without a proxy")
}
