package infer

import (
	"fmt"
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/models"
)

// Hypothesis is one state of affairs: faults with their degrees in their
// places. Those that differ by degree or polarity only have the same Name.
type Hypothesis struct {
	Set  faults.Set
	Name string // "dye:opto-one-way", "dye:triac-shorted + dye:link-open", "healthy"
	// Channel is the channel of the faults, −1 where there is none or more
	// than one.
	Channel int
	Prior   float64
	Action  Action
}

// variants are the degrees and polarities in which a fault is taken, as
// settings; those not listed are taken once, at full severity. They are a
// choice of this package: few, and far enough apart to cover what differs.
var variants = map[string][][]faults.Setting{
	"triac-one-way":         polarities,
	"triac-insensitive":     polarities,
	"opto-one-way":          polarities,
	"opto-half-wave":        polarities,
	"opto-breakover":        polarities,
	"film-opto":             values("resistance", 2e3, 5e3, 8e3, 11e3, 14e3, 20e3, 50e3),
	"film-triac":            values("resistance", 5e3, 50e3),
	"film-gate":             values("resistance", 100, 300),
	"film-earth":            values("resistance", 2e3, 20e3, 100e3),
	"element-leaking":       values("resistance", 2e3, 10e3, 100e3),
	"element-part-shorted":  values("left", 0.35, 0.5, 0.7),
	"terminal-resistance":   values("resistance", 1, 5, 20),
	"gate-resistor-drifted": values("factor", 3, 5, 10),
	"drive-low":             values("voltage", 1.5, 3),
	"probe-drift":           values("drift", -10, -5, 5, 10),
	"supply-low":            values("factor", 0.75, 0.85),
	"loose-neutral":         values("resistance", 3, 10),
	"scale":                 values("factor", 4, 10),
	"low-level":             values("left", 0.1, 0.25),
	"link-wrong-rating":     values("functions", 60, 240),
}

var polarities = values("polarity", 1, -1)

func values(key string, vs ...float64) [][]faults.Setting {
	var out [][]faults.Setting
	for _, v := range vs {
		out = append(out, []faults.Setting{{Key: key, Value: v}})
	}
	return out
}

// pairs are faults that cascades or a common cause make plausible together on
// one channel, besides the catalogue's cascades: what kept an element on until
// its link opened, films of one wet patch, and what one surge does.
var pairs = []string{
	"opto-shorted + link-open",
	"opto-one-way + link-open",
	"film-opto + link-open",
	"drive-stuck-on + link-open",
	"probe-detached + link-open",
	"probe-open + link-open",
	"film-opto + film-triac",
	"film-opto + film-gate",
	"triac-one-way + opto-one-way",
}

// Enumerate lists the hypotheses for a board: healthy, every fault of the
// catalogue that the board can have on every channel in its variants, and
// plausible pairs. Priors are normalised.
func Enumerate(b *models.Board, p *Priors) []Hypothesis {
	hs := []Hypothesis{{Name: Healthy, Channel: -1, Prior: p.Healthy, Action: actionOf(b, nil)}}
	n := float64(len(b.Channels))
	add := func(set faults.Set, weight float64) {
		if set.Check(b) != nil || weight <= 0 {
			return
		}
		h := Hypothesis{Set: set, Name: nameOf(b, set), Channel: set[0].Channel, Prior: weight, Action: actionOf(b, set)}
		for _, j := range set {
			if j.Channel != h.Channel {
				h.Channel = -1
			}
		}
		hs = append(hs, h)
	}
	for _, f := range faults.Catalogue() {
		vs := variantsOf(f.Name)
		w := p.Weight(f.Name) / float64(len(vs))
		if f.Scope == faults.PerBoard {
			for _, v := range vs {
				add(faults.Set{with(f.Name, faults.WholeBoard, v)}, w)
			}
			continue
		}
		for ch := range b.Channels {
			for _, v := range vs {
				add(faults.Set{with(f.Name, ch, v)}, w/n)
			}
		}
	}
	for _, names := range pairNames() {
		parts := strings.Split(names, " + ")
		// As a part of how often the first is met.
		w := p.Pair * p.Weight(parts[0])
		vs := variantsOf(parts[0])
		for ch := range b.Channels {
			for _, v := range vs {
				set := faults.Set{with(parts[0], ch, v)}
				for _, x := range parts[1:] {
					set = append(set, with(x, ch, middle(variantsOf(x))))
				}
				add(set, w/n/float64(len(vs)))
			}
		}
	}
	total := 0.0
	for i := range hs {
		total += hs[i].Prior
	}
	for i := range hs {
		hs[i].Prior *= (1 - p.Other) / total
	}
	return hs
}

// Healthy is the name of the hypothesis that nothing is wrong.
const Healthy = "healthy"

func variantsOf(name string) [][]faults.Setting {
	if v, ok := variants[name]; ok {
		return v
	}
	return [][]faults.Setting{nil}
}

func middle(v [][]faults.Setting) []faults.Setting { return v[len(v)/2] }

func with(name string, ch int, v []faults.Setting) faults.Injection {
	j := faults.New(name, ch)
	for _, s := range v {
		j = j.With(s.Key, s.Value)
	}
	return j
}

// pairNames lists the pairs, those of the cascades first.
func pairNames() []string {
	out := []string{"triac-shorted + link-open"}
	for _, c := range faults.Cascades() {
		var names []string
		for _, text := range c.Faults {
			name, _, _ := strings.Cut(text, ",")
			names = append(names, name)
		}
		if s := strings.Join(names, " + "); len(names) > 1 && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return append(out, pairs...)
}

func nameOf(b *models.Board, set faults.Set) string {
	if len(set) == 0 {
		return Healthy
	}
	var parts []string
	for _, j := range set {
		place := "board"
		if j.Channel >= 0 {
			place = b.Channels[j.Channel].Name
		}
		parts = append(parts, place+":"+j.Fault)
	}
	return strings.Join(parts, " + ")
}

// Text writes the hypothesis with its settings.
func (h *Hypothesis) Text(names []string) string {
	if len(h.Set) == 0 {
		return h.Name
	}
	var parts []string
	for _, j := range h.Set {
		parts = append(parts, j.Text(names))
	}
	return strings.Join(parts, " + ")
}

// local returns the channel to which the hypothesis's effect on voltages is
// confined but for the load on the supply; −1 where it is not.
func (h *Hypothesis) local() int {
	for _, j := range h.Set {
		if j.Channel < 0 || j.Fault == "drive-crossed" || j.Fault == "load-crossed" {
			return -1
		}
	}
	return h.Channel
}

func (h *Hypothesis) String() string { return fmt.Sprintf("%s %.3g", h.Name, h.Prior) }
