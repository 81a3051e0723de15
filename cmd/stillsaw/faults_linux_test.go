package main

import (
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"syscall"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// smallDisk is a folder on a file system of its own, of size megabytes. Only root
// may make one; who isn't skips the test, and the one of the longest file stands in.
func smallDisk(t *testing.T, megabytes int) string {
	t.Helper()
	dir := t.TempDir()
	err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "mode=700,size="+strconv.Itoa(megabytes)+"m")
	if err != nil {
		t.Skipf("NOT TRIED: no file system can be mounted by this user (%s)", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Errorf("%s stays mounted: %s", dir, err)
		}
	})
	return dir
}

func copied(t *testing.T, dir, to string) {
	t.Helper()
	require.NoError(t, os.CopyFS(to, os.DirFS(dir)))
}

// fill leaves no byte free in dir until the file it names is removed.
func fill(t *testing.T, dir string) string {
	t.Helper()
	path := filepath.Join(dir, "somebody-elses")
	file, err := os.Create(path)
	require.NoError(t, err)
	for size := 1 << 20; size > 0; {
		if _, err := file.Write(make([]byte, size)); err != nil {
			require.ErrorIs(t, err, syscall.ENOSPC)
			size /= 2
		}
	}
	require.NoError(t, file.Close())
	return path
}

func TestFaultDiskFull(t *testing.T) {
	if !thorough() {
		t.Skip("in CI; a disk that is full under SQLite is filled in server/store")
	}
	dir := smallDisk(t, 24)
	copied(t, preparedMill(t), dir)
	f := atWork(t, built(t), dir)
	filler := fill(t, dir)
	f.refused()
	f.reads()
	status, page := f.ada.stopped(f.unsure)
	require.GreaterOrEqual(t, status, 500, page)
	require.NoError(t, os.Remove(filler))
	f.recovers()
	f.row("Disk full", "What is to be read is shown. As soon as there is room the same form, sent again, is taken in. No restart.")
}

// A file that may grow no longer, as by a quota: what comes nearest to a full disk
// where no file system can be made.
func TestFaultFileMayNotGrow(t *testing.T) {
	if !thorough() {
		t.Skip("with STILLSAW_LONG=1")
	}
	f := atWork(t, built(t), preparedMill(t))
	log, err := os.Stat(filepath.Join(f.dir, store.FileName+"-wal"))
	require.NoError(t, err)
	limit := func(most uint64) {
		t.Helper()
		to := syscall.Rlimit{Cur: most, Max: ^uint64(0)}
		_, _, errno := syscall.RawSyscall6(syscall.SYS_PRLIMIT64, uintptr(f.p.command.Process.Pid), syscall.RLIMIT_FSIZE, uintptr(unsafe.Pointer(&to)), 0, 0, 0)
		require.Zero(t, errno)
	}
	limit(uint64(log.Size()))
	f.refused()
	f.reads()
	limit(^uint64(0))
	f.recovers()
	f.row("A file may not grow (quota, limit of the process)", "What is to be read is shown. As soon as it may grow the same form, sent again, is taken in. No restart.")
}

// Where nothing can be written the program doesn't begin; what is there can be read
// and checked.
func TestFaultReadOnlyDisk(t *testing.T) {
	if !thorough() {
		t.Skip("with STILLSAW_LONG=1")
	}
	dir := smallDisk(t, 24)
	copied(t, preparedMill(t), dir)
	require.NoError(t, syscall.Mount("", dir, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	said := callIt(t, "-addr", "127.0.0.1:0", "-data", dir)
	said.failed(t, exitWrong, "the data folder "+dir+" can't be written to: read-only file system")
	require.Equal(t, exitOK, callIt(t, "verify", "-rebuild", "-data", dir).status)
	callIt(t, "new-pin", "-data", dir, "Ben Lind").failed(t, exitWrong, "can't be written to")
	require.NoError(t, syscall.Mount("", dir, "", syscall.MS_REMOUNT, ""))
	atWork(t, built(t), dir).whole()
	faultRow(t, "Disk read-only when the program starts", "Nothing: the program doesn't begin.", words(regexp.MustCompile(`folder \S+`).ReplaceAllString(said.err, "folder DIR")),
		"`verify` reads it as it is. Started again once it can be written to.")
}

// peak is the most memory that a process had, and its address space, in bytes.
func peak(t *testing.T, pid int) (resident, space uint64) {
	t.Helper()
	status, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "status"))
	require.NoError(t, err)
	read := func(name string) uint64 {
		found := regexp.MustCompile(name + `:\s+(\d+) kB`).FindSubmatch(status)
		require.NotNil(t, found, string(status))
		n, err := strconv.ParseUint(string(found[1]), 10, 64)
		require.NoError(t, err)
		return n << 10
	}
	return read("VmHWM"), read("VmPeak")
}

// Photos as large as are taken, and every export, within a limit of memory: the
// collector is told of it, and the address space ends not far above.
func TestFaultLittleMemory(t *testing.T) {
	if !thorough() {
		t.Skip("decodes photos of 25 megapixels; with STILLSAW_LONG=1")
	}
	t.Setenv("GOMEMLIMIT", "96MiB")
	f := atWork(t, built(t), preparedMill(t))
	pid := f.p.command.Process.Pid
	before, _ := peak(t, pid)
	photo := bigPhoto(t)
	for range 6 {
		status, page, err := f.describes(photo)
		require.NoError(t, err)
		require.Equal(t, http.StatusSeeOther, status, page)
	}
	for _, path := range []string{"/export.zip", "/export.pdf", "/export.csv", "/export.json"} {
		reply, err := f.ada.http.Get("http://" + f.p.addr + path)
		require.NoError(t, err)
		n, err := io.Copy(io.Discard, reply.Body)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		require.Equal(t, http.StatusOK, reply.StatusCode, path)
		require.Positive(t, n)
	}
	after, space := peak(t, pid)
	t.Logf("GOMEMLIMIT=96MiB: %d MB before, %d MB at most with photos of 25 megapixels and every export (address space %d MB)", before>>20, after>>20, space>>20)
	require.Less(t, after, uint64(256<<20))
	f.works("after")
	f.whole()
	faultRow(t, "Little memory (`GOMEMLIMIT=96MiB`): six photos of 25 megapixels, then every export", "Photos are taken in and exports sent as always.", "Nothing.",
		"None is needed; the process stayed under 256 MB.")
}

// Less memory than a photo takes: the program ends at once, as when it is killed,
// and goes on when it is started again.
func TestFaultTooLittleMemory(t *testing.T) {
	if !thorough() {
		t.Skip("decodes photos of 25 megapixels; with STILLSAW_LONG=1")
	}
	f := atWork(t, built(t), preparedMill(t))
	_, space := peak(t, f.p.command.Process.Pid)
	to := syscall.Rlimit{Cur: space + 16<<20, Max: space + 16<<20}
	const addressSpace = 9 // RLIMIT_AS
	_, _, errno := syscall.RawSyscall6(syscall.SYS_PRLIMIT64, uintptr(f.p.command.Process.Pid), addressSpace, uintptr(unsafe.Pointer(&to)), 0, 0, 0)
	require.Zero(t, errno)
	photo, gone := bigPhoto(t), false
	for range 12 {
		status, page, err := f.describes(photo)
		if gone = err != nil; gone {
			break
		}
		require.Equal(t, http.StatusSeeOther, status, page)
	}
	require.True(t, gone, "the memory was enough")
	require.Error(t, f.p.command.Wait())
	said := regexp.MustCompile(`(?m)^(fatal error|runtime): .*`).FindString(f.p.out.String())
	require.NotEmpty(t, said, f.p.out.String())
	said = regexp.MustCompile(`\d+`).ReplaceAllString(said, "…") // hangs on what was under way
	f.p = start(t, built(t), f.dir)
	f.ada.addr = f.p.addr
	f.works("after")
	f.p.kill(t)
	require.Subset(t, stopsIn(t, f.dir), f.kept[:1])
	require.Len(t, stopsIn(t, f.dir), len(f.kept))
	out, err := exec.CommandContext(t.Context(), built(t), "verify", "-rebuild", "-data", f.dir).CombinedOutput()
	require.NoError(t, err, string(out))
	faultRow(t, "No memory left for the program", "The browser's own words that the server does not answer; what waits on a phone stays there.", "`"+words(said)+"`",
		"The program ends at once. Whatever starts it again (the service file does) finds the record whole; forms sent again are taken in once.")
}
