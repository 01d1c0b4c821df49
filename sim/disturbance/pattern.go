package disturbance

import (
	"context"
	"fmt"
	"strings"
	"time"

	"boilwright/models"
	"boilwright/sim"
	"boilwright/sim/circuit"
)

// Pattern is a state in which the channels were driven, held until the
// circuit repeats each cycle.
type Pattern struct {
	Board        *models.Board // the version in force; not to be changed
	Drives, Open uint32        // bits, bit k of channel k: driven; its thermal link open
	Upstream     bool          // the upstream link open
	First        time.Duration // when it first appeared
	HalfCycles   int64         // for how many half-cycles it was in force
	Periodic     bool          // it came to repeat; else the mean over some cycles
	Current      *Spectrum     // A, out of the source
	Voltage      *Spectrum     // V between L and N on the board
}

// Driven returns the names of the channels driven in a pattern, in order.
func (p *Pattern) Driven() []string {
	var names []string
	for k := range p.Board.Channels {
		if p.Drives>>k&1 == 1 {
			names = append(names, p.Board.Channels[k].Name)
		}
	}
	return names
}

// named says in each check which channels were driven.
func (p *Pattern) named(checks []Check) []Check {
	names := p.Driven()
	if len(names) == 0 {
		names = []string{"nothing"}
	}
	for i := range checks {
		checks[i].What += " with " + strings.Join(names, "+") + " driven"
	}
	return checks
}

// Burst is a control window whose cycles differ, repeated.
type Burst struct {
	From    time.Duration // when the window began
	Cycles  []uint32      // drives by cycle, bit k of channel k
	Current Grouped       // A
}

// Cycles within which a circuit is to become periodic.
const settleCycles = 60

// patterns analyses the states that the observer saw.
func (a *Assessment) patterns(ctx context.Context, w *observer) error {
	spells, left := w.spells()
	for i, s := range spells {
		if ctx.Err() != nil {
			left += len(spells) - i
			break
		}
		p, err := pattern(s.state, a.temperatures(w.at(s.first)))
		if err != nil {
			return fmt.Errorf("drives %b: %w", s.drives, err)
		}
		p.First, p.HalfCycles = w.at(s.first), s.n
		a.Patterns = append(a.Patterns, *p)
	}
	a.Left = left
	return nil
}

// temperatures returns those of the last sample not after t.
func (a *Assessment) temperatures(t time.Duration) circuit.Temperatures {
	var s sim.Sample
	for _, x := range a.Run.Samples {
		if x.Time > t {
			break
		}
		s = x
	}
	out := circuit.Temperatures{Board: s.Pocket}
	for _, c := range s.Channels {
		out.Element = append(out.Element, c.Element)
		out.Junction = append(out.Junction, c.Junction)
	}
	return out
}

// solver returns the circuit of a state with its links open, and the input for
// given drives.
func (s state) solver(temps circuit.Temperatures) (*circuit.Solver, func(drives uint32) circuit.Input, error) {
	sol, err := circuit.New(s.board)
	if err != nil {
		return nil, nil, err
	}
	sol.SetTemperatures(temps)
	for k := range s.board.Channels {
		if s.open>>k&1 == 1 && !sol.LinkOpen(k) {
			sol.OpenLink(k)
		}
	}
	if s.upstream && s.board.Upstream != nil && !s.board.Upstream.Open {
		sol.OpenLink(-1)
	}
	volts := make([]float64, len(s.board.Channels))
	return sol, func(drives uint32) circuit.Input {
		for k := range volts {
			d := &s.board.Channels[k].Drive
			volts[k] = float64(d.Off)
			if drives>>k&1 == 1 {
				volts[k] = float64(d.On)
			}
		}
		return circuit.Input{Factor: 1, Drive: volts}
	}, nil
}

// pattern solves a state until it is periodic and takes its spectra.
func pattern(s state, temps circuit.Temperatures) (*Pattern, error) {
	sol, input, err := s.solver(temps)
	if err != nil {
		return nil, err
	}
	in := func(int64) circuit.Input { return input(s.drives) }
	p := &Pattern{Board: s.board, Drives: s.drives, Open: s.open, Upstream: s.upstream}
	if p.Periodic, err = sol.Settle(settleCycles, in); err != nil {
		return nil, err
	}
	cycles := 1
	if !p.Periodic {
		cycles = WindowCycles(float64(s.board.Supply.Frequency))
	}
	r, err := sol.Record(2*cycles, in)
	if err != nil {
		return nil, err
	}
	current, err := sol.Current("source")
	if err != nil {
		return nil, err
	}
	volts, err := sol.Voltage(models.At(models.Line, 0), models.At(models.Neutral, 0))
	if err != nil {
		return nil, err
	}
	if p.Current, err = Harmonics(r, current); err != nil {
		return nil, err
	}
	p.Current.DC = -p.Current.DC // the branch's current flows into the source
	p.Voltage, err = Harmonics(r, volts)
	return p, err
}

// longestBurst is the number of analysis windows taken of a control window,
// the first 5 s of it; runIn the cycles from its end that go before.
const (
	longestBurst = 25
	runIn        = 50
)

// burst groups the harmonics of the window that moves the voltage most, as if
// it followed on itself.
func (a *Assessment) burst(ctx context.Context, w *observer) error {
	cycles := len(w.best.drives)
	if cycles == 0 || ctx.Err() != nil {
		return nil
	}
	out := &Burst{From: w.at(w.best.from), Cycles: w.best.drives}
	sol, input, err := w.best.solver(a.temperatures(out.From))
	if err != nil {
		return err
	}
	before := min(cycles, runIn)
	in := func(h int64) circuit.Input { return input(w.best.drives[(int(h/2)+cycles-before)%cycles]) }
	for range 2 * before {
		if _, err := sol.HalfCycle(in(sol.Half())); err != nil {
			return err
		}
	}
	current, err := sol.Current("source")
	if err != nil {
		return err
	}
	n := WindowCycles(float64(a.System.Frequency))
	g, err := NewWindows(n)
	if err != nil {
		return err
	}
	for range min(longestBurst, (cycles+n-1)/n) {
		r, err := sol.Record(2*n, in)
		if err != nil {
			return err
		}
		if err := g.Add(r, current); err != nil {
			return err
		}
	}
	out.Current = g.Result()
	out.Current.DC = -out.Current.DC // the branch's current flows into the source
	a.Burst = out
	return nil
}
