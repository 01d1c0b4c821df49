package sim

import (
	"math"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// warmth is how energies follow the junctions, by channel.
type warmth struct {
	// warm is d ln E/dT of the element, 1/K: a warm triac fires sooner. In a
	// block under way it is that times E.
	warm []float64
	// leak is the part in J of a triac's loss that its leakage makes.
	leak []float64
}

func newWarmth(n int) warmth { return warmth{make([]float64, n), make([]float64, n)} }

// feel notes how a half-cycle follows the junctions' temperatures, and returns
// the width of the classes within which it does: the widest where every triac
// that conducts fires early and once, and none that blocks leaks much or is near
// firing.
func (r *reuse) feel(st *step, rec *circuit.Record) float64 {
	b := r.board
	span := wideJunction
	need := func(width float64) { span = min(span, width) }
	switch x := r.sol.Strain(); {
	case x >= failing:
		r.failing = true
		need(lateJunction)
	case x >= strained:
		need(narrowJunction)
	}
	carrying := false
	omega := math.Pi / rec.Duration
	peak := math.Sqrt2 * float64(b.Supply.Voltage)
	for k := range st.warm {
		c, ch := st.energy.channel(k), &b.Channels[k]
		ohms := r.cell.ohms[k]
		if !r.carries(st, k) {
			st.leak[k] = c[tTriac]
			if c[tTriac]+c[tElement] >= leaky*peak*peak/2/ohms*rec.Duration {
				need(narrowJunction)
			}
			continue
		}
		carrying = true
		for _, e := range rec.Events {
			if e.Kind != circuit.Fired || e.Channel != k {
				continue
			}
			if e.Degrees > early {
				need(lateJunction)
			}
			// dE = p(φ)·dφ/ω with φ from v(φ) = v₀ + I_GT·R, R the gate path's
			// resistance, and I_GT falling as exp(−T/T_g).
			phi := e.Degrees * math.Pi / 180
			fire := peak * math.Sin(phi)
			gate := float64(ch.GateResistance+ch.Opto.Slope+ch.Triac.GateSlope) * ch.Triac.TriggerAt(models.QuadrantI, r.cell.temps.Junction[k])
			if scale := float64(ch.Triac.TriggerScale); fire > 0 && scale > 0 {
				st.warm[k] += fire * fire / ohms * math.Tan(phi) * min(1, gate/fire) / (scale * omega * c[tElement])
			}
		}
	}
	if !r.plain(st) {
		need(narrowJunction)
		if carrying {
			need(lateJunction)
		}
	}
	if carrying && r.sol.Dominant() <= dominant {
		need(lateJunction)
	}
	return span
}

// slopes measures how the energies of a step follow the element resistances.
// They serve all half-cycles of the same drives, polarity and resistance
// classes in which the same channels conduct: how the half-cycle begins and
// the junctions' temperatures hardly matter to them.
func (r *reuse) slopes(st *step, from *node, in input) error {
	id := slopeKey{in: in, odd: from.snap.Odd(), class: string(r.resistance())}
	for k := range st.slope {
		if r.carries(st, k) {
			id.conduct |= 1 << k
		}
	}
	known, ok := r.known[id]
	if !ok {
		known = make([]tally, len(st.slope))
		r.known[id] = known
	}
	if !r.measure && r.sol.Dominant() > dominant && r.plain(st) {
		return r.derive(st, id.conduct, known)
	}
	for k := range st.slope {
		e := &r.board.Channels[k].Element
		if e.Coefficient == 0 || !r.carries(st, k) {
			continue
		}
		if known[k] == nil {
			t := circuit.Temperatures{Element: append([]float64(nil), r.cell.temps.Element...), Junction: r.cell.temps.Junction, Board: r.cell.temps.Board}
			ratio := e.ResistanceAt(t.Element[k]) / float64(e.Resistance) * math.Exp(stepLn)
			t.Element[k] = 20 + (ratio-1)/float64(e.Coefficient)
			rec, err := r.solve(from, in, t)
			if err != nil {
				return err
			}
			s := make(tally, len(st.energy))
			s.from(rec, r.board)
			counts := max(countsFrom*st.energy[tSource], r.noise)
			for g := range s {
				if s[g] > counts && st.energy[g] > counts {
					s[g] = math.Log(s[g]/st.energy[g]) / stepLn
				} else {
					s[g] = 0
				}
			}
			known[k] = s
		}
		st.slope[k] = known[k]
	}
	return nil
}

// derive takes slopes from the response of the combination in which the
// half-cycle spent nearly all of its time: an element's energy R·i² goes with
// the square of its current, a triac's V_T0·|i| + r_T·i² in part, and what
// the switching instants cost does not follow at all.
func (r *reuse) derive(st *step, conduct uint32, known []tally) error {
	var sens *circuit.Sensitivity
	for j := range st.slope {
		if r.board.Channels[j].Element.Coefficient == 0 || conduct>>j&1 == 0 {
			continue
		}
		if known[j] == nil {
			if sens == nil {
				var err error
				if sens, err = r.sol.Sensitivity(conduct); err != nil {
					return err
				}
			}
			s := make(tally, len(st.energy))
			s[tSource], s[tWiring], s[tSquare] = sens.Source[j], 2*sens.Supply[j], 2*sens.Supply[j]
			s[tUpstream], s[tVolts] = 2*sens.Supply[j], 2*sens.Voltage[j]
			for k := range st.slope {
				if conduct>>k&1 == 0 {
					continue
				}
				d, c, e := sens.Element[k][j], s.channel(k), st.energy.channel(k)
				ch := &r.board.Channels[k]
				square := e[tElement] / ch.Element.ResistanceAt(r.cell.temps.Element[k]) // ∫i² dt
				c[tElement], c[tWire], c[tLink] = 2*d, 2*d, 2*d
				if k == j {
					c[tElement]++
				}
				if e[tTriac] > 0 {
					c[tTriac] = d * (1 + min(1, square*float64(ch.Triac.Slope)/e[tTriac]))
				}
			}
			known[j] = s
		}
		st.slope[j] = known[j]
	}
	return nil
}

// dominant is the part of a half-cycle that one combination must take for its
// response to give the slopes.
const dominant = 0.9

// slopeKey tells apart the half-cycles whose slopes differ.
type slopeKey struct {
	in      input
	odd     bool
	conduct uint32
	class   string
}

// plain reports whether the load's current takes its proper path: not that of
// a gate or a snubber.
func (r *reuse) plain(s *step) bool {
	sum, rated := 0.0, 0.0
	for k, x := range r.rated {
		c := s.energy.channel(k)
		sum += c[tGate] + c[tSnubber]
		rated += x
	}
	return sum < 1e-3*math.Max(s.energy[tSource], 1e-3*rated)
}

// carries reports whether channel k carries a current that counts.
func (r *reuse) carries(s *step, k int) bool {
	return s.energy.channel(k)[tElement] > 1e-5*r.rated[k]
}

// resistance identifies the present classes of element resistance.
func (r *reuse) resistance() []byte {
	var id []byte
	for k := range r.board.Channels {
		e := &r.board.Channels[k].Element
		id = append(id, byte(resistanceClass(e, r.cell.temps.Element[k])))
	}
	return id
}

// exp is the exponential function, by its series where that is exact to
// 1e-12.
func exp(x float64) float64 {
	if math.Abs(x) > 0.03 {
		return math.Exp(x)
	}
	return 1 + x*(1+x/2*(1+x/3*(1+x/4*(1+x/5))))
}

// sum adds the energies of a block to total, in joules, with the elements at
// the resistances whose logarithms are lnR.
//
// A channel's energies follow the resistances as powers. What the channels
// share is a sum over them: the source's energy goes with Σ I, the losses of
// the wiring and the square of the current with (Σ I)², and a channel's I with
// 1/R.
func (r *reuse) sum(b *block, lnR []float64, total tally) {
	for g, e := range b.energy {
		if e == 0 {
			continue
		}
		x := 0.0
		for k, s := range b.slope {
			if s == nil {
				continue
			}
			d := lnR[k] - r.cell.lnR[k]
			switch g {
			case tSource, tWiring, tSquare:
				d = 1 - exp(-d)
			}
			x += s[g] * d
		}
		if k := g - tShared; k >= 0 {
			switch ch := k / tPerChannel; k % tPerChannel {
			case tElement:
				x += b.warm[ch] * r.shift[ch]
			case tTriac:
				if leak := b.leak[ch]; leak > 0 {
					e += leak * (math.Exp2(r.shift[ch]/10) - 1)
				}
			}
		}
		switch g {
		case tSource:
			for k, w := range b.warm {
				total[g] += w * r.shift[k] * b.energy.channel(k)[tElement]
				if leak := b.leak[k]; leak > 0 {
					total[g] += leak * (math.Exp2(r.shift[k]/10) - 1)
				}
			}
			total[g] += e * (1 + x)
		case tWiring, tSquare:
			total[g] += e * (1 + x/2) * (1 + x/2)
		default:
			total[g] += e * exp(x)
		}
	}
}
