package validate_test

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"boilwright/faults/rules/validate"
)

func TestCompare(t *testing.T) {
	j := job(t, 10, half, full)
	other := newJudge(j.Population.Board(), rule{"wide", 0.4, 0.8, []string{"opto-one-way", "triac-one-way"}}, little)
	a, b := validate.Side{Judge: j.Judge, Observer: j.Observer}, validate.Side{Judge: other, Observer: j.Observer}
	compare := func(a, b validate.Side) *validate.Comparison {
		c, err := validate.Compare(context.Background(), j.Source, a, b, false)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	same := compare(a, a)
	if same.Overall.First+same.Overall.Second != 0 || same.Overall.P != 1 || len(same.First)+len(same.Second) != 0 {
		t.Errorf("with itself: found %+v, expected no difference", same)
	}
	ab, ba := compare(a, b), compare(b, a)
	if ab.Overall.First != ba.Overall.Second || ab.Overall.Second != ba.Overall.First || ab.Both != ba.Both || ab.Neither != ba.Neither || ab.Overall.P != ba.Overall.P {
		t.Errorf("found %+v and %+v the other way round", ab.Overall, ba.Overall)
	}
	// Again by hand.
	all, unsolved := units(t, j)
	j2 := *j
	j2.Judge = other
	others, _ := units(t, &j2)
	var both, neither, first, second uint64
	for i := range all {
		x, y := validate.RightAbout(all[i].said, all[i].truth), validate.RightAbout(others[i].said, others[i].truth)
		switch {
		case x && y:
			both++
		case x:
			first++
		case y:
			second++
		default:
			neither++
		}
	}
	if ab.Both != both || ab.Neither != neither || ab.Overall.First != first || ab.Overall.Second != second || ab.Unsolved != unsolved || ab.Units != uint64(len(all)) || first == 0 || second == 0 {
		t.Errorf("found %+v, expected both %d, first %d, second %d, neither %d", ab, both, first, second, neither)
	}
	var sum uint64
	for _, m := range ab.ByMeter {
		sum += m.Both + m.Neither + m.First + m.Second
	}
	if sum != ab.Units {
		t.Errorf("by meter: found %d units, expected %d", sum, ab.Units)
	}
	if len(ab.First) != 3 || len(ab.Second) != 3 || !slices.IsSortedFunc(ab.First, func(a, b validate.Difference) int {
		if a.Distance < b.Distance {
			return -1
		}
		return 1
	}) {
		t.Errorf("found %v and %v, expected three each, the nearest first", ab.First, ab.Second)
	}
	j.Workers.Count = 3
	if got, want := fmt.Sprintf("%+v", compare(a, b)), fmt.Sprintf("%+v", ab); got != want {
		t.Errorf("3 workers: found %s, expected %s", got, want)
	}
}
