package readings

import (
	"fmt"
	"math"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// Test is an instrument for the unplugged board.
type Test int

// The instruments.
const (
	Ohmmeter Test = iota
	DiodeTest
	Continuity
	Insulation // 500 V from line and neutral joined to protective earth
)

var testNames = [...]string{"ohmmeter", "diode", "continuity", "insulation"}

func (t Test) String() string { return testNames[t] }

// ParseTest returns the test of a written name.
func ParseTest(name string) (Test, error) {
	for i, n := range testNames {
		if n == name {
			return Test(i), nil
		}
	}
	return 0, fmt.Errorf("found test %q, expected one of %v", name, testNames)
}

// ohmRange is a range of the ohmmeter: its test current and full scale.
type ohmRange struct{ full, amps float64 }

// The instruments' values are those of generic hand-held meters; common
// practice, no source.
var (
	ohmRanges = []ohmRange{{600, 1e-3}, {6e3, 1e-4}, {60e3, 1e-5}, {600e3, 1e-6}, {6e6, 2e-7}, {60e6, 2e-8}}

	diodeAmps       = 1e-3
	diodeCompliance = 3.0 // V

	continuityBelow = 30.0 // Ω

	insulationVolts = 500.0
	insulationLimit = 1e-3 // A, the most that the tester delivers
)

// Dead is a result on the unplugged board.
type Dead struct {
	Test Test
	Plus models.Node
	// Minus is the negative lead, the reference of potential.
	Minus models.Node
	// Ohms for the ohmmeter, continuity and insulation tests; +Inf reads open.
	Ohms float64
	// Volts across the leads of the diode test; +Inf reads open.
	Volts float64
	Open  bool
	Beeps bool // continuity found
}

// Unplugged carries out a test between two nodes of the unplugged board, with
// named branches lifted. Junctions are at the temperatures t.
//
// The ohmmeter passes the current of each range through the leads, lowest
// range first, and shows v/i of the first range that holds it; beyond the last
// range it reads open. The insulation test ignores the nodes: it
// goes from line and neutral joined to protective earth, never across a part.
func Unplugged(b *models.Board, t circuit.Temperatures, test Test, plus, minus models.Node, lifted ...string) (Dead, error) {
	d := Dead{Test: test, Plus: plus, Minus: minus, Ohms: math.NaN(), Volts: math.NaN()}
	if test == Insulation {
		return insulation(b, t, d, lifted)
	}
	u, err := circuit.NewUnplugged(b, t, plus, minus, lifted...)
	if err != nil {
		return d, err
	}
	if test == DiodeTest {
		v, open, err := u.Voltage(diodeAmps)
		if err != nil {
			return d, err
		}
		d.Volts, d.Open = v, open || v > diodeCompliance
		if d.Open {
			d.Volts = math.Inf(1)
		}
		return d, nil
	}
	d.Ohms, d.Open = math.Inf(1), true
	for _, r := range ohmRanges {
		v, open, err := u.Voltage(r.amps)
		if err != nil {
			return d, err
		}
		if open {
			break
		}
		if ohms := v / r.amps; ohms <= r.full {
			d.Ohms, d.Open = ohms, false
			break
		}
	}
	d.Beeps = test == Continuity && d.Ohms < continuityBelow
	return d, nil
}

func insulation(b *models.Board, t circuit.Temperatures, d Dead, lifted []string) (Dead, error) {
	joined := b.Clone()
	l, n, pe := models.At(models.Line, 0), models.At(models.Neutral, 0), models.At(models.ProtectiveEarth, 0)
	joined.Bridges = append(joined.Bridges, models.Bridge{Name: "line and neutral joined", From: l, To: n, Resistance: 1e-3})
	d.Plus, d.Minus = l, pe
	u, err := circuit.NewUnplugged(joined, t, l, pe, lifted...)
	if err != nil {
		return d, err
	}
	i, err := u.Current(insulationVolts, insulationLimit)
	if err != nil {
		return d, err
	}
	if i < 1e-12 {
		d.Ohms, d.Open = math.Inf(1), true
		return d, nil
	}
	v, _, err := u.Voltage(i)
	if err != nil {
		return d, err
	}
	d.Ohms = v / i
	return d, nil
}
