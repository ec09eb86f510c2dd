package gear

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
)

// The longest side of a photo that was made smaller, and of its thumbnail, in pixels.
const (
	longestSide  = 1600
	thumbnail    = 160
	smallEnough  = 4_000_000 // pixels of a photo that a thumbnail is made of
	photoQuality = 78
)

// Shrink makes a JPEG of ordinary size out of a photo as a phone takes it, upright, and without what else the phone wrote into it: where it was taken, by what. A fault
// says that it is no photo.
func Shrink(picture []byte) ([]byte, error) {
	if _, err := mediaOf(picture); err != nil {
		return nil, err
	}
	return scaled(picture, longestSide)
}

// scaled is a picture as a JPEG whose longer side has so many pixels at the most.
func scaled(picture []byte, longest int) ([]byte, error) {
	img, _, err := image.Decode(bytes.NewReader(picture))
	if err != nil {
		return nil, notAPhoto
	}
	var b bytes.Buffer
	err = jpeg.Encode(&b, fit(img, longest, orientation(picture)), &jpeg.Options{Quality: photoQuality})
	return b.Bytes(), err
}

// thumbnailOf is a photo made small, in base64; "" of one that is too large to be read while the database waits.
func thumbnailOf(picture []byte) string {
	config, _, err := image.DecodeConfig(bytes.NewReader(picture))
	if err != nil || config.Width*config.Height > smallEnough {
		return ""
	}
	small, err := scaled(picture, thumbnail)
	if err != nil {
		return ""
	}
	return base64.StdEncoding.EncodeToString(small)
}

// fit draws an image upright within a square, each pixel the mean of a few of those that it stands for, on white where it is see-through.
func fit(img image.Image, longest, turned int) *image.RGBA {
	from := img.Bounds()
	w, h := from.Dx(), from.Dy()
	if turned >= 5 { // it lies on its side
		w, h = h, w
	}
	scale := max(1, float64(max(w, h))/float64(longest))
	to := image.NewRGBA(image.Rect(0, 0, max(1, int(float64(w)/scale)), max(1, int(float64(h)/scale))))
	for y := range to.Rect.Dy() {
		for x := range to.Rect.Dx() {
			var r, g, b uint32
			for i := range 4 {
				u, v := (float64(x)+0.25+0.5*float64(i%2))*scale, (float64(y)+0.25+0.5*float64(i/2))*scale
				px, py := upright(int(u), int(v), w, h, turned)
				cr, cg, cb, ca := img.At(from.Min.X+min(px, from.Dx()-1), from.Min.Y+min(py, from.Dy()-1)).RGBA()
				white := 0xffff - ca
				r, g, b = r+cr+white, g+cg+white, b+cb+white
			}
			to.SetRGBA(x, y, color.RGBA{uint8(r >> 10), uint8(g >> 10), uint8(b >> 10), 0xff})
		}
	}
	return to
}

// upright finds the pixel of a picture, held as EXIF numbers it, that belongs at a place of the upright one of a width and height.
func upright(x, y, w, h, turned int) (int, int) {
	switch turned {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return y, w - 1 - x
	case 7:
		return h - 1 - y, w - 1 - x
	case 8:
		return h - 1 - y, x
	}
	return x, y
}

// orientation reads how a JPEG was held (EXIF, tag 0x0112, 1 to 8); 1 where it does not say.
func orientation(picture []byte) int {
	at := bytes.Index(picture[:min(len(picture), 1<<16)], []byte("Exif\x00\x00"))
	if at < 0 || len(picture) < at+14 {
		return 1
	}
	tiff := picture[at+6:]
	var order binary.ByteOrder = binary.LittleEndian
	if string(tiff[:2]) == "MM" {
		order = binary.BigEndian
	}
	first := int64(order.Uint32(tiff[4:]))
	if first+2 > int64(len(tiff)) {
		return 1
	}
	entries := tiff[first:]
	for i := range int(order.Uint16(entries)) {
		entry := entries[min(len(entries), 2+12*i):]
		if len(entry) < 12 {
			return 1
		}
		if order.Uint16(entry) == 0x0112 {
			if held := int(order.Uint16(entry[8:])); held >= 1 && held <= 8 {
				return held
			}
		}
	}
	return 1
}
