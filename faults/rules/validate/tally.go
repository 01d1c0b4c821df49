package validate

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/faults/rules"
	"boilwright/models"
)

// Kinds of units of one rule.
const (
	hit = iota
	falseAlarm
	miss
	quiet
	kinds
)

// mostLabels bounds how many sets of several faults are told apart; what comes
// after that is pooled by its first fault.
const mostLabels = 600

// reservoirSize is how many units of each kind and rule are compared.
const reservoirSize = 256

// cell is where units are counted alike.
type cell struct {
	channel int // faults.WholeBoard for the board
	meter   int // noMeter for none in hand
	band    int
	label   int // of the truth
}

func (a cell) compare(b cell) int {
	for _, d := range []int{a.label - b.label, a.channel - b.channel, a.meter - b.meter, a.band - b.band} {
		if d != 0 {
			return d
		}
	}
	return 0
}

// said is a cell of the confusion table.
type said struct{ channel, label, concluded int }

// line is what is counted of one rule.
type line struct {
	claim   Claim
	applied map[cell]uint64
	matches []bool // by label: whether the rule is right there
	kept    [kinds]reservoir
	// pending are units of the board that is counted, the first in order of
	// each kind: only one of a board is compared, as its units are not
	// independent of each other.
	pending [kinds]sample
	waiting [kinds]bool
	nearest [kinds][]Example
	stamp   uint64 // of the last unit at which it applied
}

// coverage is how rules as a whole do on the units of one kind and meter.
type coverage struct {
	units, covered, conflicting uint64
	right                       uint64 // covered, with right conclusions only
	counts                      Counts // a fault said, against a fault there
}

// tally counts units as boards come.
type tally struct {
	board    *models.Board
	ordinary *ordinary
	meters   []int
	examples int

	done, unsolved, healthy uint64
	problem                 string
	problemAt               uint64

	labels    []label
	labelOf   map[string]int
	words     []string // that are concluded
	wordOf    map[string]int
	truth     map[cell]uint64
	confusion map[said]uint64
	cover     map[place]*coverage
	lines     []*line
	on        [][]int // lines by the channels they are tried on, the board first
	lineOf    map[string]int
	lineBy    map[*rules.Conclusion]int
	conflicts map[[2]int]*Conflict
	stamp     uint64
}

// place is a scope, board or channels, and a meter in hand.
type place struct {
	onBoard bool
	meter   int
}

type label struct {
	text   string
	faults []string
}

func newTally(b *models.Board, o *ordinary, meters []int, claims []Claim, examples int) (*tally, error) {
	t := &tally{
		board: b, ordinary: o, meters: meters, examples: examples,
		labelOf: map[string]int{}, wordOf: map[string]int{}, truth: map[cell]uint64{}, confusion: map[said]uint64{}, cover: map[place]*coverage{},
		lineOf: map[string]int{}, lineBy: map[*rules.Conclusion]int{}, conflicts: map[[2]int]*Conflict{},
		on: make([][]int, len(b.Channels)-faults.WholeBoard),
	}
	for _, c := range claims {
		if _, err := t.add(c); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// key tells conclusions apart.
func key(rule string, onBoard bool, names []string) string {
	return fmt.Sprintf("%s\x00%v\x00%s", rule, onBoard, strings.Join(names, "\x00"))
}

// add makes a line for a rule.
func (t *tally) add(c Claim) (int, error) {
	k := key(c.Rule, c.OnBoard(), c.Faults)
	if i, ok := t.lineOf[k]; ok {
		return i, nil
	}
	if len(t.lines) >= mostRules {
		return 0, fmt.Errorf("found more than %d different conclusions, expected fewer", mostRules)
	}
	l := &line{claim: c, applied: map[cell]uint64{}}
	for k := range l.kept {
		l.kept[k].size = reservoirSize
	}
	for i := range t.labels {
		l.matches = append(l.matches, holds(c.Faults, t.labels[i].faults))
	}
	t.lines = append(t.lines, l)
	t.lineOf[k] = len(t.lines) - 1
	for i := range t.on {
		if c.on(i + faults.WholeBoard) {
			t.on[i] = append(t.on[i], len(t.lines)-1)
		}
	}
	return len(t.lines) - 1, nil
}

// lineFor finds the line of a conclusion.
func (t *tally) lineFor(c *rules.Conclusion) (int, error) {
	if i, ok := t.lineBy[c]; ok {
		return i, nil
	}
	claim := Claim{Rule: c.Rule, Faults: c.Faults}
	if c.Channel == faults.WholeBoard {
		claim.Channels = []int{faults.WholeBoard}
	} else if c.Channel < 0 || c.Channel >= len(t.board.Channels) {
		return 0, fmt.Errorf("rule %s: found channel %d, expected one of %d or the board", c.Rule, c.Channel+1, len(t.board.Channels))
	}
	i, err := t.add(claim)
	if err == nil && len(t.lineBy) < mostRules*(1+len(t.board.Channels)) {
		t.lineBy[c] = i
	}
	return i, err
}

// labelFor finds the number of a set of faults.
func (t *tally) labelFor(names []string) int {
	text := truthLabel(names)
	if i, ok := t.labelOf[text]; ok {
		return i
	}
	if len(names) > 1 && len(t.labels) >= mostLabels {
		return t.labelFor(names[:1])
	}
	t.labels = append(t.labels, label{text, names})
	i := len(t.labels) - 1
	t.labelOf[text] = i
	for _, l := range t.lines {
		l.matches = append(l.matches, holds(l.claim.Faults, names))
	}
	return i
}

func (t *tally) wordFor(text string) int {
	i, ok := t.wordOf[text]
	if !ok {
		i = len(t.words)
		t.words = append(t.words, text)
		t.wordOf[text] = i
	}
	return i
}

// take counts one board.
func (t *tally) take(x *judged) error {
	t.done++
	if len(x.faults) == 0 {
		t.healthy++
	}
	if x.record.Problem != "" {
		if t.unsolved++; t.unsolved == 1 {
			t.problem, t.problemAt = x.record.Problem, x.index
		}
		return nil
	}
	band := t.ordinary.band(x.drawn)
	for c := faults.WholeBoard; c < len(t.board.Channels); c++ {
		names := Truth(x.faults, c)
		l := t.labelFor(names)
		wrong := newMistakes(x, c)
		for i, m := range t.meters {
			if err := t.unit(x, cell{c, m, band, l}, x.concluded[i], wrong); err != nil {
				return err
			}
		}
		t.keep(wrong)
	}
	for _, l := range t.lines {
		for k := range l.waiting {
			if l.waiting[k] {
				l.kept[k].add(l.pending[k])
				l.waiting[k] = false
			}
		}
	}
	return nil
}

// unit counts one unit: what was concluded about it is among all that was
// concluded of the board.
func (t *tally) unit(x *judged, at cell, all []*rules.Conclusion, wrong *mistakes) error {
	t.stamp++
	t.truth[at]++
	var here []*rules.Conclusion
	var lines []int
	right := true
	for _, c := range all {
		if c.Channel != at.channel {
			if c.Channel < faults.WholeBoard || c.Channel >= len(t.board.Channels) {
				_, err := t.lineFor(c)
				return err
			}
			continue
		}
		i, err := t.lineFor(c)
		if err != nil {
			return err
		}
		if t.lines[i].stamp == t.stamp {
			continue // said twice
		}
		t.lines[i].stamp = t.stamp
		t.lines[i].applied[at]++
		right = right && t.lines[i].matches[at.label]
		for k, o := range here {
			if disagree(o.Faults, c.Faults) {
				t.conflict(lines[k], i, x.index, at)
			}
		}
		here, lines = append(here, c), append(lines, i)
	}
	t.concluded(at, here, right)

	order := orderOf(x.index, at.channel, at.meter)
	for _, i := range t.on[at.channel-faults.WholeBoard] {
		l := t.lines[i]
		kind := quiet
		switch applied, matches := l.stamp == t.stamp, l.matches[at.label]; {
		case applied && matches:
			kind = hit
		case applied:
			kind = falseAlarm
		case matches:
			kind = miss
		}
		if l.kept[kind].wants(order) && (!l.waiting[kind] || order < l.pending[kind].order) {
			l.waiting[kind] = true
			l.pending[kind] = sample{order, x.index, at.channel, at.meter, x.drawn, severityOf(x.faults, at.channel, l, kind)}
		}
		if kind == miss || kind == falseAlarm {
			wrong.add(i, kind, at.meter)
		}
	}
	return nil
}

// severityOf is the lowest severity of the graded faults of a channel that
// the rule is about; none where it is about none of them.
func severityOf(set faults.Set, channel int, l *line, kind int) float64 {
	if kind != hit && kind != miss {
		return none
	}
	lowest := none
	for _, j := range set {
		if j.Channel != channel || !slices.Contains(l.claim.Faults, j.Fault) {
			continue
		}
		if f, ok := faults.Find(j.Fault); ok && f.Graded && !(lowest <= j.Severity) {
			lowest = j.Severity
		}
	}
	return lowest
}

// conflict counts two rules that disagree about a unit.
func (t *tally) conflict(a, b int, index uint64, at cell) {
	k := [2]int{min(a, b), max(a, b)}
	x := t.conflicts[k]
	if x == nil {
		x = &Conflict{First: k[0], Second: k[1], Index: index, Channel: at.channel, Meter: at.meter}
		t.conflicts[k] = x
	}
	x.Units++
}

// concluded counts what all rules together say of a unit.
func (t *tally) concluded(at cell, here []*rules.Conclusion, right bool) {
	p := place{at.channel == faults.WholeBoard, at.meter}
	x := t.cover[p]
	if x == nil {
		x = &coverage{}
		t.cover[p] = x
	}
	x.units++
	text, faulty := NoRule, false
	if len(here) > 0 {
		x.covered++
		if right {
			x.right++
		}
		clash := false
		for i := range here {
			faulty = faulty || !here[i].Healthy()
			for k := range i {
				clash = clash || disagree(here[i].Faults, here[k].Faults)
			}
		}
		left := common(here)
		switch {
		case clash || len(left) == 0 && faulty:
			text = Disagree
		default:
			text = Concluded(left)
		}
		if clash {
			x.conflicting++
		}
	}
	there := len(t.labels[at.label].faults) > 0
	switch {
	case faulty && there:
		x.counts.TP++
	case faulty:
		x.counts.FP++
	case there:
		x.counts.FN++
	default:
		x.counts.TN++
	}
	t.confusion[said{at.channel, at.label, t.wordFor(text)}]++
}

// mistakes are the rules that are wrong about one channel of a board, or about
// the board.
type mistakes struct {
	judged  *judged
	channel int
	of      []mistake
}

type mistake struct {
	line, kind int
	meters     []int
}

func newMistakes(x *judged, channel int) *mistakes { return &mistakes{judged: x, channel: channel} }

func (w *mistakes) add(line, kind, meter int) {
	for i := range w.of {
		if w.of[i].line == line && w.of[i].kind == kind {
			w.of[i].meters = append(w.of[i].meters, meter)
			return
		}
	}
	w.of = append(w.of, mistake{line, kind, []int{meter}})
}

// keep keeps the most ordinary boards on which rules are wrong.
func (t *tally) keep(w *mistakes) {
	x := w.judged
	plain := math.NaN()
	for _, m := range w.of {
		if t.examples == 0 {
			return
		}
		l := t.lines[m.line]
		severity := severityOf(x.faults, w.channel, l, m.kind)
		var d float64
		if math.IsNaN(severity) {
			if math.IsNaN(plain) {
				plain = t.ordinary.distance(x.drawn, w.channel, none)
			}
			d = plain
		} else {
			d = t.ordinary.distance(x.drawn, w.channel, severity)
		}
		e := Example{Index: x.index, Channel: w.channel, Meters: m.meters, Distance: d, Faults: x.faults, Values: x.record.Values}
		l.nearest[m.kind] = nearer(l.nearest[m.kind], e, t.examples)
	}
}
