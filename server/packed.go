package server

import (
	"bytes"
	"io"
	"runtime"
	"slices"
	"strings"
	"sync"

	"github.com/andybalholm/brotli"
	"github.com/gofiber/fiber/v2"
	"github.com/klauspost/compress/gzip"

	"stillsaw/views"
)

// How hard answers made for one request are packed. A check of 50 items, 68 KB,
// takes about a millisecond at the quick levels; brotli's hard level takes thirty
// for a tenth less, which is what a phone with one bar of signal waits longer for
// that tenth. So only as many at a time are packed hard as leave half of the
// computer free, and none that is long.
const (
	brotliQuick = 6
	brotliHard  = 10
	gzipLevel   = 7
	packFrom    = 512 // shorter ones fit one packet anyhow
	hardUpTo    = 128 << 10
	hardWindow  = 18 // of 256 KB; the memory a hard packer takes is eight times that
)

// packers keep what packing needs, up to two megabytes each, from one answer to
// the next.
type packers struct {
	quick, hard, gzip sync.Pool
	hardOnes          chan struct{} // as long as there is room, one more may be packed hard
}

// packer is a compressor that can be used anew.
type packer interface {
	io.WriteCloser
	Reset(io.Writer)
}

func newPackers() *packers {
	return &packers{
		hardOnes: make(chan struct{}, max(1, runtime.NumCPU()/2)),
		quick:    sync.Pool{New: func() any { return brotli.NewWriterLevel(nil, brotliQuick) }},
		hard: sync.Pool{New: func() any {
			return brotli.NewWriterOptions(nil, brotli.WriterOptions{Quality: brotliHard, LGWin: hardWindow})
		}},
		gzip: sync.Pool{New: func() any {
			w, _ := gzip.NewWriterLevel(nil, gzipLevel) // the level is one there is
			return w
		}},
	}
}

// pack sends text in the best encoding the browser takes: pages, error pages, and
// what else is words. Streams go as they are, and so does what has been packed or
// is packed by its nature. A length tells a listener on the network nothing he
// could work with: no page holds a secret beside what its address or form brought
// (the attack known as BREACH), for PINs are never shown and a form carries none.
func (s *Server) pack(c *fiber.Ctx) error {
	if err := c.Next(); err != nil {
		if err := s.fail(c, err); err != nil {
			return err
		}
	}
	reply := c.Response()
	if reply.IsBodyStream() || len(reply.Body()) < packFrom || len(reply.Header.ContentEncoding()) > 0 || !worthPacking(string(reply.Header.ContentType())) {
		return nil
	}
	c.Vary(fiber.HeaderAcceptEncoding)
	encoding := views.BestEncoding(c.Get(fiber.HeaderAcceptEncoding))
	if encoding == "" {
		return nil
	}
	packed, err := s.packers.pack(encoding, reply.Body())
	if err != nil {
		return err
	}
	c.Set(fiber.HeaderContentEncoding, encoding)
	reply.SetBodyRaw(packed)
	return nil
}

func (p *packers) pack(encoding string, body []byte) ([]byte, error) {
	pool := &p.gzip
	if encoding == "br" {
		pool = &p.quick
		if len(body) <= hardUpTo {
			select {
			case p.hardOnes <- struct{}{}:
				defer func() { <-p.hardOnes }()
				pool = &p.hard
			default:
			}
		}
	}
	var out bytes.Buffer
	w := pool.Get().(packer)
	defer pool.Put(w)
	w.Reset(&out)
	if _, err := w.Write(body); err != nil {
		return nil, err
	}
	err := w.Close()
	return out.Bytes(), err
}

// worthPacking tells whether a content type is words: pictures, PDFs and ZIPs
// are packed already.
func worthPacking(contentType string) bool {
	kind, _, _ := strings.Cut(contentType, ";")
	return strings.HasPrefix(kind, "text/") && kind != "text/event-stream" ||
		slices.Contains([]string{"application/json", "application/manifest+json", "application/schema+json", "image/svg+xml"}, kind)
}
