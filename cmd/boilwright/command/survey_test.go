package command

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

func embeddedBoards(t testing.TB) map[string]*models.Board {
	t.Helper()
	boards := map[string]*models.Board{}
	for _, name := range boardfile.EmbeddedNames() {
		f, err := boardfile.Embedded(name)
		if err != nil {
			t.Fatal(err)
		}
		boards[name] = f.Board
	}
	return boards
}

// A panic becomes a violation that says what and where.
func TestSurveyCatchesPanics(t *testing.T) {
	var f finding
	f.survive(func() {
		boards := embeddedBoards(t)
		// More cycles than were drawn.
		c := drawCircuit(boards, 1, 0, 1)
		c.input(boards[c.base], 2)
	})
	if len(f.violations) != 1 || f.violations[0].kind != panicked {
		t.Fatalf("violations %+v, expected one panic", f.violations)
	}
	if d := f.violations[0].detail; !strings.Contains(d, "index out of range") || !strings.Contains(d, "(*drawn).input, line ") {
		t.Errorf("detail %q, expected what happened and where", d)
	}
	f = finding{}
	f.survive(func() {})
	if len(f.violations) != 0 {
		t.Errorf("violations %+v, expected none", f.violations)
	}
}

// Errors are sorted by whether they explain themselves.
func TestSurveySortsErrors(t *testing.T) {
	for _, x := range []struct{ text, rejected, violated string }{
		{"link: found nothing, expected a part", misfit, ""},
		{"at 2 s: no consistent state of the circuit at 1.5 ms of half-cycle 3: the switching rules do not come to rest; triac1 off, L 3 V", "no consistent state: the switching rules do not come to rest", ""},
		{"no consistent state of the circuit at 1 ms of half-cycle 0: the state is no longer finite; opto1 on", "", notFinite},
		{"heat: energy balance: found a relative residual of 1, expected at most 1e-09", "", unbalanced},
		{"the modes of the network did not converge", "", unexplained},
	} {
		var f finding
		f.fail(misfit, errors.New(x.text))
		violated := ""
		if len(f.violations) > 0 {
			violated = f.violations[0].kind
		}
		if f.rejected != x.rejected || violated != x.violated {
			t.Errorf("%q: rejected %q, violated %q; want %q, %q", x.text, f.rejected, violated, x.rejected, x.violated)
		}
	}
}

// The balances see what is not balanced.
func TestSurveyBalances(t *testing.T) {
	board := boardfile.Default()
	e := newEnergyAccount(board)
	e.add(&circuit.Record{Source: 10, Wiring: 4, Stored: 6})
	if e.worst() != 0 {
		t.Errorf("balanced half-cycle: deviation %g, expected none", e.worst())
	}
	e.add(&circuit.Record{Half: 1, Source: 10, Wiring: 4, Stored: 6.001})
	if d := e.worst(); !(d > 0.9e-4 && d < 1.1e-4) || e.at != 1 {
		t.Errorf("a millijoule missing of 10 J: deviation %g in half-cycle %d", d, e.at)
	}

	for _, turned := range []bool{false, true} {
		s, err := circuit.New(board)
		if err != nil {
			t.Fatal(err)
		}
		k, err := newKirchhoff(s)
		if err != nil {
			t.Fatal(err)
		}
		if turned { // the current of the line goes the wrong way
			k.from[1], k.to[1] = k.to[1], k.from[1]
		}
		s.OnSegment(k.look)
		if _, err := s.HalfCycle(circuit.Input{Factor: 1, Drive: []float64{12, 12, 12}}); err != nil {
			t.Fatal(err)
		}
		if d := k.worst(); turned != (d > 1) || !turned && d > 1e-12 || k.peakI < 15 {
			t.Errorf("a branch turned round %v: %g of %g A left over", turned, d, k.peakI)
		}
	}
}

// What breaks a rule is counted, told with the command that repeats it, and
// ends with exit code 4.
func TestSurveyTellsViolations(t *testing.T) {
	o := &surveyOptions{circuits: 4, cycles: 3, seed: 9, run: 5 * time.Second}
	s := &survey{options: o, findings: []finding{
		{done: true, halves: 6, energy: 1e-12}, {done: true, rejected: misfit},
		{done: true, halves: 2, violations: []violation{{panicked, "oh"}, {notFinite, "no number"}}}, {},
	}}
	s.count()
	if s.done != 3 || s.solved != 1 || s.halves != 8 || len(s.rejected) != 1 || len(s.violations) != 2 || s.energy.circuit != 0 {
		t.Errorf("counted %+v", s)
	}
	var b bytes.Buffer
	if err := s.print(&b); err != nil {
		t.Fatal(err)
	}
	want := `boilwright survey --seed 9 --circuit 2 --cycles 3 --run "5 s": panic: oh`
	if !strings.Contains(b.String(), want+"\n") || !strings.Contains(b.String(), "\n1         broke a rule that always holds") {
		t.Errorf("printed\n%s\nwant a line %s", b.String(), want)
	}
	if c := code(s.verdict(), true); c != Unmet {
		t.Errorf("exit code %d, expected %d", c, Unmet)
	}
	s.violations = nil
	if err := s.verdict(); !errors.Is(err, errInterrupted) {
		t.Errorf("error %v, expected that it was interrupted", err)
	}
}

// A circuit follows from its seed and number, and the draws reach all of the
// catalogue.
func TestSurveyDraw(t *testing.T) {
	boards := embeddedBoards(t)
	seen, places, states := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for i := range uint64(3000) {
		c := drawCircuit(boards, 3, i, 2)
		if i%100 == 0 {
			if again := drawCircuit(boards, 3, i, 2); again.describe() != c.describe() {
				t.Errorf("circuit %d: drawn again it is %s, not %s", i, again.describe(), c.describe())
			}
		}
		if v := c.board.Supply.Voltage; v < 90 || v > 260 {
			t.Errorf("circuit %d: supply of %v", i, v)
		}
		places[c.base], states[c.state.String()] = true, true
		for _, j := range c.set {
			seen[j.Fault] = true
			if j.Severity <= 0 || j.Severity > 1 {
				t.Errorf("circuit %d: severity %g", i, j.Severity)
			}
		}
	}
	if len(seen) != len(faults.Names()) || len(places) != len(boards) || len(states) != 3 {
		t.Errorf("drew %d faults, %d boards, %d states; expected all", len(seen), len(places), len(states))
	}
}
