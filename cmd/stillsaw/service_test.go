package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestServiceIsInstalledWithItsFolderInFull(t *testing.T) {
	dir := t.TempDir()
	for _, flags := range [][]string{{"-data", dir, "-addr", ":80"}, {"-addr", ":80", "--data=" + dir}} {
		config, err := serviceConfig("linux", "install", flags)
		require.NoError(t, err)
		require.Equal(t, flags, config.Arguments, "the unit starts the server itself")
		require.Equal(t, dir, config.WorkingDirectory)
		config, err = serviceConfig("windows", "install", flags)
		require.NoError(t, err)
		require.Equal(t, append([]string{"service", "run"}, flags...), config.Arguments)
	}
	var misread errService
	for _, flags := range [][]string{nil, {"-data", "here"}, {"-data"}, {"data", dir}} {
		_, err := serviceConfig("linux", "install", flags)
		require.ErrorAs(t, err, &misread, "%q", flags)
	}
	callIt(t, "service", "enable").failed(t, exitUsage, `"enable" is none of these`)
	require.Contains(t, callIt(t, "service").out, "stillsaw service install -data DIR")
}

func TestServiceOfWindowsServesUntilItIsStopped(t *testing.T) {
	out := newScreen()
	service := &task{ctx: t.Context(), flags: []string{"-addr", "127.0.0.1:0", "-https", "off", "-data", t.TempDir()}, out: out, errOut: out,
		exit: func(int) { t.Error("it ended by itself") }}
	require.NoError(t, service.Start(nil))
	require.NotEmpty(t, out.address(t))
	require.NoError(t, service.Stop(nil), out.String())

	ended := make(chan int, 1)
	failing := &task{ctx: t.Context(), flags: []string{"-addr", "nowhere"}, out: out, errOut: out, exit: func(status int) { ended <- status }}
	require.NoError(t, failing.Start(nil))
	require.Equal(t, exitWrong, <-ended, "Windows starts it again")
}

// The unit as it is written, read by systemd's own checker where there is one.
func TestUnitIsOneThatSystemdTakes(t *testing.T) {
	analyze, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("no systemd here")
	}
	written := bytes.NewBufferString(unit).String()
	for template, value := range map[string]string{
		"{{Description}}": "Stillsaw", "{{Path | cmdEscape}}": "/bin/true", "{{range Arguments}} {{. | cmd}}{{end}}": " -data /var/lib/stillsaw",
		"{{if UserName}}User={{UserName}}\n{{end}}": "", "{{if WorkingDirectory}}ReadWritePaths={{WorkingDirectory | cmdEscape}}\n{{end}}": "ReadWritePaths=/var/lib/stillsaw\n",
	} {
		require.Contains(t, written, template)
		written = string(bytes.ReplaceAll([]byte(written), []byte(template), []byte(value)))
	}
	require.NotContains(t, written, "{{")
	file := filepath.Join(t.TempDir(), "stillsaw.service")
	require.NoError(t, os.WriteFile(file, []byte(written), 0o600))
	said, err := exec.Command(analyze, "verify", file).CombinedOutput()
	require.NoError(t, err, string(said))
	require.NotContains(t, string(said), "Unknown", string(said))
}
