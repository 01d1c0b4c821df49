package validate

import (
	"cmp"
	"maps"
	"slices"

	"boilwright/faults"
)

// Report is what a validation came to.
type Report struct {
	Asked, Done uint64 // boards
	Healthy     uint64 // of them without a fault
	Unsolved    uint64 // of them without a solution, which are in nothing else
	Problem     string // of the first of these
	ProblemAt   uint64 // its index

	Channels []string // of the board
	Meters   []string // in hand; empty where no rule depends on it
	InHand   []int    // their indices in Board.Meters

	Rules []Rule // in the order of the judge
	// Overall is all rules together, Overall.ByMeter by Meters.
	Overall   Overall
	ByMeter   []Overall
	Conflicts []Conflict // the most frequent first
	Confusion []Confusion
}

// Rule is what a validation says about one rule.
type Rule struct {
	Claim
	Counts    Counts
	ByMeter   []Counts // by Report.Meters; of one that is none where there are none
	ByChannel []Counts // by Report.Channels; empty for a rule about the board
	BySupply  []Band
	ByFault   []FaultCount
	Ranks     []Rank
	// Misses and Alarms are the most ordinary boards on which the rule is wrong.
	Misses, Alarms []Example
}

// Band is a third of the supply voltages that are drawn.
type Band struct {
	Name      string
	Low, High float64 // V; 0 and +Inf at the ends
	Counts    Counts
}

// FaultCount is on how many of the units with a fault, alone or with others, a
// rule applied.
type FaultCount struct {
	Fault          string // Healthy for units without one
	Units, Applied uint64
	Right          bool // that it applied
}

// Overall is what all rules say together.
type Overall struct {
	Units       uint64
	Covered     uint64 // units of which at least one rule concluded something
	Conflicting uint64 // units of which two rules disagree
	Right       uint64 // units of which only right things were concluded, at least one
	// Counts are whether a fault was told, whichever, against whether one is
	// there.
	Counts Counts
}

func (o *Overall) add(c Overall) {
	o.Units += c.Units
	o.Covered += c.Covered
	o.Conflicting += c.Conflicting
	o.Right += c.Right
	o.Counts.add(c.Counts)
}

// Coverage is the share of units of which a rule concluded something.
func (o *Overall) Coverage() Share { return Share{o.Covered, o.Units} }

// Correct is the share of units with a conclusion of which all are right.
func (o *Overall) Correct() Share { return Share{o.Right, o.Covered} }

// Conflict is how often two rules disagreed about the same unit: one said
// healthy and the other not, or they named no fault in common. Where two
// faults are there, both may be right.
type Conflict struct {
	First, Second int // in Report.Rules
	Units         uint64
	// The first unit: its board, channel and meter in hand.
	Index   uint64
	Channel int
	Meter   int
}

// Confusion is what was concluded of units by their truth: of one channel, of
// the board, or of all channels.
type Confusion struct {
	Channel   string // a name, "board", or "all channels"
	Concluded []string
	Rows      []ConfusionRow
}

// ConfusionRow is the units of one truth.
type ConfusionRow struct {
	Truth  string   // "opto-shorted", "opto-shorted + scale", "healthy"
	Counts []uint64 // by Confusion.Concluded
}

// Never lists the rules that never applied.
func (r *Report) Never() []*Rule {
	var out []*Rule
	for i := range r.Rules {
		if r.Rules[i].Counts.Applied() == 0 {
			out = append(out, &r.Rules[i])
		}
	}
	return out
}

// report sums up.
func (t *tally) report(ranks [][]Rank) *Report {
	r := &Report{Done: t.done, Healthy: t.healthy, Unsolved: t.unsolved, Problem: t.problem, ProblemAt: t.problemAt}
	for i := range t.board.Channels {
		r.Channels = append(r.Channels, t.board.Channels[i].Name)
	}
	for _, m := range t.meters {
		if m != noMeter {
			r.Meters, r.InHand = append(r.Meters, meterName(t.board, m)), append(r.InHand, m)
		}
	}
	truth := slices.SortedFunc(maps.Keys(t.truth), cell.compare)
	onBoard, onChannels := false, len(t.lines) == 0
	for i, l := range t.lines {
		if l.claim.OnBoard() {
			onBoard = true
		} else {
			onChannels = true
		}
		r.Rules = append(r.Rules, t.rule(l, truth, ranks[i]))
	}
	for _, m := range t.meters {
		var o Overall
		for _, scope := range []bool{false, true} {
			if x := t.cover[place{scope, m}]; x != nil && (scope && onBoard || !scope && onChannels) {
				o.add(Overall{x.units, x.covered, x.conflicting, x.right, x.counts})
			}
		}
		r.ByMeter = append(r.ByMeter, o)
		r.Overall.add(o)
	}
	for _, k := range slices.SortedFunc(maps.Keys(t.conflicts), func(a, b [2]int) int { return cmp.Or(a[0]-b[0], a[1]-b[1]) }) {
		r.Conflicts = append(r.Conflicts, *t.conflicts[k])
	}
	slices.SortStableFunc(r.Conflicts, func(a, b Conflict) int { return cmp.Compare(b.Units, a.Units) })
	if onChannels {
		r.Confusion = append(r.Confusion, t.table("all channels", func(c int) bool { return c != faults.WholeBoard }))
		for k, name := range r.Channels {
			r.Confusion = append(r.Confusion, t.table(name, func(c int) bool { return c == k }))
		}
	}
	if onBoard {
		r.Confusion = append(r.Confusion, t.table("board", func(c int) bool { return c == faults.WholeBoard }))
	}
	return r
}

// rule sums up one line, given the cells of the truth in order.
func (t *tally) rule(l *line, truth []cell, ranks []Rank) Rule {
	r := Rule{Claim: l.claim, Ranks: ranks, Misses: l.nearest[miss], Alarms: l.nearest[falseAlarm], ByMeter: make([]Counts, len(t.meters))}
	if !l.claim.OnBoard() {
		r.ByChannel = make([]Counts, len(t.board.Channels))
	}
	if t.ordinary.supply >= 0 {
		edges := append(append([]float64{0}, t.ordinary.bounds...), infinity)
		for i, name := range bandNames {
			r.BySupply = append(r.BySupply, Band{Name: name, Low: edges[i], High: edges[i+1]})
		}
	}
	units, applied := make([]uint64, len(t.labels)), make([]uint64, len(t.labels))
	for _, at := range truth {
		if !l.claim.on(at.channel) {
			continue
		}
		n, k := t.truth[at], l.applied[at]
		var c Counts
		if l.matches[at.label] {
			c = Counts{TP: k, FN: n - k}
		} else {
			c = Counts{FP: k, TN: n - k}
		}
		units[at.label] += n
		applied[at.label] += k
		r.Counts.add(c)
		r.ByMeter[slices.Index(t.meters, at.meter)].add(c)
		if r.ByChannel != nil {
			r.ByChannel[at.channel].add(c)
		}
		if r.BySupply != nil {
			r.BySupply[at.band].Counts.add(c)
		}
	}
	for _, name := range append([]string{Healthy}, faults.Names()...) {
		f := FaultCount{Fault: name, Right: len(l.claim.Faults) == 0}
		if name != Healthy {
			f.Right = slices.Contains(l.claim.Faults, name)
		}
		for i := range t.labels {
			if name == Healthy && len(t.labels[i].faults) == 0 || slices.Contains(t.labels[i].faults, name) {
				f.Units += units[i]
				f.Applied += applied[i]
			}
		}
		if f.Units > 0 {
			r.ByFault = append(r.ByFault, f)
		}
	}
	return r
}

// table is the confusion table of some channels. Rows are in the order healthy,
// single faults in that of the catalogue, sets; columns likewise in that of the
// rules, then what is no conclusion.
func (t *tally) table(name string, of func(channel int) bool) Confusion {
	counts := map[[2]int]uint64{}
	rows, columns := map[int]bool{}, map[int]bool{}
	for k, n := range t.confusion {
		if of(k.channel) {
			counts[[2]int{k.label, k.concluded}] += n
			rows[k.label], columns[k.concluded] = true, true
		}
	}
	catalogue := faults.Names()
	order := func(i int) (int, int) {
		f := t.labels[i].faults
		switch len(f) {
		case 0:
			return 0, 0
		case 1:
			return 1, slices.Index(catalogue, f[0])
		}
		return len(f), 0
	}
	labels := slices.SortedFunc(maps.Keys(rows), func(a, b int) int {
		a0, a1 := order(a)
		b0, b1 := order(b)
		return cmp.Or(a0-b0, a1-b1, cmp.Compare(t.labels[a].text, t.labels[b].text))
	})
	last := []string{Healthy, NoRule, Disagree}
	words := slices.SortedFunc(maps.Keys(columns), func(a, b int) int {
		x, y := t.words[a], t.words[b]
		return cmp.Or(slices.Index(last, x)-slices.Index(last, y), cmp.Compare(x, y))
	})
	c := Confusion{Channel: name}
	for _, w := range words {
		c.Concluded = append(c.Concluded, t.words[w])
	}
	for _, l := range labels {
		row := ConfusionRow{Truth: t.labels[l].text}
		for _, w := range words {
			row.Counts = append(row.Counts, counts[[2]int{l, w}])
		}
		c.Rows = append(c.Rows, row)
	}
	return c
}
