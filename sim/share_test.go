package sim

import (
	"math"
	"slices"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

// TestSharedAgainstSolved takes boards with a channel near a threshold through
// classes of its junction's temperature. Half-cycles that such classes share, and
// sums of tails in them, are compared with half-cycles that are solved anew in
// each class.
func TestSharedAgainstSolved(t *testing.T) {
	for _, c := range []struct {
		name string
		late bool // its triac fires late
		edit func(c *models.Channel)
	}{
		{"insensitive triac", true, func(c *models.Channel) {
			for q := range c.Triac.Trigger {
				c.Triac.Trigger[q] *= 20
			}
		}},
		{"fast turn-off needed", false, func(c *models.Channel) { c.Triac.CommutatingFall = 2e3 }},
		{"sensitive triac", false, func(c *models.Channel) {
			for q := range c.Triac.Trigger {
				c.Triac.Trigger[q] /= 6
			}
			c.GateShunt = q.Ohm(math.Inf(1))
		}},
	} {
		b := boardfile.Default()
		c.edit(&b.Channels[1])
		n := len(b.Channels)
		engine := func() *reuse {
			sol, err := circuit.New(b)
			if err != nil {
				t.Fatal(err)
			}
			r := newReuse(b, sol, new(memory))
			r.narrow(1, widths{wideResistance, lateJunction, wideLeakage, true})
			return r
		}
		shared := engine()
		alone, worst, late := int64(0), 0.0, false
		x, y := block{account: newAccount(n)}, block{account: newAccount(n)}
		temps := circuit.Uniform(n, 60)
		for pass, junction := range []float64{62, 31, 92, 57, 33, 73, 62, 31, 92, 57, 33, 73} {
			temps.Junction[1] = junction
			fresh := engine()
			fresh.widths = slices.Clone(shared.widths)
			fresh.tails.failed = mostFailed // no sums
			for _, r := range []*reuse{shared, fresh} {
				r.class(temps)
			}
			for _, drives := range []uint32{0, 5, 7, 5, 1, 0, 2, 7, 4, 0, 5, 0} {
				in := input{drives, 1}
				for range 2 {
					if err := shared.advance(in, 2, &x); err != nil {
						t.Fatal(err)
					}
					if shared.narrowed && pass < 6 { // classes find their widths first
						shared.class(temps)
						continue
					}
					fresh.cell.gains = nil
					if err := fresh.advance(in, 2, &y); err != nil {
						t.Fatal(err)
					}
					late = late || x.late[1][tElement] != 0
					for g := range x.energy {
						switch g {
						case tSquare, tEarth, tCharge, tVolts:
							continue
						}
						if a, b := x.late[1][g], y.late[1][g]; math.Abs(a-b) > 1e-4*math.Abs(y.late[1][tElement]) {
							t.Errorf("%s, junction at %g °C, drives %03b: group %d: found a gain of %.6g J by late firing, measured anew %.6g J", c.name, junction, drives, g, a, b)
						}
						d := math.Abs(x.energy[g]-y.energy[g]) / max(y.energy[tSource], 1e-3)
						worst = max(worst, d)
						if d > 1e-5 {
							t.Errorf("%s, junction at %g °C, drives %03b: group %d: found %.9g J, solved anew %.9g J", c.name, junction, drives, g, x.energy[g], y.energy[g])
						}
					}
				}
			}
			if pass < 6 {
				alone += fresh.Solved
			}
		}
		if late != c.late {
			t.Errorf("%s: found late firings: %t, expected %t", c.name, late, c.late)
		}
		if shared.Solved > alone*2/3 {
			t.Errorf("%s: found %d half-cycles solved, %d where nothing is shared", c.name, shared.Solved, alone)
		}
		t.Logf("%s: %d half-cycles solved, %d where nothing is shared; energies differ by at most %.2g of the source's", c.name, shared.Solved, alone, worst)
	}
}

// TestBlocks compares whether an idle triac's half-cycle serves at another
// temperature with the laws of its triggering current and of what it withstands.
func TestBlocks(t *testing.T) {
	b := boardfile.Default()
	sol, err := circuit.New(b)
	if err != nil {
		t.Fatal(err)
	}
	r := newReuse(b, sol, new(memory))
	r.narrow(0, widths{wideResistance, lateJunction, wideLeakage, true})
	tr := &b.Channels[0].Triac
	for _, c := range []struct {
		at, to, urge, strain float64
		want                 bool
	}{
		{25, 60, 0, 0, true}, {60, 25, 0, 0, true},
		{25, 60, 0.5, 0.1, true}, {25, 110, 0.9, 0.1, false}, {25, 60, 0.1, 0.9, false}, {60, 25, 0.1, 0.9, false},
		{25, 60, 0.1, 1.5, false}, {60, 25, 1.2, 0.1, false},
	} {
		if got := r.blocks(0, &idle{true, c.urge, c.strain}, c.to-c.at); got != c.want {
			t.Errorf("from %g to %g °C at %g and %g: found %t, expected %t", c.at, c.to, c.urge, c.strain, got, c.want)
		}
		// What it says is safe must be so by the laws.
		gate := c.urge * float64(tr.TriggerAt(0, c.at)) / float64(tr.TriggerAt(0, c.to))
		rate := c.strain * float64(tr.StaticRateAt(c.at)) / float64(tr.StaticRateAt(c.to))
		if c.want && (gate >= 1 || rate >= failing) {
			t.Errorf("from %g to %g °C: %g and %g at the other temperature are no margin", c.at, c.to, gate, rate)
		}
	}
	if r.blocks(0, &idle{}, 0) {
		t.Error("a triac that conducted counts as idle")
	}
}

// TestLastClass: where the semiconductors' laws end is a class of its own, which
// nothing is followed in.
func TestLastClass(t *testing.T) {
	for _, c := range []struct{ t, width, want float64 }{
		{199.9, 100, 150}, {destroyed, 100, destroyed}, {destroyed, 25, destroyed}, {199.9, 5, 197.5}, {27, 5, 27.5}, {-1, 5, -2.5}, {151, 100, 150},
	} {
		if got := middle(c.t, c.width); got != c.want {
			t.Errorf("%g °C, %g K wide: found a middle of %g °C, expected %g °C", c.t, c.width, got, c.want)
		}
		e := bounds(c.t, c.width)
		if last := c.t == destroyed; !e.hold(c.t) || e.hold(destroyed) != last || e.hold(c.t-c.width) || !last && e.hold(c.t+c.width) {
			t.Errorf("%g °C, %g K wide: found a class from %g to %g °C", c.t, c.width, e.low, e.high)
		}
		if (number(c.t, c.width) == number(destroyed, c.width)) != (c.t == destroyed) {
			t.Errorf("%g °C, %g K wide: the same number as where the laws end, or not", c.t, c.width)
		}
	}
}
