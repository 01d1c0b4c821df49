package heat

import (
	"fmt"
	"math"

	"boilwright/models/water"
)

// Balance is an account of energy in J since some start.
//
//	In = Stored + Ambient + Carried
type Balance struct {
	In float64 // put in by the pieces
	// Stored is what nodes and water gained, summed with the coefficients
	// that each window froze. Enthalpy is the same from the temperatures
	// alone, Σ C T + m H(T).
	Stored, Enthalpy float64
	Ambient          float64 // lost to the room
	// Carried left with water and steam, less what the cold supply brought.
	Carried float64
}

// Relative residuals that a balance may have.
const (
	FrozenTolerance   = 1e-9 // with Stored
	EnthalpyTolerance = 1e-5 // with Enthalpy
)

// Residuals returns In − Stored − Ambient − Carried with either measure of
// what is stored, as fractions of In; in a run without much power, of the
// largest of the other terms, or of 1 kJ where less than that has moved.
func (b Balance) Residuals() (frozen, enthalpy float64) {
	scale := max(math.Abs(b.In), math.Abs(b.Stored), math.Abs(b.Ambient), math.Abs(b.Carried), 1000)
	rest := b.In - b.Ambient - b.Carried
	return (rest - b.Stored) / scale, (rest - b.Enthalpy) / scale
}

// Check returns an error where either residual is beyond its tolerance.
func (b Balance) Check() error {
	frozen, enthalpy := b.Residuals()
	if !(math.Abs(frozen) <= FrozenTolerance) {
		return fmt.Errorf("heat: energy balance: found a relative residual of %.3g, expected at most %g", frozen, FrozenTolerance)
	}
	if !(math.Abs(enthalpy) <= EnthalpyTolerance) {
		return fmt.Errorf("heat: energy balance with m·H(T): found a relative residual of %.3g, expected at most %g", enthalpy, EnthalpyTolerance)
	}
	return nil
}

func (b Balance) minus(o Balance) Balance {
	return Balance{b.In - o.In, b.Stored - o.Stored, b.Enthalpy - o.Enthalpy, b.Ambient - o.Ambient, b.Carried - o.Carried}
}

// Balance returns the account since the start. Edits by [Machine.Rebuild]
// neither add nor take: only what flashes off is carried out.
func (m *Machine) Balance() Balance {
	b := m.total
	b.Enthalpy = m.content() - m.reference
	return b
}

// Check reports whether the account since the start closes; see
// [Balance.Check].
func (m *Machine) Check() error { return m.Balance().Check() }

// content returns Σ C T + m H(T) in J, from 0 °C.
func (m *Machine) content() float64 {
	p := m.now
	sum := 0.0
	for i, c := range m.par.capacity {
		sum += c * p.x[i]
	}
	for i, t := range p.Water {
		sum += p.Mass[i] * water.H(t)
	}
	return sum
}

// stored returns Σ C ΔT in J since the state before, without the water's.
func (m *Machine) stored(before *State) float64 {
	p := m.now
	sum := 0.0
	for i, c := range m.par.capacity {
		sum += c * (p.x[i] - before.x[i])
	}
	return sum
}
