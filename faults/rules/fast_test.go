package rules

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"cel.dev/cel-go/cel"
	"pgregory.net/rapid"
)

// TestFastAgrees: conditions that are drawn at random come to the same as with
// CEL's own machine, errors included, on values that are drawn at random.
func TestFastAgrees(t *testing.T) {
	env, err := language()
	if err != nil {
		t.Fatal(err)
	}
	fast := 0
	rapid.Check(t, func(t *rapid.T) {
		text := drawTruth(t, 4)
		c, wrong := readCondition(text, EachChannel)
		if len(wrong) > 0 {
			t.Fatalf("%s: %+v", text, wrong)
		}
		own, err := env.Program(c.ast, cel.CostLimit(MaxCost))
		if err != nil {
			t.Fatal(err)
		}
		p := &plate{supply: 230, setPoint: 85, ratedWatts: 1500, channel: "dye"}
		x := build(c.ast.NativeRep(), p)
		if x == nil {
			t.Fatalf("%s: found no function, expected one", text)
		}
		fast++
		f := &frame{plate: p}
		for i := range c.references {
			f.slots = append(f.slots, int32(len(c.references)-1-i))
			f.words = append(f.words, []string{"off", "in band"})
		}
		for range 8 {
			f.values = f.values[:0]
			for range c.references {
				f.values = append(f.values, rapid.SampledFrom([]float64{0, 1, 115, 230, -3, 1e-9, math.Inf(1), math.Inf(-1), math.NaN()}).Draw(t, "value"))
			}
			if got, want := x(f), general(own, f); got != want {
				t.Fatalf("%s on %v: found %d, expected %d", text, f.values, got, want)
			}
		}
	})
	if fast == 0 {
		t.Error("found no condition, expected some")
	}
}

func drawTruth(t *rapid.T, depth int) string {
	if depth == 0 {
		return rapid.SampledFrom([]string{"true", "false", `tripped("fuse")`, `tripped("residual-current-device")`}).Draw(t, "leaf")
	}
	x := func() string { return drawTruth(t, depth-1) }
	n := func() string { return drawNumber(t, depth-1) }
	switch rapid.IntRange(0, 10).Draw(t, "truth") {
	case 0:
		return "(" + x() + " && " + x() + ")"
	case 1:
		return "(" + x() + " || " + x() + ")"
	case 2:
		return "!(" + x() + ")"
	case 3:
		return "(" + x() + " ? " + x() + " : " + x() + ")"
	case 4:
		return "(" + n() + rapid.SampledFrom([]string{"==", "!=", "<", "<=", ">", ">="}).Draw(t, "order") + n() + ")"
	case 5:
		return "(" + x() + rapid.SampledFrom([]string{"==", "!="}).Draw(t, "equal") + x() + ")"
	case 6:
		return fmt.Sprintf("(%s in [%s, %s])", n(), n(), n())
	case 7:
		return fmt.Sprintf("between(%s, %s, %s)", n(), n(), n())
	case 8:
		return fmt.Sprintf("near(%s, %s, %s)", n(), n(), n())
	case 9:
		return fmt.Sprintf("math.isInf(%s)", n())
	}
	return "(" + rapid.SampledFrom([]string{`indicator() == "off"`, `channel in ["dye", "soak"]`, `indicator() != channel`, `indicator() in ["in band"]`}).Draw(t, "text") + ")"
}

func drawNumber(t *rapid.T, depth int) string {
	if depth <= 0 {
		return rapid.SampledFrom([]string{"1", "2.5", "0", "supply", "set_point", "rated_watts",
			`volts("output", "standby")`, `warm_up()`, `temperature(20)`, `plug_watts("standby")`}).Draw(t, "number")
	}
	x := func() string { return drawNumber(t, depth-1) }
	switch rapid.IntRange(0, 5).Draw(t, "arithmetic") {
	case 0:
		return "(" + x() + rapid.SampledFrom([]string{"+", "-", "*", "/"}).Draw(t, "operator") + x() + ")"
	case 1:
		return "(-" + x() + ")"
	case 2:
		return "math.abs(" + x() + ")"
	case 3:
		return fmt.Sprintf("(%s ? %s : %s)", drawTruth(t, depth-1), x(), x())
	case 4:
		return fmt.Sprintf("math.%s(%s, %s + 0, %s + 0)", rapid.SampledFrom([]string{"least", "greatest"}).Draw(t, "extreme"), x(), x(), x())
	}
	return x()
}

// TestHostile: what would take long or deep is refused when it is read, by its
// size, its depth or its cost.
func TestHostile(t *testing.T) {
	nested := func(open, inner, end string, n int) string {
		return strings.Repeat(open, n) + inner + strings.Repeat(end, n)
	}
	ten := "[" + strings.TrimSuffix(strings.Repeat("1,", 60), ",") + "]"
	for name, c := range map[string]struct{ text, want string }{
		"parentheses":      {nested("(", "true", ")", 1500), "recursion"},
		"ternaries":        {nested("true ? (", "true", ") : false", 200), "recursion"},
		"long":             {"true" + strings.Repeat(" || true", 1000), "exceeds limit"},
		"lists in lists":   {nested("[", "1", "]", 1000) + " == []", "recursion"},
		"a huge list":      {"1 in [" + strings.Repeat("1,", 1500) + "1]", "a list of 1501 elements"},
		"comprehensions":   {ten + ".all(a, " + ten + ".all(b, " + ten + ".all(c, true)))", "comprehension"},
		"costly":           {ten + ".all(a, " + ten + ".all(b, [a, b, a, b, a, b].all(c, c > 0) ))", "comprehension"},
		"costly, two deep": {ten + ".all(a, " + ten + ".all(b, a + b > 0 && a - b < 1 && a * b > 2 && a / b < 7))", "a cost of up to"},
		"a pattern":        {`"aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa".matches("(a*)*b")`, "matches"},
		"a map":            {`{1: 2}.size() > 0`, "a map"},
		"an end":           {strings.Repeat("(", 4000), ""},
		"quotes":           {strings.Repeat(`"`, 4000), ""},
		"observables":      {many(70), "one more observable"},
	} {
		cond, wrong := readCondition(c.text, EachChannel)
		if cond != nil || len(wrong) == 0 {
			t.Errorf("%s: found no mistake", name)
			continue
		}
		if all := fmt.Sprintf("%+v", wrong); !strings.Contains(all, c.want) {
			t.Errorf("%s: found %s, expected %q", name, all, c.want)
		}
	}
}

// many is a condition with n different observables.
func many(n int) string {
	var parts []string
	for i := range n {
		parts = append(parts, fmt.Sprintf("temperature(%d) > 0", i))
	}
	return strings.Join(parts, "&&")
}
