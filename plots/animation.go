package plots

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"math"
	"runtime"
	"sync"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// Animation is a series of frames: what stays, drawn once, and what changes,
// drawn for each. It does not change once built. The same input gives the same
// bytes, whatever the number of cores.
type Animation struct {
	title, alt, caption string
	rate                float64
	count               int
	still               func(s *scene)
	moving              func(s *scene, frame int)
	data                []Table
}

// Title returns the title.
func (a *Animation) Title() string { return a.title }

// Alt returns the text alternative: what happens, in words and numbers.
func (a *Animation) Alt() string { return a.alt }

// Caption returns what belongs under the animation, provenance included.
func (a *Animation) Caption() string { return a.caption }

// Count returns the number of frames.
func (a *Animation) Count() int { return a.count }

// Rate returns the frames a second at which it is to be shown.
func (a *Animation) Rate() float64 { return a.rate }

// Data returns the state in every frame. It must not be changed.
func (a *Animation) Data() []Table { return a.data }

// Size of the page of a frame in points: 16 to 9, so that the smallest text is
// a ninetieth of its width.
const (
	frameWidth  = 720.0
	frameHeight = 405.0
)

// Bounds of an animation.
const (
	MostFrames = 36000
	LeastFrame = 160 // pixels of a frame each way
	MostFrame  = 3840
)

const (
	mostRate      = 120 // frames a second
	mostGIFRate   = 50  // beyond it players slow down: delays are in hundredths
	framesAtATime = 8   // a worker's share, before the next is taken
)

// FrameSize is how large the frames are drawn.
type FrameSize struct {
	Width, Height int // pixels, LeastFrame to MostFrame [1920 × 1080]
	// Transparent leaves the ground out of a sequence of pictures.
	Transparent bool
	// Progress, if not nil, is called after each frame is done.
	Progress func(done, total int)
}

func (z FrameSize) complete() (FrameSize, error) {
	if z.Width == 0 && z.Height == 0 {
		z.Width, z.Height = 1920, 1080
	}
	for _, n := range []int{z.Width, z.Height} {
		if n < LeastFrame || n > MostFrame {
			return z, fmt.Errorf("frame size: found %d × %d pixels, expected %d to %d each way", z.Width, z.Height, LeastFrame, MostFrame)
		}
	}
	return z, nil
}

// checkFrames rejects what makes no animation.
func checkFrames(count int, rate float64) error {
	if count < 1 || count > MostFrames {
		return fmt.Errorf("found %s, expected 1 to %d", plural(count, "frame", "frames"), MostFrames)
	}
	if !(rate >= 1 && rate <= mostRate) {
		return fmt.Errorf("rate: found %g frames a second, expected 1 to %d", rate, mostRate)
	}
	return nil
}

// frameCanvas is what a worker draws on.
type frameCanvas struct {
	c  *vgimg.Canvas
	p  *canvasPainter
	im *image.RGBA
}

func newFrameCanvas(z FrameSize) *frameCanvas {
	var ground color.Color = color.White
	if z.Transparent {
		ground = color.Transparent
	}
	c := vgimg.NewWith(vgimg.UseWH(vg.Length(z.Width), vg.Length(z.Height)), vgimg.UseDPI(72), vgimg.UseBackgroundColor(ground))
	k := math.Min(float64(z.Width)/frameWidth, float64(z.Height)/frameHeight)
	x, y := (float64(z.Width)-k*frameWidth)/2, (float64(z.Height)-k*frameHeight)/2
	area := draw.Canvas{Canvas: c, Rectangle: vg.Rectangle{
		Min: vg.Point{X: vg.Length(x), Y: vg.Length(y)},
		Max: vg.Point{X: vg.Length(float64(z.Width) - x), Y: vg.Length(float64(z.Height) - y)},
	}}
	return &frameCanvas{c, &canvasPainter{c: area, k: k}, c.Image().(*image.RGBA)}
}

// paint draws a frame over what stays.
func (a *Animation) paint(f *frameCanvas, ground []uint8, frame int) {
	copy(f.im.Pix, ground)
	s := &scene{w: frameWidth, h: frameHeight}
	a.moving(s, frame)
	s.paint(f.p)
}

// scene is everything in a frame.
func (a *Animation) scene(frame int) *scene {
	s := &scene{w: frameWidth, h: frameHeight}
	a.still(s)
	a.moving(s, frame)
	return s
}

// encode turns a frame into bytes, given the frame before it, which is nil for
// the first or where it is not wanted.
type encode func(frame int, before, now *image.RGBA) ([]byte, error)

// render draws all frames on all cores, encodes them there, and hands the
// bytes on in order. Memory holds few frames at a time: each worker has two,
// and what is encoded waits for its turn in bounded number.
func (a *Animation) render(ctx context.Context, z FrameSize, before bool, e func() encode, emit func(frame int, data []byte) error) error {
	base := newFrameCanvas(z)
	s := &scene{w: frameWidth, h: frameHeight}
	a.still(s)
	s.paint(base.p)
	ground := base.im.Pix

	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	share := framesAtATime
	if !before {
		share = 1
	}
	type part struct {
		frames [][]byte
		err    error
	}
	workers := min(runtime.GOMAXPROCS(0), (a.count+share-1)/share)
	queue := make(chan chan part, 2*workers) // in order of the frames
	jobs := make(chan func())
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for job := range jobs {
				job()
			}
		})
	}
	canvases := make(chan [2]*frameCanvas, workers)
	for range workers {
		var two [2]*frameCanvas
		two[0] = newFrameCanvas(z)
		if before {
			two[1] = newFrameCanvas(z)
		}
		canvases <- two
	}
	work := func(from, to int) part {
		two := <-canvases
		defer func() { canvases <- two }()
		now, old := two[0], two[1]
		enc := e()
		var out part
		if before && from > 0 {
			a.paint(old, ground, from-1)
		}
		for i := from; i < to; i++ {
			if ctx.Err() != nil {
				return part{err: ctx.Err()}
			}
			a.paint(now, ground, i)
			var last *image.RGBA
			if before && i > 0 {
				last = old.im
			}
			data, err := enc(i, last, now.im)
			if err != nil {
				return part{err: err}
			}
			out.frames = append(out.frames, data)
			if before {
				now, old = old, now
			}
		}
		return out
	}
	go func() {
		defer close(queue)
		defer close(jobs)
		for from := 0; from < a.count; from += share {
			done := make(chan part, 1)
			select {
			case queue <- done:
			case <-ctx.Done():
				return
			}
			to := min(from+share, a.count)
			select {
			case jobs <- func() { done <- work(from, to) }:
			case <-ctx.Done():
				done <- part{err: ctx.Err()}
				return
			}
		}
	}()
	var first error
	i := 0
	for done := range queue {
		p := <-done
		if first != nil {
			continue
		}
		first = p.err
		for _, f := range p.frames {
			if first != nil {
				break
			}
			first = emit(i, f)
			i++
			if z.Progress != nil && first == nil {
				z.Progress(i, a.count)
			}
		}
		if first != nil {
			cancel()
		}
	}
	wg.Wait()
	if first == nil && i < a.count {
		first = ctx.Err()
	}
	return first
}
