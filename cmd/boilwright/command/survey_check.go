package command

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"strings"
	"time"

	"boilwright/models"
	"boilwright/sim"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

// surveyTolerance is the deviation, relative to its scale, beyond which a
// balance is violated.
const surveyTolerance = 1e-9

// The kinds of violation.
const (
	panicked    = "panic"
	notFinite   = "not finite"
	unbalanced  = "energy balance"
	unjoined    = "Kirchhoff"
	unexplained = "unexplained error"
)

// finding is what became of one circuit.
type finding struct {
	done       bool
	rejected   string // kind of the error that explains why it has no solution
	why        string // the error
	violations []violation
	halves     int // half-cycles solved
	switchings int // the most in a half-cycle
	// energy and kirchhoff are the worst deviations, relative to their scales.
	energy, kirchhoff float64
}

// violation is something that must never come about.
type violation struct{ kind, detail string }

func (f *finding) violate(kind, format string, args ...any) {
	f.violations = append(f.violations, violation{kind, fmt.Sprintf(format, args...)})
}

// The kinds of rejection, besides states without a solution.
const (
	misfit     = "a fault that does not fit the board"
	outOfRange = "a value out of its bounds"
	unsolvable = "a network that cannot be set up"
	runStopped = "a run that cannot go on"
)

// fail sorts an error into those that say what was found and expected, which
// are rejections of the given kind, those that say which states are without a
// solution, and those that should not come about.
func (f *finding) fail(kind string, err error) {
	text := err.Error()
	_, state, inconsistent := strings.Cut(text, "no consistent state of the circuit ")
	switch {
	case strings.Contains(text, "no longer finite"):
		f.violate(notFinite, "%s", firstLine(text))
	case strings.Contains(text, "energy balance"):
		f.violate(unbalanced, "%s", firstLine(text))
	case inconsistent:
		_, why, _ := strings.Cut(state, ": ")
		why, _, _ = strings.Cut(why, ";")
		f.rejected, f.why = "no consistent state: "+why, text
	case strings.Contains(text, "found ") && strings.Contains(text, "expected "):
		f.rejected, f.why = kind, text
	default:
		f.violate(unexplained, "%s", firstLine(text))
	}
}

func firstLine(s string) string {
	s, _, _ = strings.Cut(s, "\n")
	return s
}

// survive calls f and turns a panic in it into a violation.
func (f *finding) survive(work func()) {
	defer func() {
		if x := recover(); x != nil {
			f.violate(panicked, "%v%s", x, panicPlace())
		}
	}()
	work()
}

// panicPlace is the innermost function of this program that panicked.
func panicPlace() string {
	pcs := make([]uintptr, 64)
	frames := runtime.CallersFrames(pcs[:runtime.Callers(1, pcs)])
	inside := false
	for {
		fr, more := frames.Next()
		if inside && strings.HasPrefix(fr.Function, "boilwright/") {
			return fmt.Sprintf(" in %s, line %d", fr.Function, fr.Line)
		}
		inside = inside || fr.Function == "runtime.gopanic"
		if !more {
			return ""
		}
	}
}

// faulty returns the drawn board with its faults, or nil where that is
// explained to be impossible.
func (f *finding) faulty(c *drawn) *models.Board {
	b, err := c.set.Applied(c.board)
	if err != nil {
		f.fail(misfit, err)
		return nil
	}
	if err := boardfile.Check(b); err != nil {
		f.fail(outOfRange, err)
		return nil
	}
	return b
}

// solve advances the circuit through all its cycles and checks every
// half-cycle.
func (f *finding) solve(c *drawn, b *models.Board) {
	s, err := circuit.New(b)
	if err != nil {
		f.fail(unsolvable, err)
		return
	}
	s.SetTemperatures(c.temps)
	k, err := newKirchhoff(s)
	if err != nil {
		f.fail(unsolvable, err)
		return
	}
	s.OnSegment(k.look)
	e := newEnergyAccount(b)
	for half := range 2 * len(c.on) {
		r, err := s.HalfCycle(c.input(b, half))
		if err != nil {
			f.fail(unsolvable, err)
			break
		}
		f.halves++
		f.switchings = max(f.switchings, r.Switchings)
		e.add(r)
	}
	f.energy, f.kirchhoff = e.worst(), k.worst()
	switch {
	case math.IsNaN(f.energy + f.kirchhoff):
		f.violate(notFinite, "a voltage, a current or an energy is no number")
		f.energy, f.kirchhoff = 0, 0
	case f.energy > surveyTolerance:
		f.violate(unbalanced, "deviation %.2g in half-cycle %d", f.energy, e.at)
	}
	if f.kirchhoff > surveyTolerance {
		f.violate(unjoined, "currents at %s leave %.2g of the largest", k.nodes[k.at], f.kirchhoff)
	}
}

// energyAccount compares what the source gave with what became of it. The
// scale in joules is what a half-cycle turned over, at least what the
// capacitors take and give back and a part in 10⁴ of what a load of 200 Ω
// takes.
type energyAccount struct {
	scale, rest float64
	at          int64
}

func newEnergyAccount(b *models.Board) energyAccount {
	square := float64(b.Supply.Voltage * b.Supply.Voltage)
	farads := float64(b.Supply.AcrossCapacitance)
	for k := range b.Channels {
		farads += float64(b.Channels[k].Snubber.Capacitance)
	}
	return energyAccount{scale: math.Max(farads*square, 1e-4*square/200*b.Supply.HalfCycle())}
}

func (e *energyAccount) add(r *circuit.Record) {
	e.scale = math.Max(e.scale, math.Max(math.Abs(r.Source), math.Max(math.Abs(r.Dissipated()), math.Abs(r.Stored))))
	if rest := math.Abs(r.Source - r.Dissipated() - r.Stored); !(rest <= e.rest) {
		e.rest, e.at = rest, r.Half
	}
}

func (e *energyAccount) worst() float64 { return e.rest / e.scale }

// kirchhoff sums the currents at every node in the middle and at the end of
// segments. The
// scale is the largest current of any branch, at least that of the largest
// voltage through 10 kΩ.
type kirchhoff struct {
	nodes        []string
	from, to     []int // of each branch
	amps, volts  []circuit.Signal
	sums         []float64
	seen         int
	rest         float64
	at           int
	peakV, peakI float64
}

func newKirchhoff(s *circuit.Solver) (*kirchhoff, error) {
	k := &kirchhoff{peakV: 1}
	index := map[string]int{}
	node := func(n models.Node, branch string) int {
		name := n.String()
		if n.Place < 0 { // within an impedance, whose parts share its name
			name, _, _ = strings.Cut(branch, " ")
		}
		i, ok := index[name]
		if !ok {
			i = len(k.nodes)
			index[name] = i
			k.nodes = append(k.nodes, name)
		}
		return i
	}
	for _, branch := range s.Branches() {
		a, b, err := s.Ends(branch)
		if err != nil {
			return nil, err
		}
		amps, err := s.Current(branch)
		if err != nil {
			return nil, err
		}
		volts, err := s.BranchVoltage(branch)
		if err != nil {
			return nil, err
		}
		k.from, k.to = append(k.from, node(a, branch)), append(k.to, node(b, branch))
		k.amps, k.volts = append(k.amps, amps), append(k.volts, volts)
	}
	k.sums = make([]float64, len(k.nodes))
	return k, nil
}

// look takes the first segments and then every so many.
func (k *kirchhoff) look(g *circuit.Segment) {
	k.seen++
	if k.seen > 32 && k.seen%16 != 0 {
		return
	}
	for _, t := range [2]float64{g.T0 + (g.T1-g.T0)/2, g.T1} {
		clear(k.sums)
		for i := range k.amps {
			a := g.Value(k.amps[i], t)
			k.sums[k.from[i]] += a
			k.sums[k.to[i]] -= a
			k.peakI = math.Max(k.peakI, math.Abs(a))
			k.peakV = math.Max(k.peakV, math.Abs(g.Value(k.volts[i], t)))
		}
		for i, x := range k.sums {
			if x = math.Abs(x); !(x <= k.rest) {
				k.rest, k.at = x, i
			}
		}
	}
}

func (k *kirchhoff) worst() float64 {
	return k.rest / math.Max(k.peakI, 1e-4*k.peakV)
}

// run simulates circuit and heat of the drawn board for a short time with its
// faults in it from the start.
func (f *finding) run(ctx context.Context, c *drawn, seed uint64, d time.Duration) {
	edits, err := c.set.Start(seed)
	if err != nil {
		f.fail(runStopped, err)
		return
	}
	o := sim.Options{Duration: d, Every: time.Second}
	if len(c.set) > 0 {
		o.Edits = edits
	}
	r, err := sim.Run(ctx, c.board, o)
	if err != nil {
		f.fail(runStopped, err)
		return
	}
	for _, s := range r.Samples {
		sum := s.Lid + s.Pocket + s.Power + s.Current
		for _, x := range s.Channels {
			sum += x.Element + x.Water + x.Shell + x.Link + x.Junction + x.Probe + x.Reading + x.Mass + x.Pressure + x.Drive + x.Power
		}
		if math.IsNaN(sum) || math.IsInf(sum, 0) {
			f.violate(notFinite, "a value of the run at %v is no number", s.Time)
			return
		}
	}
	if err := r.Heat.Check(); err != nil {
		f.fail(runStopped, err)
	}
}
