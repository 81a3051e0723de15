package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

// Exit statuses: done, something is not as it should be, and a call that can't
// be understood.
const (
	exitOK    = 0
	exitWrong = 1
	exitUsage = 2
)

const usage = `Stillsaw: pre-shift checks, lift checks, lockout and the record of a small sawmill.

  stillsaw [-addr HOST:PORT] [-https HOST:PORT] [-data DIR]   run the mill's server, plain and encrypted
  stillsaw -acme NAME | -behind https://NAME        the same where there is a public name, or a proxy
  stillsaw demo [-addr HOST:PORT]                   run an invented mill, in a folder of its own
  stillsaw demo -years N -data DIR [-make-only]     make a mill of three shifts with N years behind it, to try a long record out
  stillsaw backup [-data DIR] [FILE]                write a checked copy, also while the server runs; without FILE to the places set up on the page Backups
  stillsaw restore FROM [-to DIR] [-at TIME] [-identity FILE] [-lose WHAT] [-list]   put a backup back, from a folder of backups, an S3 address or a file
  stillsaw verify [-data DIR]                       recompute the record; status 0 clean, 1 not
  stillsaw verify -checkpoint FILE [-data DIR]      the same, and held against checkpoints kept elsewhere
  stillsaw verify -rebuild [-data DIR]              the same, and every table made again from the record and compared
  stillsaw verify [-key KEY] [-checkpoint FILE] EXPORT...   check an export without its database; status 0 sound, 1 altered, 2 can't be checked
  stillsaw verify -page FILE                        write the page that checks an export in a browser
  stillsaw new-pin [-data DIR] NAME                 give somebody a new PIN or password, at this computer
  stillsaw diagnose [-data DIR] FILE.zip            what somebody who helps you needs to know, without names, notes or secrets
  stillsaw -db postgres://USER@HOST/NAME            answer for many mills in a database of a PostgreSQL server, each under its own name
  stillsaw mills list | add HOST | verify HOST | move-in DIR HOST | move-out HOST DIR | rename HOST NEW | remove HOST ROOT | reader NAME | readers   look after the mills there
  stillsaw service install|start|stop|state|remove ...      run it as a service of this computer, started with it
  stillsaw lift -shape SHAPE -length LENGTH ...     what a piece weighs and whether a rig may lift it; status 0 GO, 1 NO-GO, 2 bad input

`

// run is the whole program: it says what it does on out, what went wrong on
// errOut in one line, and returns the exit status. It ends when ctx does.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	name, rest := "serve", args
	if len(args) > 0 && args[0] != "" && args[0][0] != '-' {
		name, rest = args[0], args[1:]
	}
	if name == "service" {
		return ofService(ctx, rest, out, errOut)
	}
	commands := map[string]func(context.Context, call) error{
		"serve": serve, "demo": demonstrate, "backup": backUp, "restore": restore, "verify": verify, "new-pin": newPIN, "lift": checkLift, "diagnose": diagnose, "mills": millsOf,
	}
	command, ok := commands[name]
	if !ok {
		fmt.Fprintf(errOut, "stillsaw: there is no command %q; stillsaw -h lists them\n", name)
		return exitUsage
	}
	c := call{out: out, now: time.Now}
	flags := flag.NewFlagSet("stillsaw "+name, flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	if name == "serve" || name == "demo" {
		flags.StringVar(&c.addr, "addr", ":8090", "address to answer on")
		c.https.register(flags)
		c.watch.register(flags)
	}
	switch name {
	case "demo":
		c.years.register(flags)
	case "lift":
		c.lift.register(flags)
	default:
		flags.StringVar(&c.data, "data", defaultData(), "folder of the database")
	}
	if name == "serve" || name == "mills" {
		c.shared.register(flags, name == "serve")
	}
	if name == "restore" {
		c.restore.register(flags)
	}
	if name == "diagnose" {
		flags.StringVar(&c.watch.file, "log-file", "", "file of the log, whose end is put in too")
	}
	if name == "verify" {
		c.rebuild.register(flags)
		c.files.register(flags)
	}
	err := flags.Parse(rest)
	if errors.Is(err, flag.ErrHelp) {
		explained := usage
		switch name {
		case "lift":
			explained = liftUsage
		case "mills":
			explained = millsUsage
		}
		fmt.Fprint(out, explained)
		flags.SetOutput(out)
		flags.PrintDefaults()
		return exitOK
	}
	c.args = flags.Args()
	if name == "restore" && err == nil && len(c.args) > 1 { // FROM may come first
		err = flags.Parse(c.args[1:])
		c.args = append(c.args[:1], flags.Args()...)
	}
	if err == nil {
		err = c.https.check(func(name string) bool {
			typed := false
			flags.Visit(func(f *flag.Flag) { typed = typed || f.Name == name })
			return typed
		})
	}
	if err == nil && c.shared.db != "" && name == "serve" && (c.https.chosen || c.https.acme != "") {
		err = errors.New("with -db the proxy in front encrypts: give -behind 'https://*' in place of -https and -acme")
	}
	if err == nil {
		err = c.expects(name)
	}
	if err != nil {
		fmt.Fprintf(errOut, "stillsaw: %s; stillsaw -h explains\n", err)
		return exitUsage
	}
	return c.ended(command(ctx, c), errOut)
}

// ended is the exit status for what a command came to, and its line of error.
func (c call) ended(err error, errOut io.Writer) int {
	var bad badInput
	var cant errCant
	switch {
	case err == nil:
		return exitOK
	case errors.As(err, &cant):
		fmt.Fprintf(errOut, "stillsaw: %s\n", err)
		return exitUsage
	case errors.Is(err, errNotClean), errors.Is(err, errNoGo):
		return exitWrong
	case errors.As(err, &bad):
		fmt.Fprintf(errOut, "stillsaw: %s; stillsaw lift -h explains\n", err)
		return exitUsage
	}
	fmt.Fprintf(errOut, "stillsaw: %s\n", err)
	return exitWrong
}

// call is one call of a command with its flags read.
type call struct {
	addr, data string
	https      httpsFlags
	watch      watchFlags
	lift       liftFlags
	years      yearsFlags
	rebuild    rebuildFlags
	files      fileFlags
	restore    restoreFlags
	shared     sharedFlags
	args       []string
	out        io.Writer
	now        func() time.Time
}

func (c call) expects(name string) error {
	if err := errors.Join(c.years.check(), c.watch.check()); err != nil {
		return err
	}
	want := map[string]string{"restore": "FROM", "new-pin": "NAME", "diagnose": "FILE.zip"}[name]
	switch {
	case name == "verify" && !c.rebuild.asked:
		return c.files.check(c.args)
	case name == "backup" && len(c.args) < 2, name == "mills":
		return nil
	case want == "" && len(c.args) > 0:
		return fmt.Errorf("%q is one word too many", c.args[0])
	case want != "" && len(c.args) != 1:
		return fmt.Errorf("%s needs one %s", name, want)
	}
	return nil
}

// defaultData is where a mill PC keeps a program's own data.
func defaultData() string {
	if dir, err := os.UserConfigDir(); err == nil {
		return filepath.Join(dir, "stillsaw")
	}
	return "stillsaw-data"
}
