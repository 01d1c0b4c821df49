package infer

import (
	"math"

	"boilwright/sim/readings"
)

// How far apart what a test shows before and after a repair has to be, in
// standard deviations of the instrument, for it to confirm one: assumptions.
const (
	apartChoice    = 3.0 // what two choices that differ count as
	apartUnplugged = 3.0 // the least of a test on the unplugged board
	apartSupplied  = 1.0 // and of one with the supply on
	lessLive       = 0.1 // what a meter on mains is worth beside a test with nothing touched
	soundInsulated = 1e6 // Ω, the most that is asked of insulation
)

// confirm picks the readings that show best that a repair was one: those of a
// healthy board that differ most from what the likeliest suspect shows,
// unplugged first, then with the supply on.
func (w *Bench) confirm(hs []int) []Reading {
	if len(hs) == 0 || hs[0] == 0 {
		return nil
	}
	h := hs[0]
	var channels []int
	for _, j := range w.Hypotheses[h].Set {
		if j.Channel >= 0 {
			channels = append(channels, j.Channel)
			break
		}
	}
	type found struct {
		t     Test
		apart float64
	}
	var best [2]*found // unplugged, and with the supply on
	for _, t := range w.Candidates(channels) {
		if t.long() || t.Choices() != nil && t.Kind != Warms || t.With >= 0 || t.Pulled >= 0 {
			continue
		}
		if t.Kind == Volts {
			t.Meters = []string{w.Board.Meters[0].Name}
		}
		low, high, c, ok := w.rangeUnder(&t, 0)
		l, u, d, ok2 := w.rangeUnder(&t, h)
		if !ok || !ok2 {
			continue
		}
		apart := 0.0
		if c >= 0 {
			if c != d {
				apart = apartChoice
			}
		} else {
			sc := scaleOf(&t, w.Board)
			apart = math.Max(sc.y(l)-sc.y(high), sc.y(low)-sc.y(u)) / math.Max(sc.error(high, 0), sc.error(u, 0))
		}
		at, least := 1, apartSupplied
		if t.Risk() == Dead {
			at, least = 0, apartUnplugged
		}
		if t.Risk().Live() {
			apart *= lessLive
		}
		if apart > least && (best[at] == nil || apart > best[at].apart) {
			best[at] = &found{t, apart}
		}
	}
	var out []Reading
	for _, f := range best {
		if f == nil {
			continue
		}
		low, high, _, _ := w.rangeUnder(&f.t, 0)
		out = append(out, Reading{f.t, low, high, w.showsUnder(&f.t, 0)})
	}
	// What touched mains parts is always tested for insulation.
	t := newTest(Unplugged)
	t.Instrument = readings.Insulation
	low, high, _, _ := w.rangeUnder(&t, 0)
	return append(out, Reading{t, low, high, "more than " + t.Show(math.Min(low, soundInsulated))})
}
