package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"time"

	"gopkg.in/natefinch/lumberjack.v2"
)

// What is kept of a log in a file: it must not fill the disk the record is on.
const (
	logMegabytes = 10 // of one file, before the next is begun
	logFiles     = 5  // older ones that are kept
)

// watchFlags say where a server is watched from and what its log looks like.
type watchFlags struct {
	metrics string
	file    string
	form    string
}

func (f *watchFlags) register(flags *flag.FlagSet) {
	flags.StringVar(&f.metrics, "metrics", "off", "address of its own for /metrics (Prometheus), /healthz and /readyz, such as 127.0.0.1:9090; off for none")
	flags.StringVar(&f.file, "log-file", "", fmt.Sprintf("file for the log instead of the terminal; of %d MB a new one is begun, %d older are kept", logMegabytes, logFiles))
	flags.StringVar(&f.form, "log", "text", "how lines of the log are written, text or json")
}

func (f *watchFlags) check() error {
	if f.form != "" && f.form != "text" && f.form != "json" {
		return fmt.Errorf("-log %q is neither text nor json", f.form)
	}
	return nil
}

// log is where the server writes what went wrong, and what closes it.
func (f *watchFlags) log(out io.Writer) (*slog.Logger, io.Closer) {
	var to io.WriteCloser = leftOpen{out}
	if f.file != "" {
		to = &lumberjack.Logger{Filename: f.file, MaxSize: logMegabytes, MaxBackups: logFiles}
	}
	if f.form == "json" {
		return slog.New(slog.NewJSONHandler(to, nil)), to
	}
	return slog.New(slog.NewTextHandler(to, nil)), to
}

// leftOpen is a terminal, which others write to as well.
type leftOpen struct{ io.Writer }

func (leftOpen) Close() error { return nil }

// watched answers handler at the address of -metrics until stop is called; stop
// does nothing where that is off.
func (f *watchFlags) watched(ctx context.Context, out io.Writer, handler http.Handler) (stop func() error, err error) {
	if f.metrics == "" || f.metrics == "off" {
		return func() error { return nil }, nil
	}
	listener, err := listenOn(ctx, f.metrics, "-metrics")
	if err != nil {
		return nil, err
	}
	server := &http.Server{Handler: handler, ReadTimeout: 10 * time.Second, WriteTimeout: 30 * time.Second, IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	fmt.Fprintf(out, "Watched at:         http://%s/metrics\n", listener.Addr())
	if at, ok := listener.Addr().(*net.TCPAddr); ok && !at.IP.IsLoopback() {
		fmt.Fprintln(out, "Whoever reaches that address may read how much is done here, not what. Keep it to this computer or to the one that watches.")
	}
	return func() error {
		closed := server.Close()
		if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
			closed = errors.Join(closed, err)
		}
		return closed
	}, nil
}
