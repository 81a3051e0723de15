package server

import (
	"errors"
	"math"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// markedPhoto is a photo of a device's place with the point marked, in the
// photo's own pixels.
type markedPhoto struct {
	Address, Label string
	Width, Height  int
	Number         int
	Marked         bool
	X, Y, R        int // of the ring
	NX, NY, NR     int // of the disc with the number
}

// marked is d's photo with its point, nil when there is none or it isn't kept.
func (v *visit) marked(d procedures.Device) (*markedPhoto, error) {
	if d.Photo == "" {
		return nil, nil
	}
	width, height, err := v.desk.PhotoSize(v.ctx(), d.Photo)
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	p := markedPhoto{Address: photoAddress(d.Photo), Label: d.Label, Width: width, Height: height, Number: d.Number}
	p.mark(d.Point)
	return &p, nil
}

// mark puts the ring round the point and the number beside it, where it is
// within the picture.
func (p *markedPhoto) mark(at procedures.Point) {
	p.Marked = at != procedures.Point{}
	p.R = max(1, max(p.Width, p.Height)/14)
	p.X, p.Y = int(math.Round(at.X*float64(p.Width))), int(math.Round(at.Y*float64(p.Height)))
	p.NR = p.R * 2 / 3
	p.NX, p.NY = p.X+p.R, p.Y-p.R
	if p.NX > p.Width-p.NR {
		p.NX = p.X - p.R
	}
	if p.NY < p.NR {
		p.NY = p.Y + p.R
	}
}
