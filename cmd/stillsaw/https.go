package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"net/url"
	"strings"
	"syscall"
	"time"

	"stillsaw/server/secure"
)

// httpsFlags say how phones come to the server encrypted.
type httpsFlags struct {
	addr    string
	acme    string
	behind  string
	proxies string

	chosen  bool // addr was typed
	trusted []netip.Prefix
	lasts   time.Duration // of a new authority; 0 for as long as is usual
}

const httpsDefault = ":8443"

func (f *httpsFlags) register(flags *flag.FlagSet) {
	flags.StringVar(&f.addr, "https", httpsDefault, "address to answer on encrypted, by the host of -addr where none is named; off for none")
	flags.StringVar(&f.acme, "acme", "", "public name of this mill, such as mill.example.com: certificates for it come from Let's Encrypt, whose terms you accept with it; the router sends its port 443 (or 80) on to that of -https (or -addr)")
	flags.StringVar(&f.behind, "behind", "", "address under which a proxy makes this server known, such as https://mill.example.com; with -db https://*, where * is each mill's own name")
	flags.StringVar(&f.proxies, "proxies", "127.0.0.1,::1", "addresses of the proxy of -behind, or networks such as 10.1.0.0/16")
}

// check reads what was typed; typed tells which flags were.
func (f *httpsFlags) check(typed func(name string) bool) error {
	f.chosen = typed("https")
	f.acme = strings.ToLower(strings.TrimSuffix(f.acme, "."))
	switch {
	case f.acme != "" && f.behind != "":
		return errors.New("-acme and -behind exclude each other: the proxy has the certificate")
	case f.acme != "" && f.addr == "off":
		return errors.New("-acme needs -https")
	case f.behind == "" && typed("proxies"):
		return errors.New("-proxies needs -behind")
	case f.behind == "":
		return nil
	}
	to, err := url.Parse(f.behind)
	if err != nil || to.Scheme != "https" || to.Hostname() == "" || strings.Trim(to.Path, "/") != "" || to.RawQuery != "" || to.Fragment != "" || to.User != nil {
		return fmt.Errorf("-behind %q is not an address such as https://mill.example.com", f.behind)
	}
	f.behind = "https://" + to.Host
	for text := range strings.SplitSeq(f.proxies, ",") {
		text = strings.TrimSpace(text)
		network, err := netip.ParsePrefix(text)
		if addr, single := netip.ParseAddr(text); single == nil {
			network, err = netip.PrefixFrom(addr, addr.BitLen()), nil
		}
		if err != nil {
			return fmt.Errorf("-proxies: %q is neither an address nor a network", text)
		}
		f.trusted = append(f.trusted, network)
	}
	return nil
}

// public is the address everybody may use, "" where there is none.
func (f *httpsFlags) public() string {
	if f.acme != "" {
		return "https://" + f.acme
	}
	return f.behind
}

// on is where to answer, given where the plain server does: by the same host
// where none is named, and on any free port where that has one.
func (f *httpsFlags) on(plain string) string {
	host, port, err := net.SplitHostPort(f.addr)
	if err != nil || host != "" {
		return f.addr
	}
	if plainHost, plainPort, err := net.SplitHostPort(plain); err == nil {
		host = plainHost
		if plainPort == "0" && !f.chosen {
			port = "0"
		}
	}
	return net.JoinHostPort(host, port)
}

// encrypted is what answers encrypted: nothing where that is off or not possible,
// which is said. Only what was asked for by name and can't be had is an error.
func (c call) encrypted(ctx context.Context, keys string, log *slog.Logger) (*secure.Keeper, net.Listener, error) {
	if c.https.addr == "off" {
		return nil, nil, nil
	}
	asked := c.https.chosen || c.https.acme != ""
	keeper, err := secure.Open(secure.Config{Folder: keys, Now: c.now, Here: secure.Here, Log: log, Lasts: c.https.lasts})
	if err == nil && c.https.acme != "" {
		keeper.Public, err = secure.NewPublic(c.https.acme, keys, "")
	}
	if err != nil {
		return nil, nil, c.without(asked, err)
	}
	listener, err := listenOn(ctx, c.https.on(c.addr), "-https")
	if err != nil {
		return nil, nil, c.without(asked, err)
	}
	if keeper.Exposed() {
		fmt.Fprintf(c.out, "Others on this computer may read the key of the mill's certificates. Let only this user read the folder %s; then move https-authority.pem out of it and start again, and install the new certificate on the phones.\n", keys)
	}
	return keeper, listener, nil
}

func (c call) without(asked bool, err error) error {
	if asked {
		return err
	}
	fmt.Fprintf(c.out, "Pages are not encrypted: %s. Everything else goes on.\n", err)
	return nil
}

// listenOn answers on addr, which flag chose.
func listenOn(ctx context.Context, addr, flag string) (net.Listener, error) {
	listener, err := new(net.ListenConfig).Listen(ctx, "tcp", addr)
	switch {
	case err == nil:
		return listener, nil
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, fmt.Errorf("the address %s is taken by another program; stop it, or choose another with %s, such as %s :8091", addr, flag, flag)
	case errors.Is(err, syscall.EACCES):
		return nil, fmt.Errorf("this user may not answer on %s; choose a port above 1024 with %s", addr, flag)
	}
	return nil, fmt.Errorf("can't answer on %s: %w", addr, err)
}
