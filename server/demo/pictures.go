package demo

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"

	"stillsaw/server"
)

// picture names one of the drawn pictures that stand in for photos.
type picture string

const (
	wayIn1     picture = "way in 1"
	wayIn2     picture = "way in 2"
	coldBin    picture = "bin"
	crackedEnd picture = "cracked bumper"
	newBumper  picture = "new bumper"
	openLatch  picture = "open latch"
	tapedDuct  picture = "taped duct"
	looseWedge picture = "loose splitter"
	tightWedge picture = "tight splitter"
	hoistPlate picture = "plate of the hoist"
	yokeStamp  picture = "stamp of the yoke"
	legTag     picture = "tag of the legs"
	mainPanel  picture = "panel of the disconnects"
	hoistPost  picture = "post of the hoist"
)

// patch is one filled rectangle: left, top, right, bottom, in hundredths of the
// picture, and its colour.
type patch struct {
	x0, y0, x1, y1 int
	fill           color.RGBA
}

func grey(v uint8) color.RGBA { return color.RGBA{v, v, v - v/16, 255} }

// scene is what the picture shows, background first.
func (p picture) scene() []patch {
	yellow, wood, rust, steel := color.RGBA{214, 178, 40, 255}, color.RGBA{156, 118, 74, 255}, color.RGBA{140, 74, 44, 255}, color.RGBA{112, 120, 126, 255}
	floor := []patch{{0, 0, 100, 62, grey(92)}, {0, 62, 100, 100, wood}}
	switch p {
	case wayIn1, wayIn2:
		gate := []patch{{12, 34, 16, 84, yellow}, {84, 34, 88, 84, yellow}, {12, 40, 88, 45, yellow}, {12, 58, 88, 63, yellow}}
		if p == wayIn2 {
			return append(append(floor, gate...), patch{40, 12, 62, 30, grey(236)}, patch{43, 18, 59, 21, rust}, patch{43, 24, 55, 26, grey(40)})
		}
		return append(append(floor, gate...), patch{24, 10, 50, 30, grey(240)}, patch{27, 16, 47, 20, rust})
	case coldBin:
		return append(floor, patch{30, 14, 72, 70, steel}, patch{34, 70, 40, 90, grey(60)}, patch{62, 70, 68, 90, grey(60)}, patch{46, 40, 56, 62, grey(210)})
	case crackedEnd:
		return append(floor, patch{20, 30, 78, 72, rust}, patch{48, 30, 50, 58, grey(20)}, patch{50, 50, 53, 72, grey(20)})
	case newBumper:
		return append(floor, patch{20, 30, 78, 72, grey(50)}, patch{26, 36, 32, 42, steel}, patch{66, 36, 72, 42, steel})
	case openLatch:
		return append(floor, patch{46, 0, 52, 30, steel}, patch{36, 30, 44, 70, steel}, patch{36, 64, 64, 72, steel}, patch{60, 50, 66, 72, steel}, patch{66, 40, 82, 44, rust})
	case tapedDuct:
		return append(floor, patch{0, 24, 100, 50, steel}, patch{44, 22, 58, 52, grey(214)})
	case hoistPlate:
		return []patch{{0, 0, 100, 100, yellow}, {0, 0, 100, 6, grey(60)}, {14, 18, 86, 84, grey(206)}, {17, 21, 20, 25, grey(70)}, {80, 21, 83, 25, grey(70)}, {17, 77, 20, 81, grey(70)}, {80, 77, 83, 81, grey(70)},
			{26, 28, 74, 40, grey(44)}, {26, 48, 62, 53, grey(70)}, {26, 58, 70, 63, grey(70)}, {26, 68, 52, 73, grey(70)}}
	case yokeStamp:
		return append(floor, patch{0, 34, 100, 66, steel}, patch{0, 34, 100, 38, grey(150)}, patch{34, 44, 66, 56, grey(190)}, patch{37, 48, 63, 52, grey(40)})
	case legTag:
		return append(floor, patch{28, 0, 33, 22, steel}, patch{25, 16, 36, 40, steel}, patch{28, 20, 33, 36, wood}, patch{28, 34, 33, 60, steel}, patch{25, 54, 36, 80, steel}, patch{28, 58, 33, 76, wood}, patch{28, 74, 33, 100, steel},
			patch{36, 26, 44, 29, grey(60)}, patch{44, 18, 84, 58, grey(222)}, patch{50, 25, 78, 33, grey(40)}, patch{50, 40, 70, 43, grey(80)}, patch{50, 48, 74, 51, grey(80)})
	case mainPanel: // one handle each: saw, setworks, fan
		panel := append(floor, patch{10, 8, 90, 60, steel}, patch{13, 12, 87, 56, grey(172)})
		for _, x := range []int{20, 44, 68} {
			panel = append(panel, patch{x, 18, x + 13, 50, grey(70)}, patch{x + 5, 22, x + 8, 38, rust}, patch{x + 2, 42, x + 11, 47, grey(236)})
		}
		return panel
	case hoistPost:
		return append(floor, patch{42, 0, 56, 100, wood}, patch{40, 34, 58, 62, grey(64)}, patch{47, 38, 51, 50, rust}, patch{0, 4, 100, 9, steel})
	case looseWedge, tightWedge:
		tilt := 0
		if p == looseWedge {
			tilt = 6
		}
		return append(floor, patch{10, 16, 52, 66, steel}, patch{58 + tilt, 22, 64 + tilt, 70, rust}, patch{56, 66, 70, 74, grey(40)})
	}
	return floor
}

// photo takes the picture, once, and returns its digest. It goes the way of
// every photo: encoded by the phone, prepared and kept by the server.
func (m *mill) photo(p picture) string {
	if m.photos[p] == "" {
		m.do("photo "+string(p), func() error {
			const width, height = 480, 360
			canvas := image.NewRGBA(image.Rect(0, 0, width, height))
			for _, one := range p.scene() {
				at := image.Rect(one.x0*width/100, one.y0*height/100, one.x1*width/100, one.y1*height/100)
				draw.Draw(canvas, at, image.NewUniform(one.fill), image.Point{}, draw.Src)
			}
			var sent bytes.Buffer
			if err := jpeg.Encode(&sent, canvas, nil); err != nil {
				return err
			}
			kept, err := server.Prepare(sent.Bytes())
			if err != nil {
				return err
			}
			m.photos[p], err = m.desk.KeepPhoto(m.ctx, kept, m.clock)
			return err
		})
	}
	return m.photos[p]
}
