package main

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/kardianos/service"
)

// unit is the systemd unit of the service, a template of package service.
//
//go:embed service/stillsaw.service
var unit string

const serviceUsage = `stillsaw service installs the server as a service of this computer, which starts with it:
a systemd unit on Linux, a service on Windows, a launch daemon on macOS. As administrator:

  stillsaw service install -data DIR [-addr HOST:PORT …]   with the flags the server is to run with; DIR in full
  stillsaw service start | stop | restart | state
  stillsaw service remove                                  the data stays

`

// errService is a call of service that can't be understood.
type errService struct{ error }

// ofService carries out an action on the service; "run" is what the service itself
// is started with.
func ofService(ctx context.Context, args []string, out, errOut io.Writer) int {
	if len(args) == 0 || args[0] == "-h" || args[0] == "-help" || args[0] == "--help" {
		fmt.Fprint(out, serviceUsage)
		return exitOK
	}
	err := actOnService(ctx, args[0], args[1:], out, errOut)
	var misread errService
	switch {
	case err == nil:
		return exitOK
	case errors.As(err, &misread):
		fmt.Fprintf(errOut, "stillsaw: %s; stillsaw service -h explains\n", err)
		return exitUsage
	}
	fmt.Fprintf(errOut, "stillsaw: %s\n", err)
	return exitWrong
}

func actOnService(ctx context.Context, action string, flags []string, out, errOut io.Writer) error {
	task := &task{ctx: ctx, flags: flags, out: out, errOut: errOut, exit: os.Exit}
	config, err := serviceConfig(runtime.GOOS, action, flags)
	if err != nil {
		return err
	}
	s, err := service.New(task, config)
	if err != nil {
		return fmt.Errorf("services can't be installed here: %w", err)
	}
	if action == "run" {
		return s.Run()
	}
	if err := carryOut(s, action, out); err != nil {
		return fmt.Errorf("%s did not go: %w. It takes an administrator and, but for install, a service that is installed", action, err)
	}
	return nil
}

// carryOut does to the service what somebody asked for at the terminal.
func carryOut(s service.Service, action string, out io.Writer) error {
	switch action {
	case "install":
		if err := s.Install(); err != nil {
			return err
		}
		fmt.Fprintln(out, "Installed; it starts with the computer. stillsaw service start starts it now.")
		return nil
	case "remove":
		return s.Uninstall()
	case "state":
		state, err := s.Status()
		if err != nil {
			return err
		}
		fmt.Fprintln(out, map[service.Status]string{service.StatusRunning: "runs", service.StatusStopped: "stopped"}[state])
		return nil
	}
	return service.Control(s, action)
}

// serviceConfig is the service as it is installed on an operating system; only
// Windows speaks to a service otherwise than by starting and ending it. Its folder is named in full,
// since a service starts in a folder and as a user of its own.
func serviceConfig(system, action string, flags []string) (*service.Config, error) {
	config := &service.Config{
		Name: "stillsaw", DisplayName: "Stillsaw", Description: "Stillsaw, the mill's checks, lifts, lockouts and record",
		Arguments: flags,
		Option:    service.KeyValue{"SystemdScript": unit, "RunAtLoad": true, "KeepAlive": true, "OnFailure": "restart", "OnFailureDelayDuration": "2s"},
	}
	if system == "windows" {
		config.Arguments = append([]string{"service", "run"}, flags...)
	}
	switch action {
	case "run", "start", "stop", "restart", "state", "remove":
		return config, nil
	case "install":
	default:
		return nil, errService{fmt.Errorf("a service is installed, removed, started, stopped or restarted; %q is none of these", action)}
	}
	dir := dataOf(flags)
	if !filepath.IsAbs(dir) {
		return nil, errService{errors.New("install needs -data with the folder of the database in full, since a service starts in another folder")}
	}
	config.WorkingDirectory = dir
	return config, nil
}

// dataOf is what stands after -data, "" where it is not named.
func dataOf(flags []string) string {
	for i, flag := range flags {
		name, value, joined := strings.Cut(strings.TrimLeft(flag, "-"), "=")
		switch {
		case name != "data" || !strings.HasPrefix(flag, "-"):
		case joined:
			return value
		case i+1 < len(flags):
			return flags[i+1]
		}
	}
	return ""
}

// task is the server as Windows starts and stops it.
type task struct {
	ctx         context.Context
	flags       []string
	out, errOut io.Writer
	exit        func(status int)

	stop context.CancelFunc
	done chan int
}

// Start begins to serve and returns at once. A server that ends by itself ends the
// process, so that Windows sees it failed and starts it again.
func (t *task) Start(service.Service) error {
	ctx, stop := context.WithCancel(t.ctx)
	t.stop, t.done = stop, make(chan int, 1)
	go func() {
		status := run(ctx, t.flags, t.out, t.errOut)
		if ctx.Err() == nil {
			t.exit(max(status, exitWrong))
		}
		t.done <- status
	}()
	return nil
}

// Stop ends it in order and waits for that.
func (t *task) Stop(service.Service) error {
	t.stop()
	if status := <-t.done; status != exitOK {
		return fmt.Errorf("the server ended with status %d", status)
	}
	return nil
}
