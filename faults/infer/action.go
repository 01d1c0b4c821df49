package infer

import (
	"cmp"
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/models"
)

// Action is what to do about a hypothesis. Hypotheses with the same Do need no
// further separating.
type Action struct {
	Do    string   // what to replace or mend, with the channel
	Check []string // what else to look at before power comes back
}

// remedy is what a single fault asks for. All remedies are common practice,
// without a source.
type remedy struct {
	do    string
	check []string
}

const (
	leakAbove  = "look for the leak or the steam above the board, or the film comes back"
	linkCheck  = "continuity of the thermal link: a boiler that was stuck on may have opened it; never bridge one"
	whyOpen    = "why the link opened: it is a symptom; look for a channel stuck on before fitting a new one, of the same rating; never bridge one"
	whyGate    = "why the gate resistor burnt: measure the triac and the opto"
	optoToo    = "the opto goes with the triac: its output may be damaged without showing"
	insulation = "insulation to earth and earth continuity"
)

const (
	doTriac = "replace the triac, and the opto with it"
	doOpto  = "replace the opto"
)

var remedies = map[string]remedy{
	"triac-shorted":       {doTriac, []string{optoToo, linkCheck}},
	"triac-one-way":       {doTriac, []string{optoToo, linkCheck}},
	"triac-open":          {doTriac, []string{optoToo, "the gate resistor, which carried the load current"}},
	"gate-open":           {doTriac, []string{"the solder joint of the gate first"}},
	"gate-leak":           {doTriac, []string{optoToo}},
	"triac-insensitive":   {doTriac, []string{optoToo}},
	"triac-weak-latching": {doTriac, []string{optoToo}},
	"triac-leaky":         {doTriac, []string{optoToo}},
	"triac-low-rate":      {doTriac, []string{"the snubber"}},

	"opto-dead":      {doOpto, nil},
	"opto-weak-led":  {doOpto, nil},
	"opto-shorted":   {doOpto, []string{linkCheck, "the triac, which is usually the first to go"}},
	"opto-one-way":   {doOpto, []string{"the triac with a diode test", linkCheck}},
	"opto-half-wave": {doOpto, nil},
	"opto-breakover": {doOpto, []string{"the triac with a diode test", linkCheck}},
	"opto-no-window": {doOpto, nil},
	"opto-open":      {doOpto, nil},

	"gate-resistor-open":        {"replace the gate resistor", []string{whyGate}},
	"gate-resistor-drifted":     {"replace the gate resistor", []string{whyGate}},
	"snubber-capacitor-open":    {"replace the snubber", nil},
	"snubber-capacitor-shorted": {"replace the snubber", nil},
	"snubber-capacitor-leaky":   {"replace the snubber", nil},
	"snubber-resistor-open":     {"replace the snubber", nil},

	"drive-stuck-on":  {"mend the drive (transistor or its control)", []string{linkCheck}},
	"drive-stuck-off": {"mend the drive (transistor or its control)", nil},
	"drive-low":       {"mend the drive's supply voltage", nil},
	"drive-open":      {"refit or replace the drive connector", nil},
	"drive-crossed":   {"put the drive plugs back in their places", nil},

	"film-opto":  {"clean and dry the board, and coat it", []string{leakAbove, linkCheck}},
	"film-triac": {"clean and dry the board, and coat it", []string{leakAbove}},
	"film-gate":  {"clean and dry the board, and coat it", []string{leakAbove}},
	"film-earth": {"clean and dry the board, and coat it", []string{leakAbove, insulation}},

	"element-open":         {"replace the element", []string{insulation}},
	"element-part-shorted": {"replace the element", []string{insulation}},
	"element-leaking":      {"replace the element", []string{insulation}},
	"load-crossed":         {"put the element wires back in their places", nil},
	"terminal-resistance":  {"clean and tighten the terminals", []string{"the wire's insulation for heat damage"}},
	"wire-open":            {"mend the load wire", nil},
	"link-open":            {"replace the thermal link, after its cause", []string{whyOpen}},
	"link-wrong-rating":    {"fit a thermal link of the right rating", nil},
	"upstream-link-open":   {"replace the link ahead of the channels, after its cause", []string{whyOpen}},
	"thermostat-welded":    {"replace the thermostat", nil},
	"thermostat-open":      {"replace the thermostat", nil},

	"scale":          {"descale the boiler", nil},
	"low-level":      {"fill the boiler and find where the water went", []string{leakAbove}},
	"relief-leaking": {"replace the relief valve", []string{leakAbove}},
	"probe-open":     {"replace the probe or its lead", []string{linkCheck}},
	"probe-shorted":  {"replace the probe or its lead", nil},
	"probe-drift":    {"replace the probe or its lead", nil},
	"probe-detached": {"put the probe back in contact", []string{linkCheck}},

	"supply-low":       {"have the supply's voltage put right", nil},
	"supply-high":      {"have the supply's voltage put right", nil},
	"supply-distorted": {"have the supply looked at", nil},
	"loose-neutral":    {"have the supply's neutral tightened, before anything else is run on it", nil},
	"supply-exchanged": {"have line and neutral put right at the outlet", []string{insulation}},
	"earth-missing":    {"have the protective earth mended before the supply comes back", nil},
}

const doNothing = "nothing to repair: what was seen is what a healthy board shows"

// actionOf joins the remedies of a set's faults. A link that opened because of
// another fault is replaced with it.
func actionOf(b *models.Board, set faults.Set) Action {
	if len(set) == 0 {
		return Action{Do: doNothing}
	}
	type place struct {
		channel int
		do      string
	}
	var places []place
	var a Action
	for _, j := range set {
		r := remedies[j.Fault]
		for _, c := range r.check {
			// A link that is known to be open is not checked but replaced.
			if c == linkCheck && slices.ContainsFunc(set, func(k faults.Injection) bool { return k.Fault == "link-open" }) {
				continue
			}
			if !slices.Contains(a.Check, c) {
				a.Check = append(a.Check, c)
			}
		}
		p := place{j.Channel, r.do}
		if slices.Contains(places, p) {
			continue
		}
		// A new triac takes a new opto with it.
		if p.do == doOpto && slices.Contains(places, place{j.Channel, doTriac}) {
			continue
		}
		places = append(places, p)
	}
	slices.SortStableFunc(places, func(x, y place) int { return cmp.Compare(x.channel, y.channel) })
	var parts []string
	for i, p := range places {
		text := p.do
		if i == 0 || places[i-1].channel != p.channel {
			name := "board"
			if p.channel >= 0 {
				name = b.Channels[p.channel].Name
			}
			text = name + ": " + text
		}
		parts = append(parts, text)
	}
	a.Do = strings.Join(parts, "; ")
	return a
}
