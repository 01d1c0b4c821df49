package plots

import (
	"bytes"
	"compress/lzw"
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"sync"
)

// filmPalette is the fixed palette of GIF animations: what figures are made
// of, each colour in steps toward white and toward ink, since edges are
// smoothed. The last index is transparent: a pixel as before.
var filmPalette = sync.OnceValue(func() []color.RGBA {
	var p []color.RGBA
	seen := map[color.RGBA]bool{}
	add := func(c color.RGBA) {
		if !seen[c] && len(p) < transparentIndex {
			seen[c] = true
			p = append(p, c)
		}
	}
	add(white)
	for i := range 24 {
		v := uint8(255 - math.Round(float64(i)*(255-32)/23))
		add(color.RGBA{v, v, v, 255})
	}
	mix := func(a, b color.RGBA, f float64) color.RGBA {
		m := func(x, y uint8) uint8 { return uint8(math.Round((1-f)*float64(x) + f*float64(y))) }
		return color.RGBA{m(a.R, b.R), m(a.G, b.G), m(a.B, b.B), 255}
	}
	hues := []color.RGBA{vermillion, blue, bluishGreen, orange, reddishPurple, skyBlue, yellow}
	for i := range 20 {
		for _, h := range hues {
			add(mix(h, white, float64(i)/20))
		}
	}
	for i := 1; i < 8; i++ {
		for _, h := range hues {
			add(mix(h, ink, float64(i)/8))
		}
	}
	for _, a := range hues {
		for _, b := range hues {
			if a != b {
				add(mix(a, b, 0.5))
			}
		}
	}
	return p
})

const transparentIndex = 255

// nearest maps colours in 6 bits a channel to the palette.
var nearest = sync.OnceValue(func() *[1 << 18]uint8 {
	p := filmPalette()
	t := new([1 << 18]uint8)
	for i := range t {
		r, g, b := (i>>12&63)*255/63, (i>>6&63)*255/63, (i&63)*255/63
		best := math.MaxInt
		for k, c := range p {
			dr, dg, db := r-int(c.R), g-int(c.G), b-int(c.B)
			if d := 3*dr*dr + 4*dg*dg + 2*db*db; d < best {
				best, t[i] = d, uint8(k)
			}
		}
	}
	return t
})

// WriteGIF writes an animated GIF (GIF89a) that repeats for ever, on white, in
// a fixed palette. The rate is at most 50 frames a second, since delays are
// whole hundredths of a second; they add up to the rate.
func (a *Animation) WriteGIF(ctx context.Context, w io.Writer, size FrameSize) error {
	size.Transparent = false
	z, err := size.complete()
	if err != nil {
		return err
	}
	if a.rate > mostGIFRate {
		return fmt.Errorf("rate: found %g frames a second, expected at most %d in a GIF", a.rate, mostGIFRate)
	}
	b := append([]byte("GIF89a"), binary.LittleEndian.AppendUint16(binary.LittleEndian.AppendUint16(nil, uint16(z.Width)), uint16(z.Height))...)
	b = append(b, 0xf7, 0, 0) // a global table of 256 colours
	palette := filmPalette()
	for i := range 256 {
		c := color.RGBA{}
		if i < len(palette) {
			c = palette[i]
		}
		b = append(b, c.R, c.G, c.B)
	}
	b = append(b, "\x21\xff\x0bNETSCAPE2.0\x03\x01\x00\x00\x00"...)
	if _, err := w.Write(b); err != nil {
		return err
	}
	err = a.render(ctx, z, true, func() encode {
		e := &gifEncoder{table: nearest(), index: make([]uint8, z.Width)}
		return func(frame int, before, now *image.RGBA) ([]byte, error) { return e.frame(a.delay(frame), before, now) }
	}, func(_ int, data []byte) error {
		_, err := w.Write(data)
		return err
	})
	if err != nil {
		return err
	}
	_, err = w.Write([]byte{0x3b})
	return err
}

// delay is the time for which a frame is shown, in hundredths of a second.
func (a *Animation) delay(frame int) int {
	at := func(i int) int { return int(math.Round(float64(i) * 100 / a.rate)) }
	return at(frame+1) - at(frame)
}

// gifEncoder makes the blocks of a frame.
type gifEncoder struct {
	table *[1 << 18]uint8
	index []uint8
	data  bytes.Buffer
}

func (e *gifEncoder) frame(delay int, before, now *image.RGBA) ([]byte, error) {
	from, to := changed(before, now)
	w := now.Bounds().Dx()
	b := []byte{0x21, 0xf9, 4, 1<<2 | 1} // leave it there; one index is transparent
	b = binary.LittleEndian.AppendUint16(b, uint16(delay))
	b = append(b, transparentIndex, 0, 0x2c, 0, 0)
	for _, x := range []int{from, w, to - from} {
		b = binary.LittleEndian.AppendUint16(b, uint16(x))
	}
	b = append(b, 0, 8)
	e.data.Reset()
	z := lzw.NewWriter(&e.data, lzw.LSB, 8)
	for y := from; y < to; y++ {
		line := now.Pix[y*now.Stride : y*now.Stride+4*w]
		var was []uint8
		if before != nil {
			was = before.Pix[y*before.Stride : y*before.Stride+4*w]
		}
		for x := range e.index {
			p := line[4*x : 4*x+4 : 4*x+4]
			if was != nil && [4]uint8(p) == [4]uint8(was[4*x:4*x+4]) {
				e.index[x] = transparentIndex
				continue
			}
			e.index[x] = e.table[int(p[0])>>2<<12|int(p[1])>>2<<6|int(p[2])>>2]
		}
		if _, err := z.Write(e.index); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	for rest := e.data.Bytes(); len(rest) > 0; {
		n := min(255, len(rest))
		b = append(b, byte(n))
		b = append(b, rest[:n]...)
		rest = rest[n:]
	}
	return append(b, 0), nil
}
