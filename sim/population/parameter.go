package population

import (
	"fmt"
	"math"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// Kind tells what the bounds of a parameter's spread are.
type Kind int

// The kinds.
const (
	Factor     Kind = iota // multiply the board's own value
	Difference             // are added to the board's own value, in its SI unit or kelvins
	Absolute               // are values
	Share                  // multiply what a meter states as its accuracy
)

func (k Kind) String() string {
	return [...]string{"factor", "difference", "value", "share of the accuracy"}[k]
}

// Scope tells how often a board has a parameter.
type Scope int

// The scopes.
const (
	OfBoard Scope = iota
	OfChannel
	OfCoupling
	OfMeter
	OfClamp
)

// Parameter is something that is drawn: a value of a board, or a common factor
// on several of them.
type Parameter struct {
	Name    string // as in a board file, where it is one value there
	Doc     string
	Source  string // of the default; "assumption" where there is none
	Kind    Kind
	Default Spread
	Scope   Scope
	// Dimension is that of what is drawn: the value, or a number for a common
	// factor.
	Dimension q.Dimension

	spread func(t *Tolerances) *Spread
	// nominal returns the healthy board's own value of the k-th of them; false
	// where it has none: a part that is not fitted, open, or without limit.
	nominal func(b *models.Board, k int) (float64, bool)
	// put sets the value v in the board or its meters.
	put      func(m *Member, k int, v float64)
	min, max float64 // what a board can take
}

// Parameters lists all parameters that can be drawn, in order.
func Parameters() []Parameter {
	out := make([]Parameter, len(parameters))
	copy(out, parameters)
	return out
}

// FindParameter returns the parameter called name.
func FindParameter(name string) (Parameter, bool) {
	for i := range parameters {
		if parameters[i].Name == name {
			return parameters[i], true
		}
	}
	return Parameter{}, false
}

// Of returns where the tolerances have the spread of the parameter.
func (p *Parameter) Of(t *Tolerances) *Spread { return p.spread(t) }

// count is how many of the parameter a board has.
func (p *Parameter) count(b *models.Board) int {
	switch p.Scope {
	case OfChannel:
		return len(b.Channels)
	case OfCoupling:
		return len(b.Couplings)
	case OfMeter:
		return len(b.Meters)
	case OfClamp:
		return len(b.Clamps)
	}
	return 1
}

// place names the k-th one's channel, coupling, meter or clamp; empty for the board.
func (p *Parameter) place(b *models.Board, k int) string {
	switch p.Scope {
	case OfChannel:
		return b.Channels[k].Name
	case OfCoupling:
		c := b.Couplings[k]
		return b.Channels[c.A].Name + "-" + b.Channels[c.B].Name
	case OfMeter:
		return b.Meters[k].Name
	case OfClamp:
		return b.Clamps[k].Name
	}
	return ""
}

// check reports what is wrong with a spread of the parameter. A factor stays
// above 0, a share within what the meter states.
func (p *Parameter) check(s Spread) error {
	least := math.Inf(-1)
	switch p.Kind {
	case Factor:
		least = 1e-3
	case Share:
		least = -1
	}
	err := s.check(least)
	if err == nil && p.Kind == Share && s.Law != Fixed && s.High > 1 {
		err = fmt.Errorf("found bound %v, expected at most 1", s.High)
	}
	return err
}

// sampler returns the sampler of a spread of the parameter on a board whose
// own value is nominal; [Parameter.drawn] makes values of what it yields.
func (p *Parameter) sampler(s Spread, nominal float64) sampler {
	switch p.Kind {
	case Difference:
		return s.between(p.min-nominal, p.max-nominal)
	case Absolute:
		return s.between(p.min, p.max)
	case Share:
		return s.between(-1, 1)
	}
	return s.between(p.min/nominal, p.max/nominal)
}

func (p *Parameter) drawn(nominal, x float64) float64 {
	switch p.Kind {
	case Difference:
		return math.Max(p.min, math.Min(p.max, nominal+x))
	case Absolute:
		return x
	}
	if v := nominal * x; p.Kind == Share || v <= p.max && v >= p.min {
		return v
	}
	return math.Max(p.min, math.Min(p.max, nominal*x))
}

// value is a parameter that is one value of a board.
func value[Q q.Quantity](p Parameter, at func(b *models.Board, k int) *Q) Parameter {
	var zero Q
	p.Dimension = zero.Dimension()
	positive := p.Kind == Factor
	if p.max == 0 {
		p.max = math.Inf(1)
	}
	p.nominal = func(b *models.Board, k int) (float64, bool) {
		v := at(b, k)
		if v == nil {
			return 0, false
		}
		x := float64(*v)
		return x, !math.IsInf(x, 0) && (x > 0 || !positive)
	}
	p.put = func(m *Member, k int, v float64) { *at(m.Board, k) = Q(v) }
	return p
}

// ofBoard and ofChannel are a value of the board, and one of each channel.
func ofBoard[Q q.Quantity](p Parameter, at func(b *models.Board) *Q) Parameter {
	return value(p, func(b *models.Board, _ int) *Q { return at(b) })
}

func ofChannel[Q q.Quantity](p Parameter, at func(c *models.Channel) *Q) Parameter {
	p.Scope = OfChannel
	return value(p, func(b *models.Board, k int) *Q { return at(&b.Channels[k]) })
}

// common is a factor, or a difference, on several values, which put changes.
func common(p Parameter, fitted func(b *models.Board, k int) bool, put func(m *Member, k int, v float64)) Parameter {
	p.Dimension = q.Number
	own := 1.0
	if p.Kind == Difference {
		p.Dimension, own, p.min = q.TemperatureDifference, 0, math.Inf(-1)
	}
	p.max = math.Inf(1)
	p.nominal = func(b *models.Board, k int) (float64, bool) { return own, fitted(b, k) }
	p.put = put
	return p
}
