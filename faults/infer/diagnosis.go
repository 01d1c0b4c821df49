package infer

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Diagnosis is what evidence comes to.
type Diagnosis struct {
	Evidence []Evidence
	Suspects []Suspect // the likeliest first
	// Other is the probability of something that is not in the catalogue, or
	// of a board outside its tolerances.
	Other float64
	// Actions are what to do, by probability.
	Actions []Choice
	Moves   []Move // by evidence
	// Unexplained lists the evidence, by index, that no suspect explains.
	Unexplained []int
	Meters      []MeterBelief
	// Alike are groups of suspects that none of the tests that were not done
	// can separate.
	Alike [][]string
	// Unlikely are suspects that are not excluded yet, and what would exclude
	// them.
	Unlikely []Exclusion
	// Next is the advised test, nil where Stop says why there is none.
	Next *Advice
	// Others are the tests that came next after it, the best first.
	Others []Advice
	Stop   string
	// Decided tells that what remains unknown would not change the action.
	Decided bool
	// Confirm is what shows that the repair was one.
	Confirm  []Reading
	Warnings []string
}

// Suspect is a fault in a place, over all its degrees.
type Suspect struct {
	Name        string
	Text        string // with the settings of the likeliest degree
	Probability float64
	Prior       float64
	Action      string
}

// Choice is an action with its probability.
type Choice struct {
	Do          string
	Probability float64
	Check       []string
	Suspects    []string
}

// Move is what a piece of evidence did to the answer.
type Move struct {
	// Bits is the change of the logarithm to base 2 of the odds of the first
	// suspect that the evidence made, on top of all other evidence.
	Bits    float64
	Without float64 // probability of the first suspect without this evidence
	Amiss   float64 // probability that it is a mistake, or from outside the catalogue
}

// Reading is a test with what it should show.
type Reading struct {
	Test      Test
	Low, High float64
	Text      string
}

// unexplained is the probability of being a mistake, or from outside the
// catalogue, from which evidence counts as not explained: an assumption, of
// which "diagnose --evaluate" tells how often it is met on boards with faults
// of the catalogue.
const unexplained = 0.2

// decided is the probability from which an action needs no further test: an
// assumption.
const decided = 0.97

// MostEvidence is how many pieces of evidence are weighed at once: with more
// that nothing explains, probabilities would be too small for numbers.
const MostEvidence = 60

// Exclude tells Diagnose which tests cannot be done: by Key.
type Exclude map[string]bool

// Diagnose weighs the evidence and advises. Tests in cannot are not advised.
// The error tells of evidence that the board cannot have.
func (w *Bench) Diagnose(es []Evidence, cannot Exclude) (*Diagnosis, error) {
	if len(es) > MostEvidence {
		return nil, fmt.Errorf("found %d pieces of evidence, expected at most %d", len(es), MostEvidence)
	}
	for i := range es {
		if err := w.CheckTest(&es[i].Test); err != nil {
			return nil, fmt.Errorf("%s: %w", es[i].Text, err)
		}
	}
	kept, of := w.distinct(es)
	obs := w.prepare(kept)
	b := w.score(obs, -1)
	if likely := b.likely(1e-3, 60); len(obs) > 0 && len(likely) > 0 {
		w.refine(obs, likely)
		b = w.score(obs, -1)
	}
	b.explain(obs)
	d := &Diagnosis{Evidence: es, Other: b.other, Meters: b.meters}
	d.Suspects = w.suspects(b)
	d.Actions = w.actions(b)
	top := ""
	if len(d.Suspects) > 0 {
		top = d.Suspects[0].Name
	}
	moves := make([]Move, len(obs))
	for i := range obs {
		without := w.score(obs, i).of(top)
		moves[i] = Move{Bits: logOdds(b.of(top)) - logOdds(without), Without: without, Amiss: b.amiss[i]}
	}
	for i, k := range of {
		if b.amiss[k] > unexplained {
			d.Unexplained = append(d.Unexplained, i)
		}
		if slices.Index(of, k) < i {
			d.Moves = append(d.Moves, Move{Without: b.of(top), Amiss: b.amiss[k]})
			continue
		}
		d.Moves = append(d.Moves, moves[k])
	}
	d.Warnings = w.warnings(es)
	w.advise(d, b, obs, cannot)
	return d, nil
}

// distinct returns the evidence with repeats put together, and for each piece
// where it went. The same test done again with the same meter tells nothing
// new: what the instrument and the model are wrong by is the same again.
// Values count as their mean; those too far apart for one board stay as they
// are, as one of them is a mistake.
func (w *Bench) distinct(es []Evidence) (kept []Evidence, of []int) {
	apart := map[int]bool{}
	for _, c := range w.Contradictions(es) {
		apart[c[0]], apart[c[1]] = true, true
	}
	var count []float64
	index := map[string]int{}
	for i := range es {
		e := &es[i]
		key := e.Test.Key() + " " + strings.Join(e.Test.Meters, "|")
		k, ok := index[key]
		if !ok || apart[i] {
			if !apart[i] {
				index[key] = len(kept)
			}
			of, kept, count = append(of, len(kept)), append(kept, *e), append(count, 1)
			continue
		}
		of = append(of, k)
		count[k]++
		if x := &kept[k]; e.Test.Choices() == nil && x.Value != e.Value { // neither is open, or they would be apart
			x.Value += (e.Value - x.Value) / count[k]
		}
	}
	return kept, of
}

// of is the probability of all hypotheses of a name.
func (b *belief) of(name string) float64 {
	sum := 0.0
	for h, ws := range b.weight {
		if b.w.Hypotheses[h].Name != name {
			continue
		}
		for _, x := range ws {
			sum += x
		}
	}
	return sum
}

func logOdds(p float64) float64 {
	const least = 1e-9
	p = math.Max(least, math.Min(1-least, p))
	return math.Log2(p / (1 - p))
}

// suspects gathers hypotheses by name.
func (w *Bench) suspects(b *belief) []Suspect {
	p := b.posterior()
	index := map[string]int{}
	best := map[string]float64{}
	var names []string
	for i := range w.Board.Channels {
		names = append(names, w.Board.Channels[i].Name)
	}
	var out []Suspect
	for h := range p {
		x := &w.Hypotheses[h]
		i, ok := index[x.Name]
		if !ok {
			i = len(out)
			index[x.Name] = i
			out = append(out, Suspect{Name: x.Name, Text: x.Text(names), Action: x.Action.Do})
		}
		out[i].Probability += p[h]
		out[i].Prior += x.Prior
		if p[h] > best[x.Name] {
			best[x.Name] = p[h]
			out[i].Text = x.Text(names)
		}
	}
	slices.SortStableFunc(out, func(x, y Suspect) int { return cmp.Compare(y.Probability, x.Probability) })
	return out
}

// actions gathers hypotheses by what to do about them.
func (w *Bench) actions(b *belief) []Choice {
	p := b.posterior()
	index := map[string]int{}
	var out []Choice
	for _, h := range b.likely(0, len(p)) {
		a := &w.Hypotheses[h].Action
		i, ok := index[a.Do]
		if !ok {
			i = len(out)
			index[a.Do] = i
			out = append(out, Choice{Do: a.Do})
		}
		c := &out[i]
		c.Probability += p[h]
		if p[h] >= 0.02 || len(c.Suspects) == 0 {
			for _, x := range a.Check {
				if !slices.Contains(c.Check, x) {
					c.Check = append(c.Check, x)
				}
			}
			if name := w.Hypotheses[h].Name; !slices.Contains(c.Suspects, name) {
				c.Suspects = append(c.Suspects, name)
			}
		}
	}
	slices.SortStableFunc(out, func(x, y Choice) int { return cmp.Compare(y.Probability, x.Probability) })
	return out
}

// warnings tells of simulations of the evidence that came to no end.
func (w *Bench) warnings(es []Evidence) []string {
	failures := 0
	for i := range es {
		xs := w.experiments(&es[i].Test)
		for j := range xs {
			s := w.sheet(&xs[j])
			for h := range w.Hypotheses {
				for m := range w.looked[h].draws {
					if r := w.row(&xs[j], s, h, m); r != nil && len(r) == 0 {
						failures++
					}
				}
			}
		}
	}
	if failures == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%d simulations came to no end; they count as fitting the evidence by mistake only", failures)}
}

// Contradictions lists pairs of evidence, by index, that are the same test
// with the same meter and show values too far apart for one board.
func (w *Bench) Contradictions(es []Evidence) [][2]int {
	var out [][2]int
	for i := range es {
		for j := range i {
			a, b := &es[j], &es[i]
			if a.Test.Key() != b.Test.Key() || strings.Join(a.Test.Meters, "|") != strings.Join(b.Test.Meters, "|") {
				continue
			}
			if a.Test.Choices() != nil {
				if a.Value != b.Value {
					out = append(out, [2]int{j, i})
				}
				continue
			}
			sc := scaleOf(&a.Test, w.Board)
			sd := math.Hypot(sc.error(a.Value, a.Uncertainty), sc.error(b.Value, b.Uncertainty))
			if math.Abs(sc.y(a.Value)-sc.y(b.Value)) > 5*sd {
				out = append(out, [2]int{j, i})
			}
		}
	}
	return out
}
