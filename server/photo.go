package server

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // phones and PCs send both
	"io"
	"mime/multipart"

	"github.com/gofiber/fiber/v2"
	"github.com/kovidgoyal/imaging"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

const (
	photoMost   = 12 << 20   // bytes as sent
	pixelsMost  = 25_000_000 // before anything is decoded: a small file can hold a huge picture
	photoEdge   = 1600       // longer edge as kept, in pixels
	photoDetail = 82         // JPEG quality as kept
)

func (s *Server) photoRoutes() {
	s.get("/photos/:digest", signedIn, s.showPhoto)
}

func (s *Server) showPhoto(v *visit) error {
	photo, err := v.desk.Photo(v.ctx(), v.Params("digest"))
	if errors.Is(err, store.ErrDropped) {
		return v.photoGone(v.Params("digest"))
	}
	if err != nil {
		return err
	}
	v.Set(fiber.HeaderContentType, photo.Type)
	v.Set(fiber.HeaderCacheControl, "private, max-age=31536000, immutable")
	return v.Send(photo.Bytes)
}

// photo keeps the picture sent in field and returns its digest, "" if none was
// chosen. Where the form has a PIN too, that is looked at first: who has to wait
// after wrong ones has no picture decoded either. After a wrong one within the
// free tries the picture is kept, so that it is not asked for again.
func (v *visit) photo(field string) (digest string, problems plain.Problems, err error) {
	form, err := v.MultipartForm()
	if err != nil || len(form.File[field]) == 0 || form.File[field][0].Size == 0 {
		return "", nil, nil // the form was sent without a file
	}
	file := form.File[field][0]
	if file.Size > photoMost {
		problems.Unless(false, field, "a photo of at most %d MB; this one has %d. Take it with a smaller setting", photoMost>>20, file.Size>>20)
		return "", problems, nil
	}
	if signed, err := v.signed(); err != nil {
		return "", nil, err
	} else if signed.waits {
		return "", plain.Problems{{Field: field, Want: plain.Say("the photo once more; it was not looked at: %s", signed.problems[0].Want)}}, nil
	}
	photo, problems, err := v.s.decode(v.ctx(), field, func() ([]byte, error) { return readAll(file) })
	if err != nil || len(problems) > 0 {
		return "", problems, err
	}
	digest, err = v.desk.KeepPhoto(v.ctx(), photo, v.now)
	return digest, nil, err
}

// decode reads and prepares one photo at a time: decoded, a picture may take
// hundreds of times the memory of its file.
func (s *Server) decode(ctx context.Context, field string, read func() ([]byte, error)) (store.Photo, plain.Problems, error) {
	select {
	case s.decoding <- struct{}{}:
	case <-ctx.Done():
		return store.Photo{}, nil, ctx.Err()
	}
	defer func() { <-s.decoding }()
	if err := ctx.Err(); err != nil {
		return store.Photo{}, nil, err // both were ready: who asked is gone
	}
	sent, err := read()
	if err != nil {
		return store.Photo{}, nil, err
	}
	photo, err := Prepare(sent)
	if err != nil {
		var bad plain.Problems
		bad.Add(field, err)
		return store.Photo{}, bad, nil
	}
	return photo, nil, nil
}

func readAll(file *multipart.FileHeader) ([]byte, error) {
	open, err := file.Open()
	if err != nil {
		return nil, err
	}
	content, err := io.ReadAll(io.LimitReader(open, photoMost+1))
	return content, errors.Join(err, open.Close())
}

// Prepare turns what a camera sent into what is kept: upright, at most
// photoEdge long, encoded anew so that place, time and device it carried are gone.
func Prepare(sent []byte) (store.Photo, error) {
	size, kind, err := image.DecodeConfig(bytes.NewReader(sent))
	if err != nil || kind != "jpeg" && kind != "png" {
		return store.Photo{}, plain.Refuse("", "a photo as JPEG or PNG; this file could not be read as one")
	}
	most := pixelsMost
	switch size.ColorModel {
	case color.NRGBA64Model, color.RGBA64Model, color.Gray16Model: // sixteen bits take twice the memory
		most /= 2
	}
	if size.Width <= 0 || size.Height <= 0 || size.Width > most/size.Height {
		return store.Photo{}, plain.Refuse("", "a photo of at most %d megapixels; take it with a smaller setting", most/1_000_000)
	}
	picture, err := imaging.Decode(bytes.NewReader(sent), imaging.AutoOrientation(true))
	if err != nil {
		return store.Photo{}, plain.Refuse("", "a photo as JPEG or PNG; this file is damaged")
	}
	if bounds := picture.Bounds(); bounds.Dx() > photoEdge || bounds.Dy() > photoEdge {
		picture = imaging.Fit(picture, photoEdge, photoEdge, imaging.Lanczos)
	}
	var kept bytes.Buffer
	if err := jpeg.Encode(&kept, picture, &jpeg.Options{Quality: photoDetail}); err != nil {
		return store.Photo{}, err
	}
	return store.Photo{Type: "image/jpeg", Width: picture.Bounds().Dx(), Height: picture.Bounds().Dy(), Bytes: kept.Bytes()}, nil
}
