package server

import (
	"fmt"
	"strings"

	"rsc.io/qr"
)

// qrCode is a QR code as a drawing: Size modules a side with the quiet zone,
// Path the dark ones as unit squares.
type qrCode struct {
	Size int
	Path string
}

// quietZone is the blank margin around the code, in modules. Source: ISO/IEC
// 18004, "quiet zone", four modules (from memory).
const quietZone = 4

// qrOf draws text so that a quarter of it may be dirty: a placard hangs at a
// sawmill.
func qrOf(text string) (qrCode, error) {
	code, err := qr.Encode(text, qr.Q)
	if err != nil {
		return qrCode{}, fmt.Errorf("QR code: %w", err)
	}
	var path strings.Builder
	for y := range code.Size {
		for x := range code.Size {
			if code.Black(x, y) {
				fmt.Fprintf(&path, "M%d %dh1v1h-1z", x+quietZone, y+quietZone)
			}
		}
	}
	return qrCode{Size: code.Size + 2*quietZone, Path: path.String()}, nil
}
