package main

import (
	"archive/zip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"regexp"
	"runtime"
	"runtime/debug"

	"stillsaw/server"
	"stillsaw/server/store"
)

// logTold is how much of the end of the log goes into what is told.
const logTold = 1 << 20

// programTold is the program and the computer it runs on.
type programTold struct {
	Version string            `json:"version"`
	Go      string            `json:"go"`
	System  string            `json:"system"`
	CPUs    int               `json:"cpus"`
	At      string            `json:"at"`
	Build   map[string]string `json:"build"`
	Modules map[string]string `json:"modules"`
}

// diagnose writes what somebody who helps needs to know to a new file: the
// program, the database's state and sizes, and the end of the log. Names, notes,
// PINs, keys and addresses are not in it.
func diagnose(ctx context.Context, c call) (err error) {
	told, err := store.DiagnoseIn(ctx, c.data)
	if err != nil {
		return err
	}
	file, err := os.OpenFile(c.args[0], os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s is there already; name a new file", c.args[0])
	}
	if err != nil {
		return err
	}
	defer func() {
		err = errors.Join(err, file.Close())
		if err != nil { // half of it would keep the next try from its name
			err = errors.Join(err, os.Remove(c.args[0]))
		}
	}()
	bundle := zip.NewWriter(file)
	for name, what := range map[string]any{"program.json": c.program(), "database.json": told} {
		part, err := bundle.Create(name)
		if err != nil {
			return err
		}
		lines := json.NewEncoder(part)
		lines.SetIndent("", "  ")
		if err := lines.Encode(what); err != nil {
			return err
		}
	}
	if c.watch.file != "" {
		if err := endOfLog(bundle, c.watch.file); err != nil {
			return err
		}
	}
	if err := bundle.Close(); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "%s tells how the program and its database do. There are no names, notes, PINs or keys in it; look into it before you send it.\n", c.args[0])
	return nil
}

func (c call) program() programTold {
	p := programTold{Version: server.Version(), Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH, CPUs: runtime.NumCPU(),
		At: c.now().UTC().Format("2006-01-02T15:04:05Z"), Build: map[string]string{}, Modules: map[string]string{}}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return p
	}
	for _, s := range info.Settings {
		p.Build[s.Key] = s.Value
	}
	for _, m := range info.Deps {
		p.Modules[m.Path] = m.Version
	}
	return p
}

func endOfLog(bundle *zip.Writer, path string) (err error) {
	log, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("the log %s can't be read: %w", path, err)
	}
	defer func() { err = errors.Join(err, log.Close()) }()
	info, err := log.Stat()
	if err != nil {
		return err
	}
	part, err := bundle.Create("log.txt")
	if err != nil {
		return err
	}
	end, err := io.ReadAll(io.NewSectionReader(log, max(info.Size()-logTold, 0), logTold))
	if err != nil {
		return err
	}
	_, err = part.Write(withoutAddresses(end))
	return err
}

// withoutAddresses leaves out of lines of a log from where somebody came: it helps
// at the mill, and is nobody else's business.
func withoutAddresses(lines []byte) []byte {
	return regexp.MustCompile(`(\baddress=|"address":")[^\s"]*`).ReplaceAll(lines, []byte("${1}-"))
}
