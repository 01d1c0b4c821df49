package validate_test

import (
	"fmt"
	"runtime/debug"
	"strings"
	"testing"

	"boilwright/faults/rules"
	"boilwright/faults/rules/validate"
	"boilwright/sim/boardfile"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
)

// fifty is a file of fifty rules on what is read in standby at three points.
func fifty() []byte {
	var b strings.Builder
	for i := range 50 {
		fmt.Fprintf(&b, "[[rule]]\nname = 'rule %d'\nwhen = '''", i)
		switch i % 4 {
		case 0:
			fmt.Fprintf(&b, `volts("output", "standby") > 0.%02d * supply`, 10+i)
		case 1:
			fmt.Fprintf(&b, `near(volts("output", "standby"), supply / 2, 0.%02d)`, i)
		case 2:
			fmt.Fprintf(&b, `between(volts("output", "standby"), %d, %d) || volts("triac", "standby") < %d`, i, 2*i, i)
		case 3:
			fmt.Fprintf(&b, `volts("output", "standby") - volts("element", "standby") > %d && volts("triac", "standby") < %d`, i, i)
		}
		fmt.Fprintf(&b, "'''\nconcludes = ['%s']\n", []string{"opto-one-way", "triac-one-way", "triac-shorted"}[i%3])
	}
	return []byte(b.String())
}

// BenchmarkValidate: boards drawn, their circuits solved in standby, judged by
// fifty rules with each of seven meters in hand, and counted.
func BenchmarkValidate(b *testing.B) {
	board := boardfile.Default()
	spec := population.DefaultSpec(board)
	pop, err := population.New(board, spec, 1)
	if err != nil {
		b.Fatal(err)
	}
	p, err := rules.Parse("fifty.toml", fifty(), board)
	if err != nil {
		b.Fatal(err)
	}
	var claims []validate.Claim
	for _, r := range p.List {
		claims = append(claims, validate.Claim{Rule: r.Name, Channels: r.Channels, Faults: r.Concludes})
	}
	plan, err := evidence.NewPlan(pop, p.Needs())
	if err != nil {
		b.Fatal(err)
	}
	defer debug.SetGCPercent(debug.SetGCPercent(300)) // as the command does
	const boards = 500
	j := &validate.Job{
		Source: validate.Source{Population: pop, Spec: spec, Seed: 1, To: boards, Examples: 3},
		Judge:  p, Claims: claims, Observer: plan,
	}
	b.ReportAllocs()
	for b.Loop() {
		run(b, j)
		j.From, j.To = j.From+boards, j.To+boards
	}
	b.ReportMetric(float64(b.N)*boards/b.Elapsed().Seconds(), "boards/s")
}
