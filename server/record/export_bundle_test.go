package record

import (
	"archive/zip"
	"bytes"
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestZIPThatUnpacksToTooMuchIsNotReadOn(t *testing.T) {
	var packed bytes.Buffer
	w := zip.NewWriter(&packed)
	for _, name := range []string{"a.bin", "b.bin"} {
		into, err := w.Create(name)
		require.NoError(t, err)
		_, err = into.Write(make([]byte, 1<<20))
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	archive, err := zip.NewReader(bytes.NewReader(packed.Bytes()), int64(packed.Len()))
	require.NoError(t, err)
	left := int64(3 << 19)
	sizes := []int64{}
	for _, file := range archive.File {
		err = unpacked(file, &left, func(content io.Reader) error {
			one, err := GivenFile(file.Name, content)
			sizes = append(sizes, one.Size)
			return err
		})
	}
	require.ErrorContains(t, err, "larger than this program reads")
	require.Equal(t, []int64{1 << 20, 1 << 19}, sizes)
}
