package infer

import (
	"fmt"
	"slices"
	"strings"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/readings"
)

// Answer reads the answer to a test that was asked for: a value with its unit,
// a bare number in the test's unit, or one of its choices.
func (w *Bench) Answer(t Test, text string) (Evidence, error) {
	text = strings.TrimSpace(text)
	e := Evidence{Test: t, Text: t.Describe(w.Board) + ": " + text}
	if t.Choices() != nil {
		v, err := t.ChoiceOf(strings.ToLower(text))
		e.Value = float64(v)
		return e, err
	}
	dim := map[string]q.Dimension{"V": q.Voltage, "Ω": q.Resistance, "°C": q.Temperature, "W": q.Power, "A": q.Current, "min": q.Time}[t.unit()]
	if begins.MatchString(text) && !strings.ContainsAny(text, "VΩohm°WAmins") {
		text += " " + t.unit()
	}
	r := w.reader(text)
	v, unc, _, err := r.quantity(dim)
	switch {
	case err != nil && len(r.parts) > 0:
		return e, fmt.Errorf("found %q, expected %s, or open", text, examples([]q.Dimension{dim}))
	case err != nil:
		return e, err
	}
	if err := r.rest("one value"); err != nil {
		return e, err
	}
	if dim == q.Time {
		v, unc = v/60, unc/60
	}
	e.Value, e.Uncertainty = v, unc
	return e, w.bounds(&e)
}

// Write gives the form and the text in which the outcome of a test is given as
// evidence, with the value for it; ok is false for what has no form.
func (t *Test) Write(b *models.Board, value string) (form, text string, ok bool) {
	name := func() string { return b.Channels[t.Channel].Name }
	join := func(form string, parts ...string) (string, string, bool) {
		return form, strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), ", "), true
	}
	pulled := ""
	if t.Pulled >= 0 {
		pulled = "drive plug pulled"
	}
	negated := func(word string) string {
		if value == "no" {
			return "no " + word
		}
		return word
	}
	switch t.Kind {
	case Volts:
		meter := ""
		if len(t.Meters) == 1 {
			meter = t.Meters[0]
		}
		return join("reading", t.Point, t.State.String(), pulled, value, meter)
	case Clamp:
		clamp := ""
		if len(t.Meters) == 1 {
			clamp = t.Meters[0]
		}
		return join("clamp", t.Point, t.State.String(), value, clamp)
	case Unplugged:
		reversed := ""
		if t.Reversed {
			reversed = "reversed"
		}
		parts := []string{t.Point, reversed}
		for _, l := range t.Lifted {
			parts = append(parts, l+" lifted")
		}
		switch t.Instrument {
		case readings.DiodeTest:
			parts = append(parts, "diode")
		case readings.Insulation:
			parts = append(parts, "insulation")
		case readings.Ohmmeter:
			parts = append(parts, "ohmmeter")
		}
		return join("reading", append(parts, value)...)
	case ProbeOhms:
		return join("probe", name(), value)
	case Indicator:
		return join("indicator", name(), value)
	case Temperature:
		return join("temperature", name(), value, fmt.Sprintf("%d min", t.Minutes), t.State.String())
	case WarmUp:
		return join("warm-up", name(), value)
	case Warms:
		with := ""
		if t.With >= 0 {
			with = "exchanged with " + b.Channels[t.With].Name
		}
		return join("warms", name(), t.State.String(), pulled, with, value)
	case LidWarm:
		if value == "no" {
			return join("lid", "cold")
		}
		return join("lid", "warm")
	case Look:
		return join("look", name(), negated(t.Sight))
	case Tripped:
		return join("tripped", negated(t.Device))
	case MonitorWatt, MonitorAmp:
		if t.Pulled >= 0 {
			return "", "", false
		}
		return join("monitor", t.State.String(), value)
	}
	return "", "", false
}
