package rules_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"boilwright/faults/rules"
	"boilwright/sim/boardfile"
)

// fifty is a file of fifty rules with standby readings.
func fifty() []byte {
	var b strings.Builder
	for i := range 50 {
		fmt.Fprintf(&b, "[[rule]]\nname = 'rule %d'\nwhen = '''", i)
		switch i % 4 {
		case 0:
			fmt.Fprintf(&b, `volts("output", "standby") > 0.%02d * supply`, 10+i)
		case 1:
			fmt.Fprintf(&b, `near(volts("output", "standby"), supply / 2, 0.%02d) && plug_watts("standby") > %d`, i, i)
		case 2:
			fmt.Fprintf(&b, `between(volts("output", "standby"), %d, %d) || volts("triac", "standby") < %d && channel != "soak"`, i, 2*i, i)
		case 3:
			fmt.Fprintf(&b, `math.abs(volts("output", "standby") - volts("element", "standby")) > %d && !(volts("triac", "standby") > %d)`, i, i)
		}
		fmt.Fprintf(&b, "'''\nconcludes = ['opto-one-way']\n")
	}
	return []byte(b.String())
}

// BenchmarkJudge: fifty rules on boards of three channels, with each meter in
// hand; told per rule and board.
func BenchmarkJudge(b *testing.B) {
	board := boardfile.Default()
	p := compiled(b, fifty(), board)
	r := rand.New(rand.NewPCG(1, 2))
	cases := make([]rules.Case, 64)
	for i := range cases {
		cases[i].Index = uint64(i)
		for range p.Needs() {
			cases[i].Values = append(cases[i].Values, 230*r.Float64())
		}
	}
	b.ReportAllocs()
	var got []*rules.Conclusion
	i := 0
	for b.Loop() {
		c := &cases[i%len(cases)]
		i++
		for c.Meter = range board.Meters {
			got, _ = p.Judge(b.Context(), got[:0], c)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/50, "ns/rule")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/50/float64(len(board.Meters)*3), "ns/condition")
}

// TestJudgeAllocates: nothing in the steady state.
func TestJudgeAllocates(t *testing.T) {
	p := compiled(t, fifty(), boardfile.Default())
	c := &rules.Case{Values: make([]float64, len(p.Needs()))}
	var got []*rules.Conclusion
	if n := testing.AllocsPerRun(100, func() { got, _ = p.Judge(t.Context(), got[:0], c) }); n > 1 {
		t.Errorf("found %g allocations a case, expected none", n)
	}
	if len(got) == 0 {
		t.Error("found no conclusion, expected that some rule holds where everything is 0")
	}
}
