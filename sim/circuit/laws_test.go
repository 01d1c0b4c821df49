package circuit

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"boilwright/models"
)

// run records n half-cycles of a drawn board. Not counted are boards for whose
// part values the switching rules know no consistent state, and those in which
// a triac or opto with too light a load is fired and given up again all the
// time, its snubber or a stray capacitance lending it the latching current.
// But a solution that creeps along by the resolution of its search has missed
// something.
func run(t *rapid.T, b *models.Board, n int, in func(int64) Input) (*Solver, *Recording, []Record) {
	s, err := New(b)
	if err != nil {
		t.Fatalf("%v\n%+v", err, b)
	}
	creeping, segments := 0, 0
	s.OnSegment(func(g *Segment) {
		if g.T1-g.T0 > 4*nudge {
			creeping = -1
		}
		if creeping++; creeping > 20 {
			t.Fatalf("creeps at %.12g ms of half-cycle %d\n%+v", g.T1*1e3, g.Half, b)
		}
		if segments++; segments > 2000 {
			t.Skip("fired again and again")
		}
	})
	var recs []Record
	r, err := s.Record(n, func(half int64) Input {
		if half > 0 {
			recs = append(recs, cloneRecord(&s.rec))
		}
		return in(half)
	})
	if err != nil {
		if strings.Contains(err.Error(), "do not come to rest") {
			t.Skip(err)
		}
		t.Fatalf("%v\n%+v", err, b)
	}
	return s, r, append(recs, cloneRecord(&s.rec))
}

func cloneRecord(r *Record) Record {
	c := *r
	c.Triac = append([]float64(nil), r.Triac...)
	c.Gate = append([]float64(nil), r.Gate...)
	c.Snubber = append([]float64(nil), r.Snubber...)
	c.Element = append([]float64(nil), r.Element...)
	c.Wire = append([]float64(nil), r.Wire...)
	c.Events = append([]Event(nil), r.Events...)
	return c
}

// TestKirchhoff checks, on random boards, that the currents at every node sum
// to zero, that every part obeys its own law, that capacitor voltages and
// inductor currents are continuous, and that the energies balance.
func TestKirchhoff(t *testing.T) {
	var overall [4]float64
	rapid.Check(t, func(t *rapid.T) {
		var node, law, jump, balance worst
		d := newDraw(t)
		b := drawBoard(d, boardKind{})
		s, r, recs := run(t, b, 4, drawDrive(d, b, 4))
		peakV, peakI := 1.0, 1e-6
		type point struct {
			seg *Segment
			t   float64
		}
		var points []point
		for i := range r.segments {
			g := &r.segments[i]
			for _, f := range []float64{0, 0.3, 1} {
				points = append(points, point{g, g.T0 + f*(g.T1-g.T0)})
			}
		}
		if len(points) > 600 { // every so many
			thin := points[:0:0]
			for i := range 600 {
				thin = append(thin, points[i*len(points)/600])
			}
			points = thin
		}
		value := func(p point, sig int) float64 {
			return p.seg.Value(Signal{sig, -1}, p.t)
		}
		for _, p := range points {
			for i := range s.net.branches {
				peakI = math.Max(peakI, math.Abs(value(p, s.net.sigCurrent(i))))
				peakV = math.Max(peakV, math.Abs(value(p, s.net.sigVolt(i))))
			}
		}
		if math.IsNaN(peakV + peakI) {
			t.Fatal("found NaN in the solution")
		}
		// A board that draws nothing has its rounding only.
		peakI = math.Max(peakI, 1e-4*peakV)
		for _, p := range points {
			sums := make([]float64, len(s.net.nodes)+1)
			for i := range s.net.branches {
				br := &s.net.branches[i]
				v, c := value(p, s.net.sigVolt(i)), value(p, s.net.sigCurrent(i))
				sums[br.a+1] += c
				sums[br.b+1] -= c
				law.note(lawResidual(s, p.seg, i, p.t, v, c, peakV, peakI), "%s at %.9g ms of half-cycle %d", br.name, p.t*1e3, p.seg.Half)
			}
			for k, x := range sums {
				node.note(math.Abs(x)/peakI, "%s at %.9g ms of half-cycle %d", s.net.nodeName(k-1), p.t*1e3, p.seg.Half)
			}
		}
		for i := 1; i < len(r.segments); i++ {
			a, z := &r.segments[i-1], &r.segments[i]
			for _, st := range s.net.states {
				sig, scale := s.net.sigVolt(st), peakV
				if s.net.branches[st].kind == inductor {
					sig, scale = s.net.sigCurrent(st), peakI
				}
				d := z.Value(Signal{sig, -1}, z.T0) - a.Value(Signal{sig, -1}, a.T1)
				if s.net.branches[st].kind == linkPath && a.c.key.level(s.net.branches[st].valve) == off {
					continue // closed before: a resistance
				}
				jump.note(math.Abs(d)/scale, "%s at the start of segment %d", s.net.branches[st].name, i)
			}
		}
		// The scale is what the half-cycles turn over; where hardly anything
		// is consumed, what the capacitors take and give back, or a part in
		// 10⁴ of what a 100 Ω load would take. The current of a capacitor
		// straight behind the line's resistance is a small difference of
		// large numbers.
		largest := 1e-4 * peakV * peakV / 200 * r.half
		if b.Supply.LineInductance == 0 {
			largest += 1e-5 * peakV * peakV / float64(b.Supply.LineResistance) * r.half
		}
		for _, st := range s.net.states {
			if br := &s.net.branches[st]; br.kind != inductor {
				largest = math.Max(largest, br.store*peakV*peakV/2)
			}
		}
		for _, x := range recs {
			largest = math.Max(largest, math.Max(math.Abs(x.Source), x.Dissipated()))
		}
		for _, x := range recs {
			balance.note(math.Abs(x.Source-x.Dissipated()-x.Stored)/largest, "half-cycle %d", x.Half)
		}
		stiffness := 1e-9
		for _, c := range b.Channels {
			if c.Link.Open {
				stiffness = 1e-8
			}
		}
		for i, w := range []*worst{&node, &law, &jump, &balance} {
			// Where modes differ by 10¹¹ in speed, as with the stray capacitance
			// of an open link, the slow ones have 1e-8 left.
			if !(w.dev < [...]float64{1e-9, 1e-8, 1e-9, stiffness}[i]) {
				t.Fatalf("%s: deviation %.3g: %s", [...]string{"Kirchhoff", "part", "continuity", "energy"}[i], w.dev, w.what)
			}
			overall[i] = math.Max(overall[i], w.dev)
		}
	})
	t.Logf("worst: Kirchhoff %.2g, parts %.2g, continuity %.2g, energy %.2g", overall[0], overall[1], overall[2], overall[3])
}

// lawResidual is how far branch i is from its own law, relative to the peaks.
func lawResidual(s *Solver, g *Segment, i int, t, v, c, peakV, peakI float64) float64 {
	b := &s.net.branches[i]
	l := off
	if b.valve >= 0 {
		l = g.c.key.level(b.valve)
	}
	ohmic := func(ohms, volts float64) float64 {
		// The greater of what is missing in volts and in amperes, whichever
		// the part resolves better.
		d := math.Abs(v - volts - ohms*c)
		if ohms > 1 {
			return math.Min(d/peakV, d/ohms/peakI)
		}
		return d / peakV
	}
	rate := func(sig int) float64 { return g.rate(sig, t) }
	switch b.kind {
	case source:
		return math.Abs(v-g.Source(t)) / peakV
	case resistor:
		return ohmic(s.par.ohms[i], 0)
	case capacitor:
		return math.Abs(c-b.store*rate(s.net.sigVolt(i))) / peakI
	case inductor:
		return math.Abs(v-b.store*rate(s.net.sigCurrent(i))) / peakV
	case linkPath:
		if l == off {
			return ohmic(b.ohms, 0)
		}
		return math.Abs(c-b.store*rate(s.net.sigVolt(i))) / peakI
	case mainPath, optoPath:
		if l == off {
			return math.Abs(c-s.par.siemens[i]*v) / peakI
		}
		return ohmic(b.ohms, l.sign()*b.volts)
	}
	// Junctions and one-way paths: also on the right side of their threshold,
	// but for the last 1e-12 s to which switching instants are found.
	inside := t > g.T0+2e-12 && t < g.T1-2e-12
	if l == off {
		over := v - b.volts
		if !b.oneWay {
			over = math.Max(over, -v-b.volts)
		}
		if inside && over > 0 {
			return math.Max(over/peakV, math.Abs(c)/peakI)
		}
		return math.Abs(c) / peakI
	}
	if inside && l.sign()*c < 0 {
		return math.Max(ohmic(b.ohms, l.sign()*b.volts), -l.sign()*c/peakI)
	}
	return ohmic(b.ohms, l.sign()*b.volts)
}
