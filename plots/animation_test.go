package plots

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"image/gif"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// demoCycle is a channel fired at 40° of each half-cycle of a sine of 325 V,
// 50 Hz, into 40 Ω: two half-cycles in closed form, n frames.
func demoCycle(n int) CycleInput {
	w := demoWaveforms()
	in := CycleInput{SchematicInput: demoSchematic(), Frequency: 50, Rate: 25}
	in.Faults = in.Faults[:1]
	in.Subtitle = "325 V peak, 50 Hz, fired at 40°"
	cut := func(t Trace) Trace { return Trace{t.Name, t.Unit, t.Time[:801], t.Value[:801]} }
	in.SupplyVoltage, in.LoadVoltage = cut(w.Supply), cut(w.Channels[0].Voltage)
	in.LoadTrace, in.GateTrace = cut(w.Channels[0].Current), cut(w.Channels[0].Gate)
	f := &in.Frames
	f.Currents = map[CurrentPath][]float64{}
	for i := range n {
		t := 0.02 * float64(i) / float64(n-1)
		v := 325 * math.Sin(2*math.Pi*50*t)
		fired := math.Mod(t*18000, 180) >= 40
		load, gate := 0.0, 0.0
		if fired {
			load = v
		}
		if fired && math.Mod(t*18000, 180) < 45 {
			gate = math.Copysign(0.03, v)
		}
		f.Time, f.Supply, f.Load = append(f.Time, t), append(f.Supply, v), append(f.Load, load)
		f.LED, f.Opto, f.Triac = append(f.LED, true), append(f.Opto, gate != 0), append(f.Triac, fired)
		for _, p := range []CurrentPath{SupplyCurrent, LoadCurrent, FarCurrent} {
			f.Currents[p] = append(f.Currents[p], load/40)
		}
		f.Currents[TriacCurrent] = append(f.Currents[TriacCurrent], -load/40) // it counts from MT2
		f.Currents[OptoCurrent] = append(f.Currents[OptoCurrent], -gate)
		f.Currents[GateCurrent] = append(f.Currents[GateCurrent], -gate)
		f.Currents[LEDCurrent] = append(f.Currents[LEDCurrent], 0.01)
	}
	return in
}

// demoMachine is the temperatures of the demonstration as a machine, n frames.
func demoMachine(n int) MachineInput {
	d := demoTemperatures()
	in := MachineInput{Rate: 25, DisplayName: "plug-in energy monitor", Events: d.Events[:3]}
	in.Title, in.Subtitle = "A link opens", "soak and dye"
	for k, c := range d.Channels {
		m := MachineChannel{Name: c.Name, Set: c.Levels[0].Value, Link: []float64{112, 126}[k], Fill: 2}
		state := 0
		for i := range n {
			j := i * (len(d.Time) - 1) / (n - 1)
			if k == 0 {
				in.Time = append(in.Time, d.Time[j])
				in.Display = append(in.Display, watts(d.Power[j]))
			}
			for state+1 < len(c.Indicator) && c.Indicator[state+1].Time <= d.Time[j] {
				state++
			}
			open := k == 1 && d.Time[j] > 1260
			m.Water, m.Element, m.Mass = append(m.Water, c.Water[j]), append(m.Element, c.Element[j]), append(m.Mass, 1.5)
			m.Drive, m.Power = append(m.Drive, 0.5), append(m.Power, 600)
			m.Indicator, m.LinkOpen = append(m.Indicator, c.Indicator[state].Indicator), append(m.LinkOpen, open)
		}
		in.Channels = append(in.Channels, m)
	}
	return in
}

// film is an animation with demonstration data.
type film struct {
	name  string
	build func(n int) (*Animation, error)
	frame int // that a golden shows, of 9
}

func films() []film {
	return []film{
		{"cycle", func(n int) (*Animation, error) { return Cycle(demoCycle(n)) }, 3},
		{"machine", func(n int) (*Animation, error) { return Machine(demoMachine(n)) }, 5},
	}
}

func mustFilm(t testing.TB, f film, n int) *Animation {
	t.Helper()
	a, err := f.build(n)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

var smallFrame = FrameSize{Width: 480, Height: 270}

// pictures are the frames one by one.
func pictures(t testing.TB, a *Animation, z FrameSize) []image.Image {
	t.Helper()
	var out []image.Image
	err := a.Pictures(context.Background(), z, func(i int, data []byte) error {
		if i != len(out) {
			t.Errorf("found frame %d after %d, want them in order", i, len(out))
		}
		img, err := png.Decode(bytes.NewReader(data))
		out = append(out, img)
		return err
	})
	if err != nil || len(out) != a.Count() {
		t.Fatalf("found %d frames and error %v, want %d", len(out), err, a.Count())
	}
	return out
}

// TestGoldenFrames compares a frame of every animation with a reviewed picture.
func TestGoldenFrames(t *testing.T) {
	for _, f := range films() {
		t.Run(f.name, func(t *testing.T) {
			img := pictures(t, mustFilm(t, f, 9), FrameSize{Width: 960, Height: 540})[f.frame]
			file := filepath.Join("testdata", "animation-"+f.name+".golden.png")
			if *update {
				var b bytes.Buffer
				if err := png.Encode(&b, img); err != nil {
					t.Fatal(err)
				}
				write(t, file, b.Bytes())
			}
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if d := difference(img, decode(t, data)); d > 1e-3 {
				t.Errorf("found %.2g of the pixels visibly different, want at most 0.001", d)
			}
		})
	}
}

func TestFrameLabelsStandApart(t *testing.T) {
	for _, f := range films() {
		a := mustFilm(t, f, 9)
		for i := range a.Count() {
			checkScene(t, a.scene(i), frameWidth)
		}
	}
}

// TestCycleLightsInProportion asks that a lead is as wide as its current is of
// the greatest, and dark without current.
func TestCycleLightsInProportion(t *testing.T) {
	in := demoCycle(9)
	a := mustFilm(t, films()[0], 9)
	for i := range a.Count() {
		s := &scene{w: frameWidth, h: frameHeight}
		a.moving(s, i)
		widest := 0.0
		for _, it := range s.items {
			if it.kind == lineItem && it.stroke.color == vermillion && it.stroke.dash == nil {
				widest = math.Max(widest, it.stroke.width)
			}
		}
		want := 7 * math.Abs(in.Frames.Currents[LoadCurrent][i]) / (325.0 / 40)
		if want > 7*0.002 {
			want = math.Max(want, 0.9)
		} else {
			want = 0
		}
		if math.Abs(widest-want) > 0.01 {
			t.Errorf("frame %d: found a lead %.3f pt wide, want %.3f", i, widest, want)
		}
	}
}

// TestGIF decodes with the standard library: all frames, shown for the whole
// time, each looking like the picture of it.
func TestGIF(t *testing.T) {
	for _, f := range films() {
		a := mustFilm(t, f, 11)
		var b bytes.Buffer
		if err := a.WriteGIF(context.Background(), &b, smallFrame); err != nil {
			t.Fatal(err)
		}
		g, err := gif.DecodeAll(&b)
		if err != nil {
			t.Fatal(err)
		}
		total := 0
		for _, d := range g.Delay {
			total += d
		}
		if len(g.Image) != 11 || total != 44 || g.LoopCount != 0 {
			t.Errorf("%s: found %d frames for %d hundredths, loops %d, want 11 for 44, for ever", f.name, len(g.Image), total, g.LoopCount)
		}
		page := image.NewRGBA(image.Rect(0, 0, 480, 270))
		for i, want := range pictures(t, a, smallFrame) {
			draw.Draw(page, g.Image[i].Bounds(), g.Image[i], g.Image[i].Bounds().Min, draw.Over)
			if d := difference(page, want); d > 2e-3 {
				t.Errorf("%s: frame %d: found %.2g of the pixels visibly different, want at most 0.002", f.name, i, d)
			}
		}
	}
}

// TestAPNG reads the chunks as the specification says and puts the frames
// together: each is the picture of it, to the last bit.
func TestAPNG(t *testing.T) {
	for _, f := range films() {
		a := mustFilm(t, f, 11)
		var b bytes.Buffer
		if err := a.WriteAPNG(context.Background(), &b, smallFrame); err != nil {
			t.Fatal(err)
		}
		data := b.Bytes()
		if first := decode(t, data); first.Bounds().Dx() != 480 { // a viewer that knows no animation
			t.Errorf("found a first picture of %v", first.Bounds())
		}
		want := pictures(t, a, smallFrame)
		page := image.NewNRGBA(image.Rect(0, 0, 480, 270))
		var header, control []byte
		sequence, frame := uint32(0), 0
		next := func(n uint32) {
			if n != sequence {
				t.Errorf("found sequence number %d, want %d", n, sequence)
			}
			sequence++
		}
		show := func(compressed []byte) {
			h := bytes.Clone(header)
			copy(h, control[4:12]) // width, height
			one := pngChunk([]byte(pngSignature), "IHDR", h)
			one = pngChunk(pngChunk(one, "IDAT", compressed), "IEND", nil)
			img := decode(t, one)
			y := int(binary.BigEndian.Uint32(control[16:]))
			op := draw.Over
			if control[25] == 0 {
				op = draw.Src
			}
			draw.Draw(page, img.Bounds().Add(image.Pt(0, y)), img, image.Point{}, op)
			for i, p := range page.Pix {
				if p != nrgba(want[frame]).Pix[i] {
					t.Fatalf("%s: frame %d: found %d at byte %d, want %d", f.name, frame, p, i, nrgba(want[frame]).Pix[i])
				}
			}
			frame++
		}
		for rest := data[8:]; len(rest) > 0; {
			n := binary.BigEndian.Uint32(rest)
			kind, body := string(rest[4:8]), rest[8:8+n]
			rest = rest[12+n:]
			switch kind {
			case "IHDR":
				header = body
			case "acTL":
				if count, plays := binary.BigEndian.Uint32(body), binary.BigEndian.Uint32(body[4:]); count != 11 || plays != 0 {
					t.Errorf("found %d frames, %d plays, want 11, for ever", count, plays)
				}
			case "fcTL":
				next(binary.BigEndian.Uint32(body))
				control = body
				num, den := binary.BigEndian.Uint16(body[20:]), binary.BigEndian.Uint16(body[22:])
				if float64(num)/float64(den) != 0.04 {
					t.Errorf("found a delay of %d/%d s, want 0.04", num, den)
				}
			case "IDAT":
				show(body)
			case "fdAT":
				next(binary.BigEndian.Uint32(body))
				show(body[4:])
			}
		}
		if frame != 11 {
			t.Errorf("found %d frames, want 11", frame)
		}
	}
}

func nrgba(img image.Image) *image.NRGBA { return img.(*image.NRGBA) }

func TestTransparentPictures(t *testing.T) {
	z := smallFrame
	z.Transparent = true
	a := mustFilm(t, films()[0], 3)
	clear := pictures(t, a, z)[1]
	solid := pictures(t, a, smallFrame)[1]
	if _, _, _, alpha := clear.At(1, 1).RGBA(); alpha != 0 {
		t.Errorf("found alpha %d in a corner, want none", alpha)
	}
	page := image.NewRGBA(solid.Bounds())
	draw.Draw(page, page.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.Draw(page, page.Bounds(), clear, image.Point{}, draw.Over)
	if d := difference(page, solid); d > 1e-3 {
		t.Errorf("found the picture on white to differ from the white picture in %.2g of the pixels", d)
	}
}

// TestFramesSameBytes asks for the same bytes on any number of cores.
func TestFramesSameBytes(t *testing.T) {
	a := mustFilm(t, films()[0], 20)
	var first []byte
	for _, n := range []int{1, 2, 5} {
		old := runtime.GOMAXPROCS(n)
		var b bytes.Buffer
		err := a.WriteGIF(context.Background(), &b, FrameSize{Width: 320, Height: 180})
		runtime.GOMAXPROCS(old)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = b.Bytes()
		}
		if !bytes.Equal(first, b.Bytes()) {
			t.Errorf("%d cores: found other bytes", n)
		}
	}
}

func TestFramesStop(t *testing.T) {
	a := mustFilm(t, films()[0], 40)
	ctx, cancel := context.WithCancel(context.Background())
	seen, told := 0, 0
	z := smallFrame
	z.Progress = func(done, total int) {
		if told++; done != told || total != 40 {
			t.Errorf("found progress %d of %d, want %d of 40", done, total, told)
		}
	}
	err := a.Raw(ctx, z, func(int, []byte) error {
		if seen++; seen == 3 {
			cancel()
		}
		return nil
	})
	if !errors.Is(err, context.Canceled) || seen >= 40 {
		t.Errorf("found error %v after %d frames, want that of cancelling soon after 3", err, seen)
	}
	full := errors.New("disk full")
	if err := a.Raw(context.Background(), smallFrame, func(i int, _ []byte) error {
		if i == 2 {
			return full
		}
		return nil
	}); !errors.Is(err, full) {
		t.Errorf("found error %v, want the writer's", err)
	}
}

func TestAnimationErrors(t *testing.T) {
	check := func(want string, err error) {
		t.Helper()
		if err == nil || err.Error() != want {
			t.Errorf("found error %v, want %s", err, want)
		}
	}
	a := mustFilm(t, films()[0], 3)
	check("frame size: found 10 × 1080 pixels, expected 160 to 3840 each way", a.WriteGIF(context.Background(), nil, FrameSize{Width: 10, Height: 1080}))
	in := demoCycle(3)
	in.Rate = 60
	fast, err := Cycle(in)
	if err != nil {
		t.Fatal(err)
	}
	check("rate: found 60 frames a second, expected at most 50 in a GIF", fast.WriteGIF(context.Background(), nil, smallFrame))
	for want, change := range map[string]func(*CycleInput){
		"rate: found 0 frames a second, expected 1 to 120":                              func(in *CycleInput) { in.Rate = 0 },
		"found 0 frames, expected 1 to 36000":                                           func(in *CycleInput) { in.Frames.Time = nil },
		"frames: load voltage: found 2 values for 3 times, expected as many":            func(in *CycleInput) { in.Frames.Load = in.Frames.Load[:2] },
		"frames: found 1 state of the opto for 3 times, expected as many":               func(in *CycleInput) { in.Frames.Opto = in.Frames.Opto[:1] },
		"frames: found time 1 s at index 2, expected rising times from 0 s to 0.02 s":   func(in *CycleInput) { in.Frames.Time[2] = 1 },
		"load current: found 0 times, expected at least 2":                              func(in *CycleInput) { in.LoadTrace = Trace{} },
		"frames: current 1: found NaN at index 0, expected a finite number":             func(in *CycleInput) { in.Frames.Currents[LoadCurrent][0] = math.NaN() },
		"supply frequency: found 0 Hz, expected 1 Hz to 1000 Hz":                        func(in *CycleInput) { in.Frequency = 0 },
		`found 40 half-cycles, expected at most 20 in one animation`:                    func(in *CycleInput) { in.Frequency = 1000 },
		`fault 1, "film-opto: 10 kΩ": found kind 77, expected one of the kinds of mark`: func(in *CycleInput) { in.Faults[0].Kind = 77 },
	} {
		in := demoCycle(3)
		change(&in)
		_, err := Cycle(in)
		check(want, err)
	}
	for want, change := range map[string]func(*MachineInput){
		"found 0 channels, expected 1 to 6":                                                          func(in *MachineInput) { in.Channels = nil },
		"display: found 0 texts for 3 frames, expected as many":                                      func(in *MachineInput) { in.Display = nil },
		`channel "dye": water: found +Inf at index 1, expected a finite number`:                      func(in *MachineInput) { in.Channels[1].Water[1] = math.Inf(1) },
		`channel "soak": indicator: found 9 at index 0, expected 0 to 4`:                             func(in *MachineInput) { in.Channels[0].Indicator[0] = 9 },
		`channel "soak": found 3 indicators and 0 states of the link for 3 frames, expected as many`: func(in *MachineInput) { in.Channels[0].LinkOpen = nil },
		`channel "soak": found 0 kg when full, expected more than 0`:                                 func(in *MachineInput) { in.Channels[0].Fill = 0 },
		"event 0: found channel 5 at 1 s, expected −1 to 1":                                          func(in *MachineInput) { in.Events = []Event{{1, 5, "x"}} },
	} {
		in := demoMachine(3)
		change(&in)
		_, err := Machine(in)
		check(want, err)
	}
}

func TestAnimationAlternative(t *testing.T) {
	a := mustFilm(t, films()[0], 101)
	contains(t, "text alternative", a.Alt(), "Animation of a circuit: Channel dye in slow motion.", "101 frames at 25 a second, 20 ms of supply at 50 Hz, 200 times slower than life.",
		"LED lit: 0 ms to 20 ms.", "Triac conducts: 2.4 ms to 9.8 ms; 12.4 ms to 19.8 ms.", "Fault 1: film-opto: 10 kΩ.")
	contains(t, "caption", a.Caption(), "invented for demonstration", "mains voltage")
	if d := a.Data()[0]; d.Rows() != 101 || d.Columns[1].Name != "supply voltage" {
		t.Errorf("found data of %d rows", d.Rows())
	}
	a = mustFilm(t, films()[1], 101)
	contains(t, "text alternative", a.Alt(), "dye: water from 20.0 to 56.0 °C", "Its link is open from 21.5 min.", "dye: link opened, 21.0 min")
}
