package sim

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"boilwright/models"
	"boilwright/sim/circuit"
	"boilwright/sim/heat"
)

// warmth is how energies follow the junctions, by channel.
type warmth struct {
	// warm is d ln E/dT of the element, 1/K: a warm triac fires sooner. In a
	// block under way it is that times E.
	warm []float64
	// leak is the part in J of a triac's loss that its leakage makes, zero where what
	// leaks has been measured, see leaking.
	leak []float64
}

func (r *reuse) newWarmth() warmth {
	n := len(r.board.Channels)
	return warmth{r.room.numbers.take(n), r.room.numbers.take(n)}
}

// feel notes how a half-cycle follows the junctions' temperatures, and narrows
// the classes of each channel to the width within which it does: the widest
// where its triac fires early and once if it conducts, and is not near firing
// and leaks little if it blocks.
func (r *reuse) feel(st *step, rec *circuit.Record, factor float64) {
	b := r.board
	late, leaks := widest, widest
	late.junction, late.late, leaks.leakage = lateJunction, true, narrowLeakage
	peak := math.Sqrt2 * float64(b.Supply.Voltage)
	r.ending = 0
	for k := range st.warm {
		c, ch := st.energy.channel(k), &b.Channels[k]
		ohms := r.cell.ohms[k]
		r.endure(k)
		if c[tGate] >= r.little(st) && fires(&ch.Triac) {
			r.narrow(k, late)
		}
		conducted := r.sol.Conducted(k)
		if !conducted {
			r.almost(k)
		}
		ends := conducted && !fired(rec, k)
		if ends {
			r.ending |= 1 << k
		}
		if !r.bridged[k] && (ends || !conducted) {
			r.blocked(st, k, factor, ends)
		}
		if !r.carries(st, k) {
			if r.bridged[k] && c[tTriac]+c[tElement] >= leaky*peak*peak/2/ohms*rec.Duration {
				r.narrow(k, leaks)
			}
			continue
		}
		again := false
		for i := range rec.Events {
			e := &rec.Events[i]
			switch {
			case e.Channel != k || e.Half != rec.Half:
			case e.Kind == circuit.Fired:
				r.fired(st, k, e, rec.Duration, again)
				again = true
			case e.Kind == circuit.Extinguished && e.Degrees < 180-early:
				r.narrow(k, late)
			}
		}
	}
}

// fired reports whether the triac of channel k fired in the half-cycle: else its current
// is that of the one before.
func fired(rec *circuit.Record, k int) bool {
	return slices.ContainsFunc(rec.Events, func(e circuit.Event) bool {
		return e.Kind == circuit.Fired && e.Channel == k && e.Half == rec.Half
	})
}

// endure narrows the classes of channel k until its triac, which withstands
// less by exp(−T/T_d) as it warms, does not fire by itself anywhere in one if
// it does not in the middle.
func (r *reuse) endure(k int) {
	x := r.sol.Strain(k)
	if x == 0 {
		return
	}
	r.strain = max(r.strain, x)
	to := widest
	to.junction = sparing(x*strainMargin, float64(r.board.Channels[k].Triac.RateScale))
	if x >= failing {
		r.failing = true
		to.junction = lateJunction
	}
	r.narrow(k, to)
}

// slopes measures how the energies of a step follow the element resistances.
// They serve all half-cycles of the same drives, polarity and resistance
// classes in which the same channels conduct: how the half-cycle begins and
// the junctions' temperatures hardly matter to them.
func (r *reuse) slopes(st *step, from *node, in input) error {
	var room [64]byte
	id := slopeKey{in: in, odd: from.snap.Odd(), conduct: r.conducting(st), class: string(r.resistance(room[:0]))}
	known, ok := r.sloped[id]
	if !ok {
		known = make([]tally, len(st.slope))
		r.sloped[id] = known
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
			t := circuit.Temperatures{Element: slices.Clone(r.cell.temps.Element), Junction: r.cell.temps.Junction, Leakage: r.cell.temps.Leakage, Board: r.cell.temps.Board}
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
			r.couple(j, conduct, sens)
			s := make(tally, len(st.energy))
			s[tWiring], s[tSquare] = 2*sens.Supply[j], 2*sens.Supply[j]
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

// couple narrows the classes of channel j's resistance where it moves what
// another channel takes by more than a little: what two channels do to each
// other is left out.
func (r *reuse) couple(j int, conduct uint32, sens *circuit.Sensitivity) {
	for k := range sens.Element {
		if k != j && conduct>>k&1 == 1 && math.Abs(2*sens.Element[k][j]) > coupled {
			fine := widest
			fine.resistance = narrowResistance
			r.narrow(j, fine)
		}
	}
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

// fires reports whether a triac's gate can make it fire at all.
func fires(t *models.Triac) bool { return !t.Open && !t.GateOpen }

// little is an energy in J below which a gate path or a snubber does not carry a
// load's current.
func (r *reuse) little(s *step) float64 {
	rated := 0.0
	for _, x := range r.rated {
		rated += x
	}
	return 1e-3 * math.Max(s.energy[tSource], 1e-3*rated)
}

// plain reports whether the loads' currents take their proper paths: not that
// of a gate or a snubber, or one beside a triac.
func (r *reuse) plain(s *step) bool {
	little := r.little(s)
	for k := range r.rated {
		c := s.energy.channel(k)
		if c[tGate]+c[tSnubber] >= little || r.bridged[k] && c[tTriac] >= little {
			return false
		}
	}
	return true
}

// carried is the part of what its element takes at full power above which a channel
// counts as carrying a current.
const carried = 1e-5

// carries reports whether channel k carries a current that counts.
func (r *reuse) carries(s *step, k int) bool {
	return s.energy.channel(k)[tElement] > carried*r.rated[k]
}

// conducting returns the channels that do, by bit.
func (r *reuse) conducting(s *step) uint32 {
	out := uint32(0)
	for k := range s.slope {
		if r.carries(s, k) {
			out |= 1 << k
		}
	}
	return out
}

// resistance appends what identifies the present classes of element resistance.
func (r *reuse) resistance(id []byte) []byte {
	for k := range r.board.Channels {
		e := &r.board.Channels[k].Element
		w := r.widths[k].resistance
		id = append(id, byte(resistanceClass(e, r.cell.temps.Element[k], w)), byte(100*w))
	}
	return id
}

// slopeOf returns d ln E/d ln R of a group of a block with the resistance of
// channel k; energies that are rounding have none.
func (r *reuse) slopeOf(b *block, k, group int) float64 {
	if e := b.energy[group]; e > r.noise {
		return b.slope[k][group] / e
	}
	return 0
}

// sum adds the energies of a block to total, in joules, with the elements at
// the given resistances in ohms. What the channels share goes with the square of
// the sum of their currents; what the source gives is what all of them take.
func (r *reuse) sum(b *block, ohms []float64, total tally) {
	var room [mostGliding]moved
	moves := room[:0]
	drops := r.drops // J, what the moves of all currents make of each group
	clear(drops)
	for k, slope := range b.slope {
		var m moved
		m.move(ohms[k]/r.cell.ohms[k], r.slopeOf(b, k, tShared+k*tPerChannel+tElement))
		moves = append(moves, m)
		if m.drop != 0 {
			floats.AddScaled(drops, m.drop, slope)
		}
	}
	more := 0.0 // J, than the source gives at the temperatures of the class
	for k, own := range b.slope {
		m, at := &moves[k], tShared+k*tPerChannel
		for i, e := range b.energy.channel(k) {
			if e == 0 {
				continue
			}
			slope, x := 0.0, 0.0
			if e > r.noise {
				slope, x = own[at+i]/e, (drops[at+i]-own[at+i]*m.drop)/e
			}
			f, add := 1.0, 0.0
			switch i {
			case tElement:
				f = m.element()
				if e > r.noise {
					f *= 1 + b.warm[k]/e*r.shift[k]
				}
			case tTriac:
				f = m.triac(slope)
				if leak := b.leak[k]; leak > 0 {
					add = leak * r.leaks[k/heat.Wide].more[k%heat.Wide]
				}
			case tWire, tLink:
				f = m.wire()
			default:
				f = m.carried(slope)
			}
			now := e*f*others(x) + add
			total[at+i] += now
			if i != tLink { // which is part of the wire
				more += now - e
			}
		}
	}
	for g, e := range b.energy[:tShared] {
		now := e
		if g != tSource && e > r.noise {
			now *= others(drops[g] / e)
		}
		if g == tWiring || g == tUpstream {
			more += now - e
		}
		total[g] += now
	}
	total[tSource] += more
	if b.used > common(len(b.slope)) {
		for k, d := range b.late {
			floats.AddScaled(total, r.late[k], d)
		}
		for k := range b.leaking {
			b.leaking[k].add(total, r.leaks[k/heat.Wide].more[k%heat.Wide], r.cell.family.bends[k])
		}
	}
}
