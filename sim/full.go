package sim

import (
	"math"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// full solves every half-cycle at its own temperatures: the engine against
// which the reuse of half-cycles is checked.
type full struct {
	sol    *circuit.Solver
	board  *models.Board
	n      int
	drive  []float64
	temps  circuit.Temperatures
	each   bool // blocks keep their half-cycles apart
	marked circuit.Snapshot
	count  int64
}

func (r *run) newFull(b *models.Board, sol *circuit.Solver) *full {
	return &full{sol: sol, board: b, n: r.n, each: r.o.HalfCycles != nil}
}

// fineResistance is the relative step to which element resistances are
// rounded, and temperatures of leakage are to a kelvin, so that the network need
// not be set up anew for changes that do not show. The rounding goes both ways, so it does not add up.
const fineResistance = 1e-5

func (f *full) class(t circuit.Temperatures) {
	if f.drive == nil {
		f.drive = make([]float64, f.n)
		f.temps = circuit.Uniform(f.n, 25)
		f.temps.Leakage = make([]float64, f.n)
	}
	for k := range f.n {
		e := &f.board.Channels[k].Element
		f.temps.Element[k] = t.Element[k]
		if a := float64(e.Coefficient); a != 0 {
			f.temps.Element[k] = 20 + fineResistance*math.Round(a*(t.Element[k]-20)/fineResistance)/a
		}
		f.temps.Junction[k], f.temps.Leakage[k] = t.Junction[k], math.Round(t.Junction[k])
	}
	f.temps.Board = math.Round(t.Board)
	f.sol.SetTemperatures(f.temps)
}

func (f *full) advance(in input, n int64, b *block) error {
	for k := range f.drive {
		d := &f.board.Channels[k].Drive
		f.drive[k] = float64(d.Off)
		if in.drives>>k&1 == 1 {
			f.drive[k] = float64(d.On)
		}
	}
	clear(b.all)
	b.used = len(b.energy)
	b.halves = b.halves[:0]
	t := make(tally, len(b.energy))
	for range n {
		rec, err := f.sol.HalfCycle(circuit.Input{Factor: in.factor, Drive: f.drive})
		if err != nil {
			return err
		}
		f.count++
		t.from(rec, f.board)
		for g, e := range t {
			b.energy[g] += e
		}
		if f.each {
			b.halves = append(b.halves, terminal{t[tVolts], t[tSquare]})
		}
	}
	return nil
}

func (f *full) sum(b *block, _ []float64, total tally) {
	for g, e := range b.energy {
		total[g] += e
	}
}

func (f *full) change(do func(*circuit.Solver)) { do(f.sol) }
func (f *full) mark()                           { f.sol.Snapshot(&f.marked) }
func (f *full) rewind()                         { f.sol.Restore(&f.marked) }
func (f *full) settle()                         {}
func (f *full) restart()                        {}
func (f *full) solved() int64                   { return f.count }
