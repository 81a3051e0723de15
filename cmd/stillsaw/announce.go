package main

import (
	"fmt"
	"net"
	"slices"
	"strings"

	"github.com/mdp/qrterminal/v3"

	"stillsaw/server/secure"
)

// announce prints where the server is to be found and, before set-up, the code.
// The QR code leads to the public address where there is one, otherwise to the
// plain one, which opens on every phone and leads on to the encrypted one.
func (c call) announce(bound net.Addr, keeper *secure.Keeper, encrypted net.Listener, code string) {
	path := ""
	if code != "" {
		path = "/set-up"
	}
	port := portOf(bound)
	fmt.Fprintf(c.out, "\nOn this computer:   http://localhost:%s%s\n", port, path)
	phones := phoneAddresses(bound)
	for _, host := range phones {
		fmt.Fprintf(c.out, "On a phone:         http://%s%s\n", net.JoinHostPort(host, port), path)
	}
	if encrypted != nil {
		c.announceEncrypted(keeper, encrypted.Addr(), phones, path)
	}
	public := c.https.public()
	if public != "" {
		fmt.Fprintf(c.out, "Everywhere:         %s%s\n", public, path)
	}
	switch {
	case public != "":
		fmt.Fprintln(c.out, "\nOr point the phone's camera here:")
		qrterminal.GenerateHalfBlock(public+path, qrterminal.L, c.out)
	case len(phones) > 0:
		fmt.Fprintln(c.out, "\nOr point the phone's camera here (it must be on the same network):")
		qrterminal.GenerateHalfBlock("http://"+net.JoinHostPort(phones[0], port)+path, qrterminal.L, c.out)
	default:
		fmt.Fprintln(c.out, "No network for phones was found; with -addr :8090 on a network they are listed here.")
	}
	if encrypted != nil && public == "" {
		c.explainTrust(keeper, port, phones)
	}
	if code != "" {
		fmt.Fprintf(c.out, "\nSet-up code, for the first supervisor: %s\n", code)
	}
	fmt.Fprintln(c.out, "\nOver http phones talk to this computer unencrypted: keep that to the mill's own network. Stop with Ctrl-C.")
}

func (c call) announceEncrypted(keeper *secure.Keeper, bound net.Addr, phones []string, path string) {
	said := false
	for _, host := range phones {
		if keeper.Covers(host) {
			fmt.Fprintf(c.out, "Encrypted:          https://%s%s\n", net.JoinHostPort(host, portOf(bound)), path)
			said = true
		}
	}
	if !said {
		fmt.Fprintf(c.out, "Encrypted:          https://localhost:%s%s\n", portOf(bound), path)
	}
}

// explainTrust tells how a phone comes to trust the mill's certificate, and
// prints what is to be compared with what the phone shows.
func (c call) explainTrust(keeper *secure.Keeper, port string, phones []string) {
	host := "localhost"
	if len(phones) > 0 {
		host = phones[0]
	}
	fmt.Fprintf(c.out, "\nFor the encrypted address a phone installs the mill's certificate once: http://%s/trust\nCompare its SHA-256 fingerprint before you say yes:\n", net.JoinHostPort(host, port))
	for row := range slices.Chunk(strings.Fields(secure.Fingerprint(keeper.Root())), 8) {
		fmt.Fprintf(c.out, "  %s\n", strings.Join(row, " ")) // as the page has it
	}
	if c.https.lasts != 0 {
		fmt.Fprintf(c.out, "It is the demo's own and good for %d days; each demo has another. Take it off the phone afterwards.\n", int(c.https.lasts.Hours()/24))
	}
	if beyond := keeper.Beyond(); len(beyond) > 0 {
		fmt.Fprintf(c.out, "It is not for %s: this computer had not that name or address when it was made. The page says what to do.\n", strings.Join(beyond, ", "))
	}
}

func portOf(bound net.Addr) string {
	if tcp, ok := bound.(*net.TCPAddr); ok {
		return fmt.Sprint(tcp.Port)
	}
	return ""
}

// phoneAddresses are those of this machine that a phone on its network could
// reach, given what the server is bound to.
func phoneAddresses(bound net.Addr) []string {
	tcp, ok := bound.(*net.TCPAddr)
	if !ok || tcp.IP.IsLoopback() {
		return nil
	}
	if !tcp.IP.IsUnspecified() {
		return []string{tcp.IP.String()}
	}
	var found []string
	for _, addr := range secure.Here().Addresses {
		if addr.Is4() {
			found = append(found, addr.String())
		}
	}
	return found
}
