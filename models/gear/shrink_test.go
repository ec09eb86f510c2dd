package gear

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"testing"

	"palmero/models"
)

// The eight ways in which EXIF says that a camera was held (tag 0x0112, from memory of the specification): which corner of what is seen the first pixel kept is in.
func TestUpright(t *testing.T) {
	const w, h = 3, 2 // of what is seen
	for held, corner := range map[int][2]int{1: {0, 0}, 2: {w - 1, 0}, 3: {w - 1, h - 1}, 4: {0, h - 1}, 5: {0, 0}, 6: {w - 1, 0}, 7: {w - 1, h - 1}, 8: {0, h - 1}} {
		if x, y := upright(corner[0], corner[1], w, h, held); x != 0 || y != 0 {
			t.Errorf("held %d: the corner %v comes from %d, %d", held, corner, x, y)
		}
	}
}

// What a phone sends becomes a picture of ordinary size; what is none is refused, and nothing of it makes the program stumble.
func TestShrink(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 4000, 1000))
	for y := range 1000 {
		img.SetRGBA(0, y, color.RGBA{255, 0, 0, 255})
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	small, err := Shrink(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if config, err := jpeg.DecodeConfig(bytes.NewReader(small)); err != nil || config.Width != longestSide || config.Height != 400 {
		t.Errorf("%v %+v", err, config)
	}
	for _, none := range [][]byte{nil, []byte("MZ"), []byte("<svg/>"), b.Bytes()[:100], b.Bytes()[:2000]} {
		if _, err := Shrink(none); models.KindOf(err) != models.Invalid {
			t.Errorf("%.20q: %v", none, err)
		}
	}
}

func FuzzOrientation(f *testing.F) {
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x22Exif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00\x12\x01\x03\x00\x01\x00\x00\x00\x06\x00\x00\x00"))
	f.Add([]byte("Exif\x00\x00MM\x00*\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, picture []byte) {
		if held := orientation(picture); held < 1 || held > 8 {
			t.Errorf("held %d", held)
		}
	})
}
