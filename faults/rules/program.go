package rules

import (
	"context"
	"fmt"
	"slices"
	"sync"

	"cel.dev/cel-go/cel"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim/population/evidence"
)

// Program is the rules of a file, compiled for a board. It may be used by
// several goroutines.
type Program struct {
	// List is the rules in the order of the file.
	List []Rule

	board  *models.Board
	needs  []evidence.Observable
	index  map[string]int // of needs, by their names
	words  [][]string     // by needs
	names  []string
	inHand bool
	plans  []plan
	frames sync.Pool

	mu       sync.Mutex
	troubles []Trouble // by rule
}

var _ Judge = (*Program)(nil)

// plan is how one rule is judged.
type plan struct {
	general cel.Program // CEL's own machine
	units   []unit
}

// unit is a rule on one channel, or on the board as a whole.
type unit struct {
	fast       truth // nil where CEL's own machine evaluates
	conclusion *Conclusion
	plate      plate
	// slots are the places of the condition's observables in Case.Values: with
	// each meter in hand where that matters, else once.
	slots [][]int32
}

// plate is what the constants of a condition stand for.
type plate struct {
	supply, setPoint, ratedWatts float64
	channel                      string
}

func newProgram(b *models.Board) *Program {
	p := &Program{board: b, index: map[string]int{}}
	p.frames.New = func() any { return new(frame) }
	return p
}

// Needs implements [Judge].
func (p *Program) Needs() []evidence.Observable { return slices.Clone(p.needs) }

// InHand implements [Judge].
func (p *Program) InHand() bool { return p.inHand }

// Rules implements [Judge].
func (p *Program) Rules() []string { return slices.Clone(p.names) }

// add compiles a rule with its condition. The mistakes are those of its
// observables on the board.
func (p *Program) add(r Rule, c *condition) ([]fault, error) {
	var kept []int
	var units []unit
	var wrong []fault
	for _, k := range r.Channels {
		u, bad := p.unit(&r, c, k)
		if len(bad) > 0 {
			if wrong == nil {
				wrong = bad
			}
			continue
		}
		kept, units = append(kept, k), append(units, u)
	}
	if len(units) == 0 {
		return wrong, nil
	}
	env, err := language()
	if err != nil {
		return nil, err
	}
	x := plan{units: units}
	if x.general, err = env.Program(c.ast, cel.CostLimit(MaxCost)); err != nil {
		return nil, err
	}
	for i := range units {
		units[i].fast = build(c.ast.NativeRep(), &units[i].plate)
	}
	r.Channels, r.Fast = kept, units[0].fast != nil
	for i := range c.references {
		r.Needs = append(r.Needs, c.references[i].text())
	}
	p.List, p.names, p.plans = append(p.List, r), append(p.names, r.Name), append(p.plans, x)
	return nil, nil
}

func (p *Program) finish() {
	p.troubles = make([]Trouble, len(p.plans))
	for i := range p.troubles {
		p.troubles[i].Rule = p.names[i]
	}
	p.words = make([][]string, len(p.needs))
	for i := range p.needs {
		p.words[i] = p.needs[i].Words
	}
}

// unit resolves a rule on channel k, which is -1 for the board as a whole.
func (p *Program) unit(r *Rule, c *condition, k int) (unit, []fault) {
	b := p.board
	u := unit{
		conclusion: &Conclusion{Rule: r.Name, Channel: k, Faults: r.Concludes},
		plate:      plate{supply: float64(b.Supply.Voltage)},
	}
	if k >= 0 {
		ch := &b.Channels[k]
		u.plate.setPoint, u.plate.channel = float64(ch.Control.SetPoint), ch.Name
		u.plate.ratedWatts = u.plate.supply * u.plate.supply / float64(ch.Element.Resistance)
	}
	var wrong []fault
	hands := 1
	for i := range c.references {
		if c.references[i].inHand() {
			r.InHand, p.inHand = true, true
			hands = len(b.Meters)
			if hands == 0 {
				return u, []fault{{c.references[i].at, "no meter on the board", "one in hand, or a meter's name: " + written(c.references[i].form), "", nil}}
			}
			break
		}
	}
	for m := range hands {
		slots := make([]int32, len(c.references))
		for i := range c.references {
			ref := &c.references[i]
			o, err := ref.find(b, k, m)
			if err != nil {
				if m == 0 {
					wrong = append(wrong, told(ref, err))
				}
				continue
			}
			if o.Live {
				r.Live = true
			}
			slots[i] = int32(p.need(o))
		}
		u.slots = append(u.slots, slots)
	}
	return u, wrong
}

func (p *Program) need(o evidence.Observable) int {
	i, ok := p.index[o.Name]
	if !ok {
		i = len(p.needs)
		p.index[o.Name] = i
		p.needs = append(p.needs, o)
	}
	return i
}

// Judge implements [Judge]. A rule whose condition can't be evaluated does not
// apply; it is counted, see [Program.Troubles]. The error tells of a case that
// has not as many values as there are needs, or of a meter that is not the
// board's, or that ctx was cancelled.
func (p *Program) Judge(ctx context.Context, dst []*Conclusion, c *Case) ([]*Conclusion, error) {
	if len(c.Values) != len(p.needs) {
		return dst, fmt.Errorf("case %d: found %d values, expected %d", c.Index, len(c.Values), len(p.needs))
	}
	if p.inHand && (c.Meter < 0 || c.Meter >= len(p.board.Meters)) {
		return dst, fmt.Errorf("case %d: found meter %d in hand, expected 0 to %d", c.Index, c.Meter, len(p.board.Meters)-1)
	}
	if err := ctx.Err(); err != nil {
		return dst, err
	}
	f := p.frames.Get().(*frame)
	f.values, f.words = c.Values, p.words
	for i := range p.plans {
		x := &p.plans[i]
		for j := range x.units {
			u := &x.units[j]
			f.slots, f.plate = u.slots[0], &u.plate
			if len(u.slots) > 1 {
				f.slots = u.slots[c.Meter]
			}
			v := no
			if u.fast != nil {
				v = u.fast(f)
			} else {
				v = general(x.general, f)
			}
			switch v {
			case yes:
				dst = append(dst, u.conclusion)
			case unknown:
				p.trouble(i, c, f)
			}
		}
	}
	f.values = nil
	p.frames.Put(f)
	return dst, nil
}

// Trouble is a rule whose condition could not always be evaluated, as where it
// asks for the least of what is no number.
type Trouble struct {
	Rule string
	// Times is how often, by channel and meter.
	Times uint64
	// Index is the first of the boards, and Problem what there was.
	Index   uint64
	Problem string
}

// Troubles lists, in the order of the rules, those whose condition could not
// always be evaluated since the program was compiled. On those channels and
// boards they did not apply.
func (p *Program) Troubles() []Trouble {
	p.mu.Lock()
	defer p.mu.Unlock()
	var out []Trouble
	for _, t := range p.troubles {
		if t.Times > 0 {
			out = append(out, t)
		}
	}
	return out
}

func (p *Program) trouble(i int, c *Case, f *frame) {
	p.mu.Lock()
	defer p.mu.Unlock()
	t := &p.troubles[i]
	if t.Times == 0 || c.Index < t.Index {
		t.Index, t.Problem = c.Index, problem(p.plans[i].general, f)
	}
	t.Times++
}

// Scope of a conclusion of the program's rules, for those who print them.
func (c *Conclusion) Scope() Scope {
	if c.Channel == faults.WholeBoard {
		return WholeBoard
	}
	return EachChannel
}
