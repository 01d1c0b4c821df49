package disturbance

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"time"

	"boilwright/models"
	"boilwright/sim"
)

// Severity is a flicker severity over a part of a run.
type Severity struct {
	From, To time.Duration
	Value    float64
	// Whole: the part has the length that the severity is meant for, 10 min of
	// P_st and 2 h of P_lt.
	Whole bool
}

// Assessment is what a run of a board did to its supply.
type Assessment struct {
	Run     *sim.Result
	System  System
	Nominal float64 // V, U_n: the supply's fundamental
	// Impedance is that of line and neutral together, at the supply's
	// frequency, in Ω, at the start of the run; Last is that at its end, which
	// differs where a fault of the supply set in between.
	Impedance, Last complex128
	// Observed is the time up to the end, or until the protection cut the
	// board off.
	Observed time.Duration
	Voltage  VoltageChanges
	Short    []Severity // P_st of each 10 min; the last may be shorter
	Long     []Severity // P_lt of each 2 h; the last may be shorter
	// Sensation is P_inst over time, in parts of 1 s, or of 2, 4, 8, ... s in
	// a run that has more than 2048 of those.
	Sensation Sensation
	// Patterns are the distinct states in which the channels were driven, in
	// order of appearance. Left is how many were not analysed: those in force
	// for the shortest times, if there were more than 32.
	Patterns []Pattern
	Left     int
	// Burst is the control window whose changes of drive moved the voltage
	// most; nil if no window had one.
	Burst *Burst
}

// Assess runs a board and tells what it does to its supply at its terminals,
// L and N on the board, whatever the cause: the supply's own events show as
// well. The board counts as connected at the start of the run: a second of the
// supply without any load, as it then is, goes before it.
//
// Flicker and voltage changes are those of every half-cycle of the run.
// Harmonics are those of the exact solution for each state in which the
// channels were driven, with the element and junction temperatures of the
// sample before its first appearance, at the supply's full voltage.
//
// o is as for [sim.Run]; its HalfCycles is called too. A cancelled ctx leaves
// what was done. Errors are those of the run and of the circuit.
func Assess(ctx context.Context, b *models.Board, o sim.Options) (*Assessment, error) {
	w, err := newObserver(b)
	if err != nil {
		return nil, err
	}
	if also := o.HalfCycles; also == nil {
		o.HalfCycles = w.halfCycle
	} else {
		o.HalfCycles = func(h sim.HalfCycle) { also(h); w.halfCycle(h) }
	}
	res, err := sim.Run(ctx, b, o)
	if err != nil {
		return nil, err
	}
	if w.err != nil {
		return nil, w.err
	}
	w.finish()
	first, last := b, b
	if w.first != nil {
		first, last = w.first, w.now.board
	}
	a := &Assessment{
		Run: res, System: w.sys, Nominal: float64(b.Supply.Voltage), Impedance: impedance(&first.Supply), Last: impedance(&last.Supply),
		Observed: w.at(w.fed), Voltage: w.changes.Result(), Short: w.short,
	}
	a.Long = long(a.Short)
	a.Sensation = Sensation{w.at(w.felt.per), w.felt.peak}
	if err := a.patterns(ctx, w); err != nil {
		return nil, err
	}
	return a, a.burst(ctx, w)
}

// shortsInLong is the number of short-term severities in a long-term one.
const shortsInLong = 12

// long makes the long-term severities of the short-term ones.
func long(short []Severity) []Severity {
	var out []Severity
	for i := 0; i < len(short); i += shortsInLong {
		part := short[i:min(i+shortsInLong, len(short))]
		var values []float64
		for _, s := range part {
			values = append(values, s.Value)
		}
		last := part[len(part)-1]
		out = append(out, Severity{part[0].From, last.To, Plt(values), len(part) == shortsInLong && last.Whole})
	}
	return out
}

// impedance returns that of the supply's line and neutral in series, each
// R + jωL shunted in its inductance by the damping.
func impedance(s *models.Supply) complex128 {
	omega := 2 * math.Pi * float64(s.Frequency)
	part := func(ohms, henries float64) complex128 {
		x := complex(0, omega*henries)
		if d := float64(s.Damping); d > 0 && !math.IsInf(d, 1) {
			x = x * complex(d, 0) / (x + complex(d, 0))
		}
		return complex(ohms, 0) + x
	}
	return part(float64(s.LineResistance), float64(s.LineInductance)) + part(float64(s.NeutralResistance), float64(s.NeutralInductance))
}

// Reference reports whether the supply has, all through the run, the reference impedance of
// IEC 60725, 0.4 + j0.25 Ω at 50 Hz, to 2 %: limits on flicker and voltage
// changes are meant for a test on that.
func (a *Assessment) Reference() bool {
	const z = 0.4 + 0.25i
	near := func(x complex128) bool { return cmplx.Abs(x-z) <= 0.02*cmplx.Abs(z) }
	return math.Abs(float64(a.System.Frequency)-50) < 1 && near(a.Impedance) && near(a.Last)
}

// MostDistorting returns the pattern whose direct current and harmonic
// currents to order 40 are the greatest together, the first of equals; nil if
// no pattern was analysed.
func (a *Assessment) MostDistorting() *Pattern {
	var best *Pattern
	most := -1.0
	for i := range a.Patterns {
		p := &a.Patterns[i]
		if x := math.Hypot(p.Current.RMS[0], p.Current.Harmonic()); x > most {
			best, most = p, x
		}
	}
	return best
}

// Limits on severities (IEC 61000-3-3 clause 5).
const (
	limitShort = 1.0
	limitLong  = 0.65
)

// Checks compares the assessment with limits: voltage changes, the worst
// severities of whole length, and of each set of harmonics the one that lies
// highest against its limit.
func (a *Assessment) Checks() []Check {
	out := a.Voltage.Checks()
	const source = "IEC 61000-3-3 clause 5"
	worst := func(what string, of []Severity, limit float64) {
		c := Check{What: what, Limit: limit, Source: source}
		whole := false
		for _, s := range of {
			if s.Whole {
				c.Value, whole = math.Max(c.Value, s.Value), true
			}
		}
		if whole {
			out = append(out, c)
		}
	}
	worst("short-term flicker severity P_st", a.Short, limitShort)
	worst("long-term flicker severity P_lt", a.Long, limitLong)
	var current, voltage []Check
	for i := range a.Patterns {
		p := &a.Patterns[i]
		current = append(current, p.named(p.Current.ClassA())...)
		voltage = append(voltage, p.named(p.Voltage.Voltage())...)
	}
	sets := [][]Check{current, voltage}
	if a.Burst != nil {
		sets = append(sets, a.Burst.Current.ClassA())
	}
	for _, set := range sets {
		if c, ok := Worst(set); ok {
			out = append(out, c)
		}
	}
	return out
}

// String says in a line what was found.
func (a *Assessment) String() string {
	pst := 0.0
	for _, s := range a.Short {
		pst = math.Max(pst, s.Value)
	}
	return fmt.Sprintf("d_max %.2f %%, d_c %.2f %%, %.1f changes a minute, P_st up to %.2f", a.Voltage.Max, a.Voltage.Steady, a.Voltage.PerMinute, pst)
}
