package command

import (
	"math"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/plots"
	"boilwright/sim/boardfile"
)

func testTarget(t *testing.T, board string, texts ...string) *target {
	t.Helper()
	f, err := boardfile.Embedded(board)
	if err != nil {
		t.Fatal(err)
	}
	x := &target{file: f, names: channelNames(f.Board)}
	if x.set, err = faults.ParseSet(texts, x.names); err != nil {
		t.Fatal(err)
	}
	return x
}

// TestFramesObeyKirchhoff asks of every frame that the currents that meet at
// OUT, at the gate and in the element sum to zero (Kirchhoff's current law),
// and that the element's follows from its voltage (Ohm's law).
func TestFramesObeyKirchhoff(t *testing.T) {
	for _, c := range []struct{ board, fault, state string }{
		{"dye-bench-230", "dye:film-opto", "heating"}, {"dye-bench-230", "dye:opto-one-way", "standby"}, {"neutral-side-230", "dye:triac-shorted", "standby"},
		{"dye-bench-230", "dye:element-leaking", "heating"}, {"dye-bench-120", "dye:film-gate,resistance=50 Ω", "heating"},
	} {
		x := testTarget(t, c.board, c.fault)
		flags := newConditions(c.state)
		o := &animationOptions{rate: 20, speed: durationValue(time.Millisecond), headingFlags: headingFlags{languageName: "en"}}
		in, err := cycleOf(x, 1, &flags, false, 2, [2]float64{0, 360}, o)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := plots.Cycle(in); err != nil {
			t.Fatal(err)
		}
		at := func(p plots.CurrentPath, i int) float64 {
			if v := in.Frames.Currents[p]; v != nil {
				return v[i]
			}
			return 0
		}
		most := 0.0
		neutral := x.file.Board.Channels[1].Side != 0
		for i := range in.Frames.Time {
			most = math.Max(most, math.Abs(at(plots.LoadCurrent, i)))
			// MT2 is on OUT: what goes in there and to earth comes from the load.
			out := at(plots.TriacCurrent, i) + at(plots.OptoCurrent, i) + at(plots.SnubberCurrent, i) + at(plots.TriacPathCurrent, i) + at(plots.OptoPathCurrent, i) +
				at(plots.OutputPathCurrent, i) + at(plots.LoadCurrent, i)
			gate := at(plots.GateResistorCurrent, i) - at(plots.GateCurrent, i) - at(plots.ShuntCurrent, i) - at(plots.GatePathCurrent, i)
			opto := at(plots.OptoCurrent, i) + at(plots.OptoPathCurrent, i) - at(plots.GateResistorCurrent, i)
			element := at(plots.LoadCurrent, i) - at(plots.FarCurrent, i) - at(plots.ElementPathCurrent, i)
			for name, sum := range map[string]float64{"OUT": out, "gate": gate, "opto output": opto, "element": element} {
				if math.Abs(sum) > 1e-6 {
					t.Fatalf("%s %s, frame %d: found the currents at the %s to sum to %g A, want 0", c.board, c.fault, i, name, sum)
				}
			}
			amps := at(plots.LoadCurrent, i)
			if neutral {
				amps = -amps
			}
			// The element is at 25 °C; the link and wiring take millivolts.
			if ohms := x.file.Board.Channels[1].Element.ResistanceAt(25); c.fault != "dye:element-leaking" && math.Abs(amps*ohms-in.Frames.Load[i]) > 0.01*math.Abs(in.Frames.Load[i])+0.1 {
				t.Fatalf("%s %s, frame %d: found %g A at %g V, want them by Ohm's law with %g Ω", c.board, c.fault, i, amps, in.Frames.Load[i], ohms)
			}
		}
		if most < 1 {
			t.Errorf("%s %s: found at most %g A in the load, want a current", c.board, c.fault, most)
		}
	}
}

// TestEveryFaultIsMarked asks that every fault of the catalogue has a mark in
// a circuit that has the part.
func TestEveryFaultIsMarked(t *testing.T) {
	for _, f := range faults.Catalogue() {
		text := "dye:" + f.Name
		if f.Scope == faults.PerBoard {
			text = "board:" + f.Name
		}
		x := testTarget(t, "dye-bench-230", text)
		if x.set.Check(x.file.Board) != nil {
			continue // a part that this board lacks
		}
		in, err := circuitOf(x, 1, plots.Heading{})
		if err != nil {
			t.Fatal(err)
		}
		if len(in.Faults) == 0 {
			t.Errorf("%s: found no mark", text)
			continue
		}
		elsewhere := in.Faults[0].Part == plots.ElsewherePart && in.Faults[0].Route == plots.NoRoute
		if outside := f.Part == faults.BoilerPart && f.Name != "scale"; elsewhere != outside {
			t.Errorf("%s: found it outside the circuit %v, want %v", text, elsewhere, outside)
		}
		if _, err := plots.Schematic(in); err != nil {
			t.Errorf("%s: %v", text, err)
		}
	}
}
