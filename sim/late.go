package sim

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// A triac that fires late moves its firing with the temperature of its junction,
// and with it all energies. How much is measured, by solving a half-cycle a
// kelvin warmer; how it goes on from there is known from the instant of firing.

// firing is how a triac's firing follows its junction: the gate current, as far
// as it follows the supply, reaches I_GT·exp(−ΔT/T_g) at
//
//	sin φ = sin φ₀ + reach·(exp(−ΔT/T_g) − 1)
type firing struct {
	sine, reach float64
	scale       float64 // T_g, K
}

// newFiring returns how the firing e follows, in half-cycles of duration
// seconds; one that its gate current jumped to has no reach.
func newFiring(e *circuit.Event, duration, scale float64) firing {
	phi := e.Degrees * math.Pi / 180
	f := firing{sine: math.Sin(phi), scale: scale}
	if e.Rise > 0 {
		f.reach = math.Cos(phi) * math.Pi / duration / e.Rise
	}
	return f
}

// steepest is the sine beyond which a firing near the supply's peak no longer
// follows so.
const steepest = 0.95

// holds reports whether it does throughout a class of the given width in K.
func (f *firing) holds(width float64) bool {
	return f.reach > 0 && f.sine+f.reach*math.Expm1(width/2/f.scale) < steepest
}

// moves returns what a junction warmer by t K adds to the energy of the rest of
// the half-cycle, of any unit: that of sin² from the firing on.
func (f *firing) moves(t float64) float64 {
	if f.reach == 0 {
		return 0
	}
	before := func(sine float64) float64 {
		return math.Asin(sine) - sine*math.Sqrt(1-sine*sine)
	}
	now := f.sine + f.reach*math.Expm1(-t/f.scale)
	return before(f.sine) - before(max(0, min(now, 1)))
}

// fired notes how the energies of a half-cycle follow the junction of channel k,
// whose triac fired in it: of an early firing by its instant, of a late one by
// what the half-cycle is found to do. It narrows the channel's classes to what
// that holds for.
func (r *reuse) fired(st *step, k int, e *circuit.Event, duration float64, again bool) {
	scale := float64(r.board.Channels[k].Triac.TriggerScale)
	to := widest
	to.late = again || e.Degrees > early
	switch f := newFiring(e, duration, scale); {
	case again || !(scale > 0):
		to.junction = lateJunction
	case e.Degrees <= early:
		if e.Rise > 0 {
			// dE = −p·dt with p = 2·E/duration·sin²φ, and with I_GT falling as
			// exp(−T/T_g) the instant is sooner by dT/(T_g·Rise).
			st.warm[k] += 2 * f.sine * f.sine / (duration * e.Rise * scale)
		}
		return
	case e.Rise == 0: // and so it does at other temperatures, with current enough
		to.junction = sparing(gateMargin/e.Gate, scale)
	case f.holds(followedJunction):
		to.junction = followedJunction
		if r.cell.firing[k].reach == 0 {
			*r.cell.firing[k] = f
			r.late[k] = f.moves(r.shift[k])
		}
		st.late = r.lists(st.late)
		st.late[k] = r.room.numbers.take(len(st.energy))
		r.angles[k] = e.Degrees
	default:
		to.junction = lateJunction
	}
	r.narrow(k, to)
}

// almost narrows the classes of channel k, whose triac did not fire, until its
// gate does not fire it anywhere in one either.
func (r *reuse) almost(k int) {
	to := widest
	to.junction = sparing(r.sol.Urge(k)*gateMargin, float64(r.board.Channels[k].Triac.TriggerScale))
	if to.junction < wideJunction {
		to.late = true
		r.narrow(k, to)
	}
}

// lists returns a list of tallies by channel.
func (r *reuse) lists(l []tally) []tally {
	if l == nil {
		l = make([]tally, len(r.board.Channels))
	}
	return l
}

// lateKey tells apart the half-cycles of a class that follow the late firing of a
// channel in different ways: how they begin hardly matters if the channel fires at
// the same angle.
type lateKey struct {
	in      input
	odd     bool
	conduct uint32
	channel int
}

// lateGain is what a channel's late firing at an angle in degrees adds to
// energies, see step.
type lateGain struct {
	degrees float64
	gain    tally
}

// sameAngle is by how many degrees late firings may differ that move energies the
// same way.
const sameAngle = 0.01

// measureLate solves a half-cycle again with the junctions of channels that
// fired late a kelvin warmer, unless one like it has been.
func (r *reuse) measureLate(st *step, from *node, in input) error {
	for k, d := range st.late {
		if d == nil {
			continue
		}
		id := lateKey{in, from.snap.Odd(), r.conducting(st), k}
		if like, ok := r.cell.gains[id]; ok && math.Abs(like.degrees-r.angles[k]) <= sameAngle {
			copy(d, like.gain)
			continue
		}
		t := r.cell.temps
		t.Junction = slices.Clone(t.Junction)
		t.Junction[k]++
		rec, err := r.solve(from, in, t)
		if err != nil {
			return err
		}
		d.from(rec, r.board)
		unit := r.cell.firing[k].moves(1)
		for g := range d {
			d[g] = (d[g] - st.energy[g]) / unit
		}
		if r.cell.gains == nil {
			r.cell.gains = map[lateKey]lateGain{}
		}
		r.cell.gains[id] = lateGain{r.angles[k], d}
	}
	return nil
}

// lateness is what a channel's late firing adds to a plan.
type lateness struct {
	gain  tally   // see step
	until float64 // s, when it conducts last
	// The mean temperature of the junction until then, see run.mean.
	kept []float64
	rise float64
}

// collect adds what late firings make of a part, whose account may tell of some, that
// ends at a time in s from the start of the window.
func collect(e *reuse, p *plan, account []float64, ends float64) {
	n := len(e.board.Channels)
	size := tallySize(n)
	for k := range n {
		d := portion(account, common(n)+k*size, size)
		if element := tShared + k*tPerChannel + tElement; len(d) <= element || d[element] == 0 {
			continue
		}
		l := p.rarely().late[k]
		if l == nil {
			foster := e.board.Channels[k].Triac.Foster
			l = &lateness{gain: e.room.numbers.take(size), kept: e.room.numbers.take(len(foster))[:0]}
			p.rare.late[k] = l
		}
		l.until = ends
		floats.Add(l.gain[:len(d)], d)
	}
}

// portion returns what there is of many numbers of a row from a place on.
func portion(row []float64, at, many int) []float64 {
	return row[min(at, len(row)):min(at+many, len(row))]
}

// warm sets the mean temperature under energy J of loss in the triac.
func (l *lateness) warm(t *models.Triac, energy float64) {
	for _, f := range t.Foster {
		x := l.until / float64(f.Time)
		kept := -math.Expm1(-x) / x
		l.kept = append(l.kept, kept)
		l.rise += energy / l.until * float64(f.Resistance) * (1 - kept)
	}
}

// moves returns what late firings and leaks add to the energies of a plan, with the
// junctions at their mean temperatures while they conduct, or while they leak.
func (r *run) moves(e *reuse, p *plan) tally {
	sum := r.none
	for k := range r.n {
		late, leaks := p.rare.late[k], p.rare.leaks[k]
		if late == nil && leaks == nil {
			continue
		}
		if &sum[0] == &r.none[0] {
			sum = r.sums
			clear(sum)
		}
		if late != nil {
			warmer := r.mean(k, late.kept, late.rise) - e.cell.temps.Junction[k]
			floats.AddScaled(sum, e.cell.firing[k].moves(warmer), late.gain)
		}
		if leaks != nil {
			bend, at := e.cell.family.bends[k], e.cell.temps.Leakage[k]
			grown := func(rise float64) float64 {
				return math.Expm1(leakageLaw * (bearable(r.mean(k, leaks.kept, rise)) - at))
			}
			// What leaks warms the junction too.
			rise := leaks.rise * (1 + leaks.heats(k, grown(leaks.rise), bend)/p.triac[k])
			leaks.add(sum, grown(rise), bend)
		}
	}
	return sum
}

// mean returns a mean temperature of the junction of channel k in the coming window:
// kept parts of its stages' temperatures and rise K above the pocket.
func (r *run) mean(k int, kept []float64, rise float64) float64 {
	t := r.heat.State().Pocket + rise
	for i, part := range kept {
		t += part * *r.stage(k, i)
	}
	return t
}
