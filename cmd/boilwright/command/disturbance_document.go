package command

import (
	"boilwright/sim/disturbance"
)

// The document of the command disturbance.

type disturbanceDocument struct {
	Schema       string                     `json:"schema" doc:"kind and version of this document"`
	Notice       string                     `json:"notice" doc:"what to keep in mind"`
	Board        boardDocument              `json:"board" doc:"what was simulated"`
	Seed         uint64                     `json:"seed" doc:"of what is random"`
	Status       string                     `json:"status" doc:"completed or interrupted"`
	Duration     number                     `json:"duration_s" doc:"simulated time"`
	Observed     number                     `json:"observed_s" doc:"time until the protection cut the board off, or the end"`
	Source       disturbanceSourceDocument  `json:"source" doc:"the supply, as simulated"`
	Changes      voltageChangesDocument     `json:"changes" doc:"changes of the half-cycle rms voltage between L and N on the board"`
	Pst          []severityDocument         `json:"pst" doc:"short-term flicker severity of each 10 min"`
	Plt          []severityDocument         `json:"plt" doc:"long-term flicker severity of each 2 h"`
	Sensation    sensationDocument          `json:"sensation" doc:"instantaneous flicker over time"`
	States       []disturbanceStateDocument `json:"states" doc:"in which channels were driven, in order of appearance"`
	Left         int                        `json:"left" doc:"states in force for the shortest times that were not analysed"`
	Distorting   optional                   `json:"distorting" doc:"index into states of the one with the greatest direct and harmonic currents; null for none"`
	Bursts       []burstDocument            `json:"bursts" doc:"the control window whose changes of drive move the voltage most; empty for none"`
	Checks       []disturbanceLimitDocument `json:"checks" doc:"against limits that local rules may or may not ask for"`
	Requirements []requirementDocument      `json:"requirements" doc:"what --require stated"`
}

type disturbanceSourceDocument struct {
	Voltage    number `json:"voltage_v" doc:"nominal, rms of the fundamental"`
	Frequency  number `json:"frequency_hz" doc:"in hertz"`
	Resistance number `json:"resistance_ohm" doc:"of line and neutral together, at the start"`
	Reactance  number `json:"reactance_ohm" doc:"of line and neutral together, at the start"`
	LastR      number `json:"last_resistance_ohm" doc:"the same at the end: a fault of the supply may have set in"`
	LastX      number `json:"last_reactance_ohm" doc:"the same at the end"`
	Reference  bool   `json:"reference" doc:"all through it is the reference impedance of IEC 60725"`
	Lamp       string `json:"lamp" doc:"for which flicker is weighed"`
}

type voltageChangesDocument struct {
	Largest   number `json:"largest" doc:"d_max, part of the nominal voltage"`
	Steady    number `json:"steady" doc:"d_c, between steady states, part of the nominal voltage"`
	Beyond    number `json:"beyond_s" doc:"longest time beyond 3.3 % in one change"`
	Count     int    `json:"count" doc:"changes of more than 0.1 %"`
	PerMinute number `json:"per_minute" doc:"the same by time"`
	Lowest    number `json:"lowest_v" doc:"half-cycle rms voltage"`
	Highest   number `json:"highest_v" doc:"half-cycle rms voltage"`
}

type severityDocument struct {
	From  number `json:"from_s" doc:"when it begins"`
	To    number `json:"to_s" doc:"when it ends"`
	Value number `json:"value" doc:"the severity; 1 is the threshold of irritation"`
	Whole bool   `json:"whole" doc:"it lasts as long as it is meant to"`
}

type sensationDocument struct {
	Every number   `json:"every_s" doc:"length of a part"`
	Peak  []number `json:"peak" doc:"highest instantaneous flicker of each part; 1 is the threshold of perception"`
}

type disturbanceStateDocument struct {
	Driven     []string                `json:"driven" doc:"names of the channels driven"`
	First      number                  `json:"first_s" doc:"when it first appeared"`
	HalfCycles int64                   `json:"half_cycles" doc:"for how many half-cycles it was in force"`
	Periodic   bool                    `json:"periodic" doc:"it repeats each cycle; else what follows are means over a window"`
	Current    currentSpectrumDocument `json:"current" doc:"out of the source"`
	Voltage    voltageSpectrumDocument `json:"voltage" doc:"between L and N on the board"`
}

type currentSpectrumDocument struct {
	Total  number   `json:"total_a" doc:"rms of all"`
	Direct number   `json:"direct_a" doc:"direct part, signed"`
	RMS    []number `json:"rms_a" doc:"by order, from 1 to 40"`
	THD    optional `json:"thd" doc:"orders 2 to 40 over order 1; null without order 1"`
}

type voltageSpectrumDocument struct {
	Total  number   `json:"total_v" doc:"rms of all"`
	Direct number   `json:"direct_v" doc:"direct part, signed"`
	RMS    []number `json:"rms_v" doc:"by order, from 1 to 40"`
	THD    optional `json:"thd" doc:"orders 2 to 40 over order 1; null without order 1"`
}

type burstDocument struct {
	From number   `json:"from_s" doc:"when the window began"`
	Mean []number `json:"mean_a" doc:"mean of the current's groups of lines, by order from 1 to 40"`
	Max  []number `json:"max_a" doc:"maximum of the current's groups of lines, by order from 1 to 40"`
}

type disturbanceLimitDocument struct {
	What   string `json:"what" doc:"what is compared"`
	Value  number `json:"value" doc:"found, in unit"`
	Limit  number `json:"limit" doc:"in unit"`
	Unit   string `json:"unit" doc:"A, %, s or empty"`
	Source string `json:"source" doc:"of the limit"`
	Met    bool   `json:"met" doc:"the value is within the limit"`
}

func (o *disturbanceOptions) document(t *target, x *disturbance.Assessment, verdicts []verdict) *disturbanceDocument {
	v := &x.Voltage
	d := &disturbanceDocument{
		Schema: schemaName("disturbance"), Notice: notice, Board: t.document(), Seed: o.seed, Status: x.Run.Status.String(),
		Duration: number(x.Run.Duration.Seconds()), Observed: number(x.Observed.Seconds()),
		Source:  disturbanceSourceDocument{number(x.Nominal), number(x.System.Frequency), number(real(x.Impedance)), number(imag(x.Impedance)), number(real(x.Last)), number(imag(x.Last)), x.Reference(), x.System.Lamp.String()},
		Changes: voltageChangesDocument{number(v.Max / 100), number(v.Steady / 100), number(v.Beyond.Seconds()), v.Count, number(v.PerMinute), number(v.Lowest), number(v.Highest)},
		Pst:     severityDocuments(x.Short), Plt: severityDocuments(x.Long),
		Sensation: sensationDocument{number(x.Sensation.Every.Seconds()), numbers(x.Sensation.Peak)},
		States:    []disturbanceStateDocument{}, Left: x.Left, Distorting: missing, Bursts: []burstDocument{},
		Checks: []disturbanceLimitDocument{}, Requirements: []requirementDocument{},
	}
	most := x.MostDistorting()
	for i := range x.Patterns {
		p := &x.Patterns[i]
		if p == most {
			d.Distorting = optional(i)
		}
		c, u := p.Current, p.Voltage
		d.States = append(d.States, disturbanceStateDocument{
			append([]string{}, p.Driven()...), number(p.First.Seconds()), p.HalfCycles, p.Periodic,
			currentSpectrumDocument{number(c.Total), number(c.DC), numbers(c.RMS[1:]), optional(c.THD())},
			voltageSpectrumDocument{number(u.Total), number(u.DC), numbers(u.RMS[1:]), optional(u.THD())},
		})
	}
	if b := x.Burst; b != nil {
		d.Bursts = append(d.Bursts, burstDocument{number(b.From.Seconds()), numbers(b.Current.Mean[1:]), numbers(b.Current.Max[1:])})
	}
	for _, c := range x.Checks() {
		d.Checks = append(d.Checks, disturbanceLimitDocument{c.What, number(c.Value), number(c.Limit), c.Unit, c.Source, c.Met()})
	}
	for _, v := range verdicts {
		d.Requirements = append(d.Requirements, requirementDocument{v.text, v.met, v.why})
	}
	return d
}

func numbers(v []float64) []number {
	out := make([]number, len(v))
	for i, x := range v {
		out[i] = number(x)
	}
	return out
}

func severityDocuments(of []disturbance.Severity) []severityDocument {
	out := []severityDocument{}
	for _, s := range of {
		out = append(out, severityDocument{number(s.From.Seconds()), number(s.To.Seconds()), number(s.Value), s.Whole})
	}
	return out
}
