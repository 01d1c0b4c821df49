package infer

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/readings"
)

// reader takes a line of evidence apart into its parts between commas.
type reader struct {
	board *models.Board
	parts []string
}

func (w *Bench) reader(text string) *reader {
	r := &reader{board: w.Board}
	for p := range strings.SplitSeq(text, ",") {
		if p = strings.Join(strings.Fields(p), " "); p != "" {
			r.parts = append(r.parts, p)
		}
	}
	return r
}

// take removes and returns the first part that f accepts.
func (r *reader) take(f func(part string) bool) (string, bool) {
	i := slices.IndexFunc(r.parts, f)
	if i < 0 {
		return "", false
	}
	p := r.parts[i]
	r.parts = slices.Delete(r.parts, i, i+1)
	return p, true
}

func is(words ...string) func(string) bool {
	return func(p string) bool { return slices.Contains(words, strings.ToLower(p)) }
}

// rest reports what has not been understood.
func (r *reader) rest(expected string) error {
	if len(r.parts) == 0 {
		return nil
	}
	return fmt.Errorf("found %q, expected %s", r.parts[0], expected)
}

// state takes a state; unplugged, false where there is none.
func (r *reader) state() (readings.State, bool) {
	p, ok := r.take(is("standby", "heating", "holding", "unplugged"))
	if !ok {
		return readings.UnpluggedState, false
	}
	s, err := readings.ParseState(strings.ToLower(p))
	return s, err == nil
}

// channel takes a channel's name as a part of its own.
func (r *reader) channel() (int, error) {
	p, ok := r.take(func(p string) bool {
		return r.board.ChannelIndex(strings.ToLower(p)) >= 0 || r.board.ChannelIndex(p) >= 0
	})
	if !ok {
		found := "no channel"
		if len(r.parts) > 0 {
			found = strconv.Quote(r.parts[0])
		}
		return -1, fmt.Errorf("found %s, expected a channel: %s", found, strings.Join(channelNames(r.board), ", "))
	}
	return max(r.board.ChannelIndex(p), r.board.ChannelIndex(strings.ToLower(p))), nil
}

func channelNames(b *models.Board) []string {
	var names []string
	for i := range b.Channels {
		names = append(names, b.Channels[i].Name)
	}
	return names
}

// pulled takes "drive plug pulled".
func (r *reader) pulled() bool {
	_, ok := r.take(is("plug pulled", "drive plug pulled", "plug off", "drive plug off"))
	return ok
}

var begins = regexp.MustCompile(`^[-+−]?[0-9.]`)

// quantity takes a value with its unit, and its ± where that is given.
func (r *reader) quantity(dims ...q.Dimension) (v, unc float64, d q.Dimension, err error) {
	p, ok := r.take(func(p string) bool {
		return begins.MatchString(p) || is("open", "ol", "never")(p)
	})
	if !ok {
		return 0, 0, 0, fmt.Errorf("found no value, expected %s", examples(dims))
	}
	if is("open", "ol", "never")(p) {
		return math.Inf(1), 0, dims[0], nil
	}
	p = strings.ReplaceAll(p, "−", "-")
	value, bound, plusMinus := strings.Cut(p, "±")
	value = strings.TrimSpace(value)
	for _, d := range dims {
		if v, err = q.Parse(d, value); err != nil {
			continue
		}
		if plusMinus {
			if unc, err = q.Parse(d, strings.TrimSpace(bound)); err != nil || !(unc > 0) {
				return 0, 0, d, fmt.Errorf("found ± %q, expected %s above 0", strings.TrimSpace(bound), d.Example())
			}
		}
		return v, unc, d, nil
	}
	return 0, 0, 0, fmt.Errorf("found %q, expected %s", value, examples(dims))
}

func examples(dims []q.Dimension) string {
	var s []string
	for _, d := range dims {
		s = append(s, fmt.Sprintf("a %s such as %s", d, d.Example()))
	}
	return strings.Join(s, " or ")
}

// meter takes a meter: one of the board's by name, or a kind of meter.
func (r *reader) meter() ([]string, error) {
	p, ok := r.take(func(p string) bool {
		l := strings.ToLower(p)
		return strings.HasSuffix(l, "meter") && !is("ohmmeter", "voltmeter")(l) || len(r.meters(strings.TrimSpace(strings.TrimSuffix(l, "meter")))) > 0
	})
	if !ok {
		return nil, nil
	}
	word := strings.TrimSpace(strings.TrimSuffix(strings.ToLower(p), "meter"))
	if is("unknown", "a", "any", "some")(word) {
		return nil, nil
	}
	if m := r.meters(word); len(m) > 0 {
		return m, nil
	}
	var names []string
	for i := range r.board.Meters {
		names = append(names, r.board.Meters[i].Name)
	}
	return nil, fmt.Errorf("found meter %q, expected one of %s, or averaging, true-rms, low-impedance, direct, unknown", word, strings.Join(names, ", "))
}

// low is the input resistance in ohms below which a meter counts as one of
// low impedance.
const low = 1e5

func (r *reader) meters(word string) []string {
	var out []string
	for i := range r.board.Meters {
		m := &r.board.Meters[i]
		if m.Name == word {
			return []string{word}
		}
		high, d := float64(m.Resistance) >= low, m.Detector
		switch word {
		case "averaging":
			if high && (d == models.AverageFullWave || d == models.AverageFullWaveCoupled) {
				out = append(out, m.Name)
			}
		case "true-rms", "true rms":
			if high && (d == models.RMSDirect || d == models.RMSCoupled) {
				out = append(out, m.Name)
			}
		case "low impedance", "low-z":
			if !high {
				out = append(out, m.Name)
			}
		case "dc", "direct voltage":
			if d == models.Direct {
				out = append(out, m.Name)
			}
		}
	}
	return out
}

// fillers say nothing that a test point's name does not.
var fillers = map[string]bool{"the": true, "across": true, "at": true, "on": true, "to": true, "neutral": true, "of": true, "between": true, "and": true, "plug": true, "load": true, "'s": true}

// point takes a test point: its name, or its words in any order.
func (r *reader) point() (string, error) {
	points := readings.UnpluggedPoints(r.board)
	if p, ok := r.take(func(p string) bool {
		return slices.ContainsFunc(points, func(x readings.Point) bool { return x.Name == p })
	}); ok {
		return p, nil
	}
	if len(r.parts) == 0 {
		return "", fmt.Errorf("found no test point, expected one such as %s", points[len(points)-1].Name)
	}
	words := func(s string) []string {
		var out []string
		for _, f := range strings.FieldsFunc(strings.ToLower(strings.ReplaceAll(s, "'s", "")), func(c rune) bool { return c == ' ' || c == ':' || c == '-' }) {
			if !fillers[f] {
				out = append(out, f)
			}
		}
		slices.Sort(out)
		return out
	}
	for i, p := range r.parts {
		want := words(p)
		for _, x := range points {
			if slices.Equal(want, words(x.Name)) {
				r.parts = slices.Delete(r.parts, i, i+1)
				return x.Name, nil
			}
		}
		// "line to neutral" is the supply.
		if l := strings.ToLower(p); l == "line to neutral" || l == "mains" {
			r.parts = slices.Delete(r.parts, i, i+1)
			return "supply", nil
		}
	}
	var names []string
	for _, x := range points {
		if x.Channel <= 0 {
			names = append(names, x.Name)
		}
	}
	return "", fmt.Errorf("found test point %q, expected one of %s, or the same of another channel", r.parts[0], strings.Join(names, ", "))
}
