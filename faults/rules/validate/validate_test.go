package validate_test

import (
	"context"
	"errors"
	"math"
	"reflect"
	"slices"
	"sort"
	"testing"

	"boilwright/faults"
	"boilwright/faults/rules"
	"boilwright/faults/rules/validate"
	"boilwright/models"
	"boilwright/sim/population"
)

// unit is one unit counted by hand.
type unit struct {
	index          uint64
	channel, meter int
	truth          []string
	said           []*rules.Conclusion
	volts          float64 // of the supply
	values         []float64
}

// units goes through all boards of a job one after the other.
func units(t *testing.T, j *validate.Job) (all []unit, unsolved uint64) {
	t.Helper()
	b := j.Population.Board()
	for i := j.From; i < j.To; i++ {
		m, err := j.Design.Member(j.Population, i)
		if err != nil {
			t.Fatal(err)
		}
		r, err := j.Observer.Observe(context.Background(), m)
		if err != nil {
			t.Fatal(err)
		}
		if r.Problem != "" {
			unsolved++
			continue
		}
		for k := range b.Channels {
			for meter := range b.Meters {
				said, err := j.Judge.Judge(context.Background(), nil, &rules.Case{Index: i, Meter: meter, Values: r.Values})
				if err != nil {
					t.Fatal(err)
				}
				u := unit{index: i, channel: k, meter: meter, volts: float64(m.Board.Supply.Voltage), values: m.Values}
				for _, f := range m.Faults {
					if f.Channel == k {
						u.truth = append(u.truth, f.Fault)
					}
				}
				for _, c := range said {
					if c.Channel == k {
						u.said = append(u.said, c)
					}
				}
				all = append(all, u)
			}
		}
	}
	return all, unsolved
}

// right tells whether one of the faults is there; none: that none is.
func right(names, truth []string) bool {
	for _, f := range names {
		if slices.Contains(truth, f) {
			return true
		}
	}
	return len(names) == 0 && len(truth) == 0
}

func countOf(all []unit, r rule, which func(*unit) bool) validate.Counts {
	var c validate.Counts
	for i := range all {
		u := &all[i]
		if !which(u) {
			continue
		}
		said := slices.ContainsFunc(u.said, func(c *rules.Conclusion) bool { return c.Rule == r.name })
		switch {
		case said && right(r.faults, u.truth):
			c.TP++
		case said:
			c.FP++
		case right(r.faults, u.truth):
			c.FN++
		default:
			c.TN++
		}
	}
	return c
}

func TestRecount(t *testing.T) {
	rs := []rule{half, full, little, three, doubt}
	j := job(t, 6, rs...)
	// Sets of several faults as well: the rates instead of the design.
	for _, byRates := range []bool{false, true} {
		if byRates {
			j.Design = validate.Design{}
			j.From, j.To = 1000, 1200
		}
		got := run(t, j)
		all, unsolved := units(t, j)
		b := j.Population.Board()
		if got.Done != j.To-j.From || got.Asked != got.Done || got.Unsolved != unsolved || unsolved == 0 || got.Overall.Units != uint64(len(all)) {
			t.Fatalf("found %d of %d boards, %d unsolved, %d units; expected %d, %d, %d", got.Done, got.Asked, got.Unsolved, got.Overall.Units, j.To-j.From, unsolved, len(all))
		}
		for i, r := range rs {
			x := got.Rules[i]
			if want := countOf(all, r, func(*unit) bool { return true }); x.Counts != want || x.Rule != r.name {
				t.Errorf("%s: found %v, expected %v", r.name, x.Counts, want)
			}
			for m := range b.Meters {
				if want := countOf(all, r, func(u *unit) bool { return u.meter == m }); x.ByMeter[m] != want {
					t.Errorf("%s with %s: found %v, expected %v", r.name, got.Meters[m], x.ByMeter[m], want)
				}
			}
			for k := range b.Channels {
				if want := countOf(all, r, func(u *unit) bool { return u.channel == k }); x.ByChannel[k] != want {
					t.Errorf("%s on %s: found %v, expected %v", r.name, got.Channels[k], x.ByChannel[k], want)
				}
			}
			for _, band := range x.BySupply {
				if want := countOf(all, r, func(u *unit) bool { return u.volts > band.Low && u.volts <= band.High }); band.Counts != want {
					t.Errorf("%s at %s: found %v, expected %v", r.name, band.Name, band.Counts, want)
				}
			}
			for _, f := range x.ByFault {
				c := countOf(all, r, func(u *unit) bool {
					return slices.Contains(u.truth, f.Fault) || f.Fault == validate.Healthy && len(u.truth) == 0
				})
				if f.Units != c.Units() || f.Applied != c.Applied() {
					t.Errorf("%s, %s: found %d of %d, expected %d of %d", r.name, f.Fault, f.Applied, f.Units, c.Applied(), c.Units())
				}
			}
		}
		recountOverall(t, got, all)
		recountConfusion(t, got, all)
		if never := got.Never(); len(never) != 1 || never[0].Rule != "three" {
			t.Errorf("found %v that never applied, expected three", never)
		}
	}
}

// recountOverall counts what all rules together say.
func recountOverall(t *testing.T, got *validate.Report, all []unit) {
	t.Helper()
	var want validate.Overall
	conflicts := map[[2]string]uint64{}
	for _, u := range all {
		want.Units++
		allRight, faulty, clash := true, false, false
		for i, c := range u.said {
			allRight = allRight && right(c.Faults, u.truth)
			faulty = faulty || len(c.Faults) > 0
			for _, o := range u.said[:i] {
				// Nothing in common: only "healthy" agrees with "healthy".
				apart := len(o.Faults)+len(c.Faults) > 0
				for _, f := range o.Faults {
					apart = apart && !slices.Contains(c.Faults, f)
				}
				if apart {
					clash = true
					conflicts[[2]string{o.Rule, c.Rule}]++
				}
			}
		}
		if len(u.said) > 0 {
			want.Covered++
			if allRight {
				want.Right++
			}
		}
		if clash {
			want.Conflicting++
		}
		switch there := len(u.truth) > 0; {
		case there && faulty:
			want.Counts.TP++
		case there:
			want.Counts.FN++
		case faulty:
			want.Counts.FP++
		default:
			want.Counts.TN++
		}
	}
	if got.Overall != want {
		t.Errorf("overall: found %+v, expected %+v", got.Overall, want)
	}
	var sum validate.Overall
	for _, m := range got.ByMeter {
		sum.Units += m.Units
		sum.Covered += m.Covered
		sum.Right += m.Right
	}
	if sum.Units != want.Units || sum.Covered != want.Covered || sum.Right != want.Right {
		t.Errorf("by meter: found %+v in all, expected %+v", sum, want)
	}
	if len(conflicts) != len(got.Conflicts) {
		t.Errorf("found %d conflicts, expected %v", len(got.Conflicts), conflicts)
	}
	for _, c := range got.Conflicts {
		if n := conflicts[[2]string{got.Rules[c.First].Rule, got.Rules[c.Second].Rule}]; n != c.Units || n == 0 {
			t.Errorf("found %+v, expected %d units", c, n)
		}
	}
}

// recountConfusion counts the table of all channels.
func recountConfusion(t *testing.T, got *validate.Report, all []unit) {
	t.Helper()
	want := map[[2]string]uint64{}
	for _, u := range all {
		truth := append([]string{}, u.truth...)
		sort.Strings(truth)
		row := validate.Healthy
		for i, f := range truth {
			if i == 0 {
				row = f
			} else {
				row += " + " + f
			}
		}
		column := validate.NoRule
		switch {
		case len(u.said) == 1:
			column = validate.Concluded(u.said[0].Faults)
		case len(u.said) > 1: // of these rules no two agree
			column = validate.Disagree
		}
		want[[2]string{row, column}]++
	}
	found := map[[2]string]uint64{}
	for _, r := range got.Confusion[0].Rows {
		for i, n := range r.Counts {
			if n > 0 {
				found[[2]string{r.Truth, got.Confusion[0].Concluded[i]}] = n
			}
		}
	}
	if !reflect.DeepEqual(found, want) {
		t.Errorf("confusion: found %v, expected %v", found, want)
	}
	sums := uint64(0)
	for _, c := range got.Confusion[1:] {
		for _, r := range c.Rows {
			for _, n := range r.Counts {
				sums += n
			}
		}
	}
	if sums != uint64(len(all)) {
		t.Errorf("confusion by channel: found %d units, expected %d", sums, len(all))
	}
}

// The figures that the kinds of meters show of a half-wave: a rule that half
// the supply is the opto holds with the direct-coupled averaging meters alone.
func TestHalfByMeter(t *testing.T) {
	j := job(t, 20, rule{"half", 0.44, 0.54, []string{"opto-one-way", "triac-one-way"}})
	s := j.Spec
	s.Tolerances.Supply.Voltage = population.Spread{} // so that the share is that of the nominal voltage
	p, err := population.New(j.Population.Board(), s, j.Seed)
	if err != nil {
		t.Fatal(err)
	}
	j.Population, j.Spec = p, s
	got := run(t, j).Rules[0]
	for i, m := range j.Population.Board().Meters {
		holds := m.Detector == models.AverageFullWave || m.Detector == models.AverageHalfWave || m.Detector == models.Direct
		se := got.ByMeter[i].Sensitivity().Value()
		if want := map[bool]float64{true: 1, false: 0}[holds]; se != want {
			t.Errorf("%s, %v: found sensitivity %v, expected %v", m.Name, m.Detector, se, want)
		}
	}
	if got.BySupply != nil {
		t.Errorf("found %v, expected no bands of a supply that is not drawn", got.BySupply)
	}
}

// The number of workers changes nothing, nor does a rule that is not known
// beforehand change what is counted.
func TestWorkers(t *testing.T) {
	j := job(t, 4, half, full, little, doubt)
	j.Redraw = 2
	j.Workers.Count = 1
	want := run(t, j)
	for _, n := range []int{2, 5} {
		j.Workers.Count = n
		if got := run(t, j); !reflect.DeepEqual(got, want) {
			t.Errorf("%d workers: found another report than with one", n)
		}
	}
	j.Claims = nil
	got := run(t, j)
	for _, r := range want.Rules {
		i := slices.IndexFunc(got.Rules, func(x validate.Rule) bool { return x.Rule == r.Rule })
		if i < 0 || got.Rules[i].Counts != r.Counts || !reflect.DeepEqual(got.Rules[i].ByMeter, r.ByMeter) {
			t.Errorf("%s not known beforehand: found %v, expected %v", r.Rule, got.Rules, r.Counts)
		}
	}
	if got.Overall != want.Overall {
		t.Errorf("not known beforehand: found %+v, expected %+v", got.Overall, want.Overall)
	}
}

// The most ordinary boards on which a rule fails, among all on which it does.
func TestExamples(t *testing.T) {
	j := job(t, 30, half)
	got := run(t, j).Rules[0]
	all, _ := units(t, j)
	for _, x := range []struct {
		name  string
		found []validate.Example
		wrong func(u *unit, said bool) bool
	}{
		{"misses", got.Misses, func(u *unit, said bool) bool { return slices.Contains(u.truth, "opto-one-way") && !said }},
		{"false alarms", got.Alarms, func(u *unit, said bool) bool { return !slices.Contains(u.truth, "opto-one-way") && said }},
	} {
		type at struct {
			index   uint64
			channel int
		}
		wrong := map[at][]int{}
		for i := range all {
			u := &all[i]
			if x.wrong(u, len(u.said) > 0) {
				k := at{u.index, u.channel}
				wrong[k] = append(wrong[k], u.meter)
			}
		}
		if len(x.found) != min(3, len(wrong)) || len(wrong) < 4 {
			t.Fatalf("%s: found %d of %d boards", x.name, len(x.found), len(wrong))
		}
		last := 0.0
		for _, e := range x.found {
			if m := wrong[at{e.Index, e.Channel}]; !slices.Equal(m, e.Meters) {
				t.Errorf("%s: board %d: found meters %v, expected %v", x.name, e.Index, e.Meters, m)
			}
			if e.Distance < last || math.IsNaN(e.Distance) {
				t.Errorf("%s: found distance %v after %v", x.name, e.Distance, last)
			}
			last = e.Distance
			if len(e.Values) != len(j.Judge.Needs()) {
				t.Errorf("%s: found %d values, expected %d", x.name, len(e.Values), len(j.Judge.Needs()))
			}
		}
	}
}

// A rule that reads volts where it means a share of the supply fails by the
// supply: that comes first among parameters, and with the supply at its own
// voltage the verdict is right.
func TestRank(t *testing.T) {
	j := job(t, 60, rule{"narrow", 0.98, 1.02, []string{"triac-shorted"}})
	j.Redraw = 4
	got := run(t, j).Rules[0]
	var misses []validate.Rank
	for _, r := range got.Ranks {
		if r.Mistake == validate.Miss {
			misses = append(misses, r)
		}
	}
	// Missed boards have a supply that is too low or too high: which of both is
	// even, so the area says little, but fixing it turns every verdict.
	i := slices.IndexFunc(misses, func(r validate.Rank) bool { return r.Parameter == "supply.voltage" })
	if i >= 0 && (misses[i].Tried != 4 || misses[i].Flipped != 4) {
		t.Errorf("found %+v, expected 4 of 4 that turn", misses[i])
	}
	// One-sided: a low supply alone is missed.
	j = job(t, 60, rule{"low", 0.99, 9, []string{"triac-shorted"}})
	j.Redraw = 4
	got = run(t, j).Rules[0]
	first := got.Ranks[0]
	if first.Parameter != "supply.voltage" || first.Mistake != validate.Miss || first.AUC != 0 || first.Strength() != 1 || !first.Clear || first.Tried != 4 || first.Flipped != 4 {
		t.Errorf("found %+v, expected supply.voltage to separate misses and turn 4 of 4", first)
	}
	for _, r := range got.Ranks[1:] {
		if r.Clear && r.Mistake == validate.Miss || r.Flipped > 0 {
			t.Errorf("found %+v, expected no other parameter to matter", r)
		}
	}
}

func TestInterrupted(t *testing.T) {
	j := job(t, 50, half)
	ctx, cancel := context.WithCancel(context.Background())
	j.Progress = func(done uint64) {
		if done == 10 {
			cancel()
		}
	}
	r, err := j.Run(ctx)
	if !errors.Is(err, context.Canceled) || r == nil || r.Done < 10 || r.Done >= r.Asked {
		t.Fatalf("found %v, %v, expected what was done", r, err)
	}
	j.Progress = nil
	j.To = j.From + r.Done
	if want := run(t, j); want.Rules[0].Counts != r.Rules[0].Counts {
		t.Errorf("found %v of the boards that were done, expected %v", r.Rules[0].Counts, want.Rules[0].Counts)
	}
}

func TestWrong(t *testing.T) {
	for name, change := range map[string]func(*validate.Job){
		"no population": func(j *validate.Job) { j.Population = nil },
		"indices":       func(j *validate.Job) { j.From, j.To = 2, 1 },
		"meter":         func(j *validate.Job) { j.Meters = []int{99} },
		"examples":      func(j *validate.Job) { j.Examples = -1 },
		"workers":       func(j *validate.Job) { j.Workers.Count = -1 },
		"channel":       func(j *validate.Job) { j.Judge = stray{newJudge(j.Population.Board(), half)} },
	} {
		j := job(t, 1, half)
		change(j)
		if r, err := j.Run(context.Background()); err == nil {
			t.Errorf("%s: found %v, expected an error", name, r)
		}
	}
}

// stray concludes about a channel that there is not.
type stray struct{ *judge }

func (stray) Judge(_ context.Context, dst []*rules.Conclusion, _ *rules.Case) ([]*rules.Conclusion, error) {
	return append(dst, &rules.Conclusion{Rule: "stray", Channel: 17}), nil
}

func TestBalanced(t *testing.T) {
	j := job(t, 1, half)
	d := j.Design
	seen := map[string]int{}
	for i := range 3 * d.Round() {
		m, err := d.Member(j.Population, i)
		if err != nil {
			t.Fatal(err)
		}
		if len(m.Faults) == 0 {
			seen[validate.Healthy]++
		}
		for _, f := range m.Faults {
			seen[population.Place{Fault: f.Fault, Channel: f.Channel}.String()]++
		}
		if len(m.Faults) > 1 {
			t.Errorf("board %d: found %d faults, expected one at most", i, len(m.Faults))
		}
	}
	for _, p := range d.Places {
		if seen[p.String()] != 3 {
			t.Errorf("%s: found %d boards, expected 3", p, seen[p.String()])
		}
	}
	if seen[validate.Healthy] != 3*d.Healthy || d.Healthy != len(d.Places) {
		t.Errorf("found %d healthy boards, expected %d", seen[validate.Healthy], 3*len(d.Places))
	}
	for _, share := range []float64{1, -0.1, 0.9999999, math.NaN()} {
		if _, err := validate.Balanced(j.Population, share); err == nil {
			t.Errorf("a share %v of healthy boards: expected an error", share)
		}
	}
}

func TestBoardRules(t *testing.T) {
	j := job(t, 3, half)
	b := j.Population.Board()
	j.Judge = &aboutBoard{newJudge(b, half), &rules.Conclusion{Rule: "odd", Channel: faults.WholeBoard, Faults: []string{"supply-low"}}}
	j.Claims = []validate.Claim{{Rule: "odd", Channels: []int{faults.WholeBoard}, Faults: []string{"supply-low"}}}
	r := run(t, j)
	solved := r.Done - r.Unsolved
	if want := solved * uint64(len(b.Meters)); r.Rules[0].Counts.Units() != want || r.Overall.Units != want || len(r.Confusion) != 1 || r.Confusion[0].Channel != "board" {
		t.Errorf("found %+v, expected a unit for each board and meter, %d", r.Overall, want)
	}
	odd := uint64(0)
	for i := range j.To {
		m, err := j.Design.Member(j.Population, i)
		if err != nil {
			t.Fatal(err)
		}
		rec, err := j.Observer.Observe(context.Background(), m)
		if err != nil {
			t.Fatal(err)
		}
		if rec.Problem == "" && i%2 == 1 {
			odd++
		}
	}
	if want := (validate.Counts{FP: odd * uint64(len(b.Meters)), TN: (solved - odd) * uint64(len(b.Meters))}); r.Rules[0].Counts != want {
		t.Errorf("found %v, expected %v", r.Rules[0].Counts, want)
	}
}

// aboutBoard concludes something about every other board.
type aboutBoard struct {
	*judge
	said *rules.Conclusion
}

func (a *aboutBoard) Judge(_ context.Context, dst []*rules.Conclusion, c *rules.Case) ([]*rules.Conclusion, error) {
	if c.Index%2 == 1 {
		dst = append(dst, a.said)
	}
	return dst, nil
}
