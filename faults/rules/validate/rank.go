package validate

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim/population"
)

// Mistake is how a rule can be wrong.
type Mistake int

// The mistakes.
const (
	Miss       Mistake = iota // it is true and not said
	FalseAlarm                // it is said and not true
)

func (m Mistake) String() string { return [...]string{"miss", "false alarm"}[m] }

// kinds are the units of which a mistake is, and those with the same truth that
// were judged rightly.
func (m Mistake) kinds() (wrong, right int) {
	if m == Miss {
		return miss, hit
	}
	return falseAlarm, quiet
}

// SeverityName stands for the severity of the missed fault among parameters.
const SeverityName = "severity"

// Rank is how a drawn parameter goes with mistakes of a rule.
type Rank struct {
	Mistake   Mistake
	Parameter string // a column's name without its channel and meter in hand, or SeverityName
	// AUC is the probability that it is higher, in standard deviations from the
	// board's own value, on a unit judged wrongly than on one judged rightly.
	AUC float64
	// Wrong and Right are how many units were compared, one of a board.
	Wrong, Right int
	// Clear tells that it is farther from 1/2 than the farthest of so many
	// parameters is by chance in one case of twenty.
	Clear bool
	// Tried is how many of the wrong units were judged again with the parameter
	// at the board's own value, the severity at 1, and Flipped how many of
	// these were then judged rightly.
	Tried, Flipped int

	parameter string // in the tolerances
}

// Strength is |2·AUC − 1|, from 0 where a parameter says nothing about
// mistakes to 1 where it separates them.
func (r *Rank) Strength() float64 { return math.Abs(2*r.AUC - 1) }

// fewest is how many units of each side are compared at least.
const fewest = 5

// mostRanks is how many parameters are told of a rule and kind of mistake.
const mostRanks = 12

// rank compares the drawn values of units judged rightly and wrongly, for each
// line.
func (t *tally) rank() [][]Rank {
	out := make([][]Rank, len(t.lines))
	for i, l := range t.lines {
		for _, m := range []Mistake{Miss, FalseAlarm} {
			out[i] = append(out[i], t.rankLine(l, m)...)
		}
	}
	return out
}

// comparable returns the wrong and the right units that are kept, of those
// meters in hand with which there are both: what a rule is always wrong with
// says nothing about parameters.
func (l *line) comparable(m Mistake) (wrong, right samples) {
	w, r := m.kinds()
	with := func(of samples, meter int) bool {
		return slices.ContainsFunc(of, func(s sample) bool { return s.meter == meter })
	}
	keep := func(of, other samples) samples {
		return slices.DeleteFunc(slices.Clone(of), func(s sample) bool { return !with(other, s.meter) })
	}
	return keep(l.kept[w].heap, l.kept[r].heap), keep(l.kept[r].heap, l.kept[w].heap)
}

func (t *tally) rankLine(l *line, m Mistake) []Rank {
	wrong, right := l.comparable(m)
	features := t.ordinary.features
	if m == Miss {
		features = append([]feature{{name: SeverityName}}, features...)
	}
	limit := distuv.UnitNormal.Quantile(1 - 0.05/(2*float64(len(features))))
	var out []Rank
	for i := range features {
		f := &features[i]
		a, b := t.valuesOf(f, right), t.valuesOf(f, wrong)
		if len(a) < fewest || len(b) < fewest {
			continue
		}
		x := Rank{Mistake: m, Parameter: f.name, AUC: AUC(a, b), Wrong: len(b), Right: len(a), parameter: f.parameter}
		x.Clear = math.Abs(x.AUC-0.5) > limit*deviationAUC(len(a), len(b))
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(a, b Rank) int { return cmp.Compare(b.Strength(), a.Strength()) })
	return out[:min(len(out), mostRanks)]
}

// valuesOf are the values of a feature, where units have it.
func (t *tally) valuesOf(f *feature, of samples) []float64 {
	var out []float64
	for i := range of {
		if v := t.ordinary.value(f, &of[i]); !math.IsNaN(v) {
			out = append(out, v)
		}
	}
	return out
}

// trial is one board that is drawn again with one parameter at its own value.
type trial struct {
	index      uint64
	population *population.Population
	units      []retrial
}

// retrial is one unit of such a board that is judged again.
type retrial struct {
	line, rank int
	sample     sample
}

// mostRedrawn is how many parameters are tried of a rule and kind of mistake:
// the strongest.
const mostRedrawn = 4

// redraw judges some of the wrong units again, with one parameter at its own
// value, and counts those that are then right.
func (j *Job) redraw(ctx context.Context, t *tally, ranks [][]Rank) error {
	trials, err := j.trials(t, ranks)
	if err != nil {
		return err
	}
	needs := len(j.Judge.Needs())
	return population.Each(ctx, 0, uint64(len(trials)), j.Workers, func(ctx context.Context, i uint64) ([]bool, error) {
		return j.retry(ctx, &trials[i], t.lines, needs)
	}, func(i uint64, right []bool) error {
		for k, u := range trials[i].units {
			r := &ranks[u.line][u.rank]
			r.Tried++
			if right[k] {
				r.Flipped++
			}
		}
		return nil
	})
}

// trials lists what is judged again. Units of one board that share a parameter
// are one trial, so that the board is observed once.
func (j *Job) trials(t *tally, ranks [][]Rank) ([]trial, error) {
	type drawn struct {
		index     uint64
		parameter string
		line      int // of a severity, which depends on the faults of the rule
		channel   int
	}
	var out []trial
	at := map[drawn]int{}
	fixed := map[string]*population.Population{}
	for i, l := range t.lines {
		tried := [2]int{}
		for k := range ranks[i] {
			r := &ranks[i][k]
			if tried[r.Mistake]++; tried[r.Mistake] > mostRedrawn {
				continue
			}
			p, err := j.fixing(fixed, r.parameter)
			if err != nil {
				return nil, err
			}
			for _, s := range j.retried(l, r.Mistake) {
				key := drawn{s.index, r.parameter, -1, -1}
				if r.parameter == "" {
					if math.IsNaN(s.severity) {
						continue
					}
					key.line, key.channel = i, s.channel
				}
				n, ok := at[key]
				if !ok {
					n = len(out)
					at[key] = n
					out = append(out, trial{index: s.index, population: p})
				}
				out[n].units = append(out[n].units, retrial{i, k, s})
			}
		}
	}
	return out, nil
}

// fixing returns the population with a parameter at its own value; that of the
// job for the severity, which is none.
func (j *Job) fixing(known map[string]*population.Population, parameter string) (*population.Population, error) {
	if parameter == "" {
		return j.Population, nil
	}
	if p := known[parameter]; p != nil {
		return p, nil
	}
	s := j.Spec
	x, ok := population.FindParameter(parameter)
	if !ok {
		return nil, fmt.Errorf("found parameter %q, expected one that is drawn", parameter)
	}
	*x.Of(&s.Tolerances) = population.Spread{}
	p, err := population.New(j.Population.Board(), s, j.Seed)
	known[parameter] = p
	return p, err
}

// retried are the wrong units of a line that are judged again, the first in
// order.
func (j *Job) retried(l *line, m Mistake) []sample {
	of, _ := l.comparable(m)
	slices.SortFunc(of, func(a, b sample) int { return cmp.Compare(a.order, b.order) })
	return of[:min(len(of), j.Redraw)]
}

// retry tells of the units of a trial whether the rules that were wrong about
// them are right when the board is drawn again. Of a board that then has no
// solution none is.
func (j *Job) retry(ctx context.Context, x *trial, lines []*line, needs int) ([]bool, error) {
	out := make([]bool, len(x.units))
	m, err := j.Design.Member(x.population, x.index)
	if err != nil {
		return out, nil // such a board cannot have the fault
	}
	if x.population == j.Population {
		u := &x.units[0] // the severity of the faults of one rule on one channel
		atFull(&m, u.sample.channel, lines[u.line].claim.Faults)
	}
	var meters []int
	for i := range x.units {
		if k := x.units[i].sample.meter; !slices.Contains(meters, k) {
			meters = append(meters, k)
		}
	}
	y, err := judge(ctx, j.Judge, needs, j.Observer, m, meters)
	if err != nil || y.record.Problem != "" {
		return out, err
	}
	for i := range x.units {
		u := &x.units[i]
		c := &lines[u.line].claim
		applied := false
		for _, s := range y.concluded[slices.Index(meters, u.sample.meter)] {
			applied = applied || s.Channel == u.sample.channel && s.Rule == c.Rule && slices.Equal(s.Faults, c.Faults)
		}
		out[i] = applied == holds(c.Faults, Truth(m.Faults, u.sample.channel))
	}
	return out, nil
}

// atFull sets the named faults of a channel to their full severity, where the
// board can have that.
func atFull(m *population.Member, channel int, names []string) {
	for i := range m.Faults {
		f := m.Faults[i]
		if f.Channel != channel || !slices.Contains(names, f.Fault) {
			continue
		}
		f.Severity = 1
		if _, err := (faults.Set{f}).Applied(m.Board); err == nil {
			m.Faults[i] = f
		}
	}
}

// meterName names a meter in hand; empty for none.
func meterName(b *models.Board, i int) string {
	if i < 0 || i >= len(b.Meters) {
		return ""
	}
	return b.Meters[i].Name
}
