package infer

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"boilwright/faults"
)

//go:embed priors.csv
var priorsText []byte

// PriorsText is the default priors file, to copy and edit.
func PriorsText() []byte { return bytes.Clone(priorsText) }

// Priors are what is taken before any evidence. All defaults are assumptions
// and say so in their file.
type Priors struct {
	Healthy float64 // weight, against those of faults
	Other   float64 // probability of what is not in the catalogue
	Pair    float64 // weight of a pair as a part of its first fault's
	Default float64 // weight of a fault that is not listed
	weights map[string]float64
	sights  map[[2]string]float64
	// Sources are the statements of where values come from, without
	// repetitions.
	Sources []string
}

// Weight is the weight of a fault, on any channel.
func (p *Priors) Weight(fault string) float64 {
	if w, ok := p.weights[fault]; ok {
		return w
	}
	return p.Default
}

// sight is the probability of a sight on a channel under a hypothesis, from
// the file alone.
func (p *Priors) sight(sight string, h *Hypothesis, ch int) float64 {
	most := p.sights[[2]string{sight, "none"}]
	for _, j := range h.Set {
		if j.Channel == ch {
			most = math.Max(most, p.sights[[2]string{sight, j.Fault}])
		}
	}
	return most
}

// DefaultPriors returns the priors of the embedded file.
func DefaultPriors() *Priors {
	p, err := ReadPriors("priors.csv", bytes.NewReader(priorsText))
	if err != nil { // a mistake in the program; a test reads it
		panic("infer: " + err.Error())
	}
	return p
}

// mostWeight bounds a weight: beyond it the others no longer count as numbers.
const mostWeight = 1e9

// ReadPriors reads a priors file. name is what errors call it; they give file,
// line, field, what was found and what was expected, one line each.
func ReadPriors(name string, r io.Reader) (*Priors, error) {
	p := &Priors{weights: map[string]float64{}, sights: map[[2]string]float64{}}
	c := csv.NewReader(r)
	c.Comment, c.FieldsPerRecord, c.LazyQuotes = '#', -1, true
	var errs []error
	given, seen := map[string]bool{}, map[string]bool{}
	for first := true; ; first = false {
		rec, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		line, _ := c.FieldPos(0)
		fail := func(field, found, expected string) {
			errs = append(errs, fmt.Errorf("%s:%d: %s: found %q, expected %s", name, line, field, found, expected))
		}
		if first && rec[0] == "kind" {
			continue
		}
		if len(rec) != 5 {
			fail("line", strings.Join(rec, ","), "5 columns: kind, name, fault, value, source")
			continue
		}
		kind, what, fault, source := rec[0], rec[1], rec[2], strings.TrimSpace(rec[4])
		v, err := strconv.ParseFloat(rec[3], 64)
		most := mostWeight
		if kind == "other" || kind == "sight" {
			most = 0.99
		}
		if err != nil || !(v >= 0 && v <= most) {
			fail("value", rec[3], fmt.Sprintf("a number of at least 0 and at most %.3g", most))
			continue
		}
		if source == "" {
			fail("source", "", "where the value comes from, or assumption")
		} else if word, _, _ := strings.Cut(source, ":"); !slices.Contains(p.Sources, word) {
			p.Sources = append(p.Sources, word)
		}
		if key := kind + "," + what + "," + fault; seen[key] {
			fail("line", key, "it once")
			continue
		} else {
			seen[key] = true
		}
		switch kind {
		case "healthy":
			p.Healthy = v
		case "other":
			p.Other = v
		case "pair":
			p.Pair = v
		case "fault":
			if what == "default" {
				p.Default = v
			} else if _, ok := faults.Find(what); ok {
				p.weights[what] = v
			} else {
				fail("name", what, "default or a fault of the catalogue")
			}
		case "sight":
			if !slices.Contains(Sights, what) {
				fail("name", what, "one of "+strings.Join(Sights, ", "))
			} else if _, ok := faults.Find(fault); !ok && fault != "none" {
				fail("fault", fault, "none or a fault of the catalogue")
			}
			p.sights[[2]string{what, fault}] = v
		default:
			fail("kind", kind, "healthy, other, pair, fault or sight")
		}
		given[kind] = true
	}
	weight := p.Healthy + p.Default
	for _, f := range faults.Names() {
		weight += p.weights[f]
	}
	if weight == 0 && len(errs) == 0 {
		errs = append(errs, fmt.Errorf("%s: value: found every weight 0, expected at least one above", name))
	}
	for _, k := range []string{"healthy", "other", "pair"} {
		if !given[k] {
			errs = append(errs, fmt.Errorf("%s: kind: found no line %s, expected one", name, k))
		}
	}
	return p, errors.Join(errs...)
}
