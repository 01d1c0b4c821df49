package plots

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"hash/crc32"
	"image"
	"io"
	"math"
)

// PNG and animated PNG as in the W3C Recommendation "Portable Network Graphics
// Specification (Third Edition)", 2025, sections 5, 11.3.2 and 12: true
// colour with alpha, rows unfiltered. Of a frame of an animation only the
// lines that changed are kept, and in these only the pixels.

const pngSignature = "\x89PNG\r\n\x1a\n"

// pngChunk appends a chunk.
func pngChunk(b []byte, kind string, data []byte) []byte {
	b = binary.BigEndian.AppendUint32(b, uint32(len(data)))
	at := len(b)
	b = append(b, kind...)
	b = append(b, data...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[at:]))
}

// pngHeader is the chunk IHDR of 8-bit true colour with alpha.
func pngHeader(width, height int) []byte {
	h := binary.BigEndian.AppendUint32(nil, uint32(width))
	h = binary.BigEndian.AppendUint32(h, uint32(height))
	return append(h, 8, 6, 0, 0, 0)
}

// changed returns the lines of now that differ from before; all where there is
// none before, and the first where nothing differs.
func changed(before, now *image.RGBA) (from, to int) {
	h := now.Bounds().Dy()
	if before == nil {
		return 0, h
	}
	line := func(y int) bool {
		a := y * now.Stride
		return bytes.Equal(before.Pix[a:a+now.Stride], now.Pix[a:a+now.Stride])
	}
	for from < h && line(from) {
		from++
	}
	if from == h {
		return 0, 1
	}
	for to = h; line(to - 1); to-- {
	}
	return from, to
}

// pngEncoder compresses frames; each worker has its own.
type pngEncoder struct {
	z   *zlib.Writer
	out bytes.Buffer
	row []byte
}

func newPNGEncoder() *pngEncoder {
	e := &pngEncoder{}
	e.z, _ = zlib.NewWriterLevel(&e.out, zlib.BestSpeed)
	return e
}

// pixels compresses the lines from from to to; pixels that are as before are
// left transparent.
func (e *pngEncoder) pixels(before, now *image.RGBA, from, to int) ([]byte, error) {
	w := now.Bounds().Dx()
	e.out.Reset()
	e.z.Reset(&e.out)
	if len(e.row) != 4*w+1 {
		e.row = make([]byte, 4*w+1)
	}
	row := e.row
	for y := from; y < to; y++ {
		line := now.Pix[y*now.Stride : y*now.Stride+4*w]
		var was []uint8
		if before != nil {
			was = before.Pix[y*before.Stride : y*before.Stride+4*w]
		}
		if was != nil && bytes.Equal(line, was) {
			clear(row)
		} else {
			for x := 0; x < 4*w; x += 4 {
				p := line[x : x+4 : x+4]
				q := row[1+x : 5+x : 5+x]
				switch a := p[3]; {
				case was != nil && [4]uint8(p) == [4]uint8(was[x:x+4]):
					q[0], q[1], q[2], q[3] = 0, 0, 0, 0
				case a == 255:
					q[0], q[1], q[2], q[3] = p[0], p[1], p[2], 255
				case a == 0:
					q[0], q[1], q[2], q[3] = 0, 0, 0, 0
				default: // from premultiplied to straight
					for i := range 3 {
						q[i] = uint8(min(255, (int(p[i])*255+int(a)/2)/int(a)))
					}
					q[3] = a
				}
			}
		}
		if _, err := e.z.Write(row); err != nil {
			return nil, err
		}
	}
	if err := e.z.Close(); err != nil {
		return nil, err
	}
	return e.out.Bytes(), nil
}

// Pictures draws every frame as a PNG picture and hands it on in order.
func (a *Animation) Pictures(ctx context.Context, size FrameSize, emit func(frame int, png []byte) error) error {
	z, err := size.complete()
	if err != nil {
		return err
	}
	return a.render(ctx, z, false, func() encode {
		e := newPNGEncoder()
		return func(_ int, _, now *image.RGBA) ([]byte, error) {
			data, err := e.pixels(nil, now, 0, z.Height)
			if err != nil {
				return nil, err
			}
			b := pngChunk([]byte(pngSignature), "IHDR", pngHeader(z.Width, z.Height))
			b = pngChunk(b, "IDAT", data)
			return pngChunk(b, "IEND", nil), nil
		}
	}, emit)
}

// Raw draws every frame as bytes red, green, blue, alpha, line by line, and
// hands them on in order: what a video encoder reads.
func (a *Animation) Raw(ctx context.Context, size FrameSize, emit func(frame int, rgba []byte) error) error {
	z, err := size.complete()
	if err != nil {
		return err
	}
	return a.render(ctx, z, false, func() encode {
		return func(_ int, _, now *image.RGBA) ([]byte, error) { return bytes.Clone(now.Pix), nil }
	}, emit)
}

// WriteAPNG writes an animated PNG that repeats for ever. It is on white.
func (a *Animation) WriteAPNG(ctx context.Context, w io.Writer, size FrameSize) error {
	size.Transparent = false
	z, err := size.complete()
	if err != nil {
		return err
	}
	b := pngChunk([]byte(pngSignature), "IHDR", pngHeader(z.Width, z.Height))
	control := binary.BigEndian.AppendUint32(nil, uint32(a.count))
	b = pngChunk(b, "acTL", append(control, 0, 0, 0, 0))
	if _, err := w.Write(b); err != nil {
		return err
	}
	// A frame's bytes are its lines and its compressed pixels; the sequence
	// numbers of the chunks are known when it is written.
	sequence := uint32(0)
	number := func(b []byte) []byte {
		sequence++
		return binary.BigEndian.AppendUint32(b, sequence-1)
	}
	err = a.render(ctx, z, true, func() encode {
		e := newPNGEncoder()
		return func(_ int, before, now *image.RGBA) ([]byte, error) {
			from, to := changed(before, now)
			data, err := e.pixels(before, now, from, to)
			if err != nil {
				return nil, err
			}
			b := binary.BigEndian.AppendUint32(nil, uint32(from))
			b = binary.BigEndian.AppendUint32(b, uint32(to))
			return append(b, data...), nil
		}
	}, func(i int, data []byte) error {
		from, to := binary.BigEndian.Uint32(data), binary.BigEndian.Uint32(data[4:])
		f := number(nil)
		for _, x := range []uint32{uint32(z.Width), to - from, 0, from} {
			f = binary.BigEndian.AppendUint32(f, x)
		}
		num, den := fraction(1 / a.rate)
		f = binary.BigEndian.AppendUint16(f, num)
		f = binary.BigEndian.AppendUint16(f, den)
		blend := byte(1) // over what is there
		if i == 0 {
			blend = 0
		}
		out := pngChunk(nil, "fcTL", append(f, 0, blend))
		if i == 0 {
			out = pngChunk(out, "IDAT", data[8:])
		} else {
			out = pngChunk(out, "fdAT", append(number(nil), data[8:]...))
		}
		_, err := w.Write(out)
		return err
	})
	if err != nil {
		return err
	}
	_, err = w.Write(pngChunk(nil, "IEND", nil))
	return err
}

// fraction is a delay in seconds as the nearest fraction with a denominator
// that 16 bits hold.
func fraction(x float64) (num, den uint16) {
	best := math.Inf(1)
	for d := 1; d <= 1000; d++ {
		n := math.Round(x * float64(d))
		if e := math.Abs(n/float64(d) - x); e < best-1e-12 && n >= 1 && n < 65536 {
			best, num, den = e, uint16(n), uint16(d)
		}
	}
	return num, den
}
