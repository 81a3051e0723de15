package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"image/png"
	"reflect"
	"testing"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"stillsaw/procedures/plain"
)

// Whatever is sent as a photo is refused with a sentence, or what is kept of it is
// a JPEG of the size it is said to have, no longer than a photo may be and without
// what the camera wrote beside the picture.
func FuzzPhoto(f *testing.F) {
	for _, size := range [][2]int{{1, 1}, {40, 30}, {1700, 2}} {
		im := image.NewGray(image.Rect(0, 0, size[0], size[1]))
		im.Set(0, 0, color.White)
		var a, b, c bytes.Buffer
		require.NoError(f, jpeg.Encode(&a, im, nil))
		require.NoError(f, png.Encode(&b, im))
		require.NoError(f, gif.Encode(&c, im, nil))
		f.Add(a.Bytes())
		f.Add(b.Bytes())
		f.Add(c.Bytes())
		f.Add(a.Bytes()[:a.Len()/2])
		// On its side, by what the camera wrote (Exif 2.32, tag 0x0112).
		f.Add(append([]byte("\xff\xd8\xff\xe1\x00\x22Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00\x00\x00\x00\x00"), a.Bytes()[2:]...))
	}
	f.Add(pngOf(100_000, 100_000, 8))
	f.Add(pngOf(5, 5, 16))
	f.Fuzz(func(t *testing.T, sent []byte) {
		if size, _, err := image.DecodeConfig(bytes.NewReader(sent)); err == nil && size.Width*size.Height > 1_000_000 {
			t.Skip("large ones have their own tests; here they only take time")
		}
		photo, err := Prepare(sent)
		if err != nil {
			var refusal *plain.Refusal
			require.True(t, errors.As(err, &refusal), "%v", err)
			return
		}
		kept, kind, err := image.DecodeConfig(bytes.NewReader(photo.Bytes))
		require.NoError(t, err)
		require.Equal(t, "jpeg", kind)
		require.Equal(t, []int{photo.Width, photo.Height}, []int{kept.Width, kept.Height})
		require.LessOrEqual(t, max(kept.Width, kept.Height), photoEdge)
		require.NotContains(t, string(photo.Bytes), "Exif")
	})
}

// Whatever is sent as the body of an inspection is refused as something a caller
// can mend, or is taken as it was sent; the PIN is never among what is kept.
func FuzzAPIBody(f *testing.F) {
	for _, body := range []string{
		`{"pin":"4711","list":"saw","version":3,"answers":[{"item":"guard","result":"ok"},{"item":"gap","result":"number","number":0.002,"note":"\u2028"}]}`,
		`{"pin":"4711","pin":"4712"}`, `{"PIN":"4711"}`, `{"answers":[{"mend_by":"2026-03-02T14:05:00Z"}]}`, `{"answers":[{"mend_by":"yesterday"}]}`,
		`{"version":1e400}`, `{"version":1.5}`, `{"answers":{}}`, `{"answers":null}`, `{} {}`, `[]`, `null`, ``, `{"pin":`, "\xef\xbb\xbf{}", `{"answers":[[[[[[[[]]]]]]]]}`, `{"nothing":1}`,
	} {
		f.Add([]byte(body))
	}
	app := fiber.New()
	f.Fuzz(func(t *testing.T, sent []byte) {
		var request fasthttp.RequestCtx
		request.Request.Header.SetContentType(fiber.MIMEApplicationJSON)
		request.Request.Header.Set(keyHeader, "01890a5d-ac96-774b-bcce-b302099a8057")
		request.Request.SetBody(sent)
		ctx := app.AcquireCtx(&request)
		defer app.ReleaseCtx(ctx)
		c := &call{visit: &visit{Ctx: ctx}}
		body, err := takeBody[apiInspectionPost](c)
		odd := &call{visit: &visit{Ctx: ctx}}
		byMap, mapErr := takeOdd[apiInspectionPost](odd, sent, shapeOf(reflect.TypeFor[apiInspectionPost]()))
		require.Equal(t, mapErr, err, "by way of a map it is refused alike")
		if err == nil {
			require.Equal(t, byMap, body)
			require.Equal(t, string(odd.sent), string(c.sent))
		}
		if err != nil {
			var bad plain.Problems
			var refused *failure
			require.True(t, errors.As(err, &bad) || errors.As(err, &refused), "%v", err)
			return
		}
		var fields map[string]any
		require.NoError(t, json.Unmarshal(c.sent, &fields))
		require.NotContains(t, fields, "pin")
		again := body
		again.Answers = nil
		require.NoError(t, json.Unmarshal(c.sent, &again))
		require.Equal(t, body, again)
	})
}
