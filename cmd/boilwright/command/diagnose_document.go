package command

import (
	"math"
	"strings"

	"boilwright/faults/infer"
)

type diagnosisDocument struct {
	Schema      string             `json:"schema" doc:"kind and version of this document"`
	Notice      string             `json:"notice" doc:"what to keep in mind"`
	Board       boardDocument      `json:"board" doc:"what was looked at"`
	Priors      []string           `json:"priors" doc:"where the prior weights come from"`
	Evidence    []evidenceDocument `json:"evidence" doc:"what was seen"`
	Suspects    []suspectDocument  `json:"suspects" doc:"the likeliest first, those below 1e-6 left out"`
	Other       number             `json:"other" doc:"probability of something not in the catalogue"`
	Meters      []meterDocument    `json:"meters" doc:"of readings whose meter was not known"`
	Alike       [][]string         `json:"alike" doc:"groups of suspects that no test left here separates"`
	Unlikely    []unlikelyDocument `json:"unlikely" doc:"suspects that are not excluded yet, and what would exclude them"`
	Actions     []actionDocument   `json:"actions" doc:"what to do, the likeliest first, those below 1e-6 left out"`
	Decided     bool               `json:"decided" doc:"what remains unknown would not change the first action"`
	Stop        nullable           `json:"stop" doc:"why no test is advised"`
	Next        []adviceDocument   `json:"next" doc:"tests to do, the advised one first; none where stop says why"`
	Confirm     []readingOfDoc     `json:"confirm" doc:"what shows that the repair was one"`
	Warnings    []string           `json:"warnings" doc:"doubts about the result"`
	Unexplained []int              `json:"unexplained" doc:"evidence, from 1, that no suspect explains well"`
}

type evidenceDocument struct {
	Text        string   `json:"text" doc:"as given"`
	Test        string   `json:"test" doc:"its id"`
	Value       optional `json:"value" doc:"in unit; null is open; of a choice its number, from 0"`
	Unit        nullable `json:"unit" doc:"of the value; null for a choice"`
	Uncertainty optional `json:"uncertainty" doc:"bound that was given; null for none"`
	Bits        number   `json:"bits" doc:"change of the logarithm to base 2 of the first suspect's odds, on top of all other evidence"`
	Amiss       number   `json:"amiss" doc:"probability that it is a mistake or comes from outside the catalogue"`
}

type suspectDocument struct {
	Name        string `json:"name" doc:"fault and channel"`
	Fault       string `json:"fault" doc:"with the settings that explain best, each as --fault takes it, joined by +"`
	Probability number `json:"probability" doc:"given the evidence"`
	Prior       number `json:"prior" doc:"before it"`
	Action      string `json:"action" doc:"what to do about it"`
}

type meterDocument struct {
	Told        []string `json:"told" doc:"meters that it may be; none for any"`
	Name        []string `json:"name" doc:"meters of the board"`
	Probability []number `json:"probability" doc:"by meter"`
}

type unlikelyDocument struct {
	Suspect     string `json:"suspect" doc:"fault and channel"`
	Probability number `json:"probability" doc:"given the evidence"`
	Test        string `json:"test" doc:"id of the unplugged test that tells it best from the first suspect"`
	Text        string `json:"text" doc:"what to do"`
	Caution     string `json:"caution" doc:"what belongs beside the test"`
	Shows       string `json:"shows" doc:"what it shows under this suspect"`
}

type actionDocument struct {
	Do          string   `json:"do" doc:"what to replace or mend"`
	Probability number   `json:"probability" doc:"that it is right"`
	Check       []string `json:"check" doc:"what else to look at"`
	Suspects    []string `json:"suspects" doc:"that it is for"`
}

type adviceDocument struct {
	Test    string        `json:"test" doc:"its id"`
	Text    string        `json:"text" doc:"what to do"`
	Risk    string        `json:"risk" doc:"closed, unplugged or live"`
	Live    bool          `json:"live" doc:"a meter on a board that has its supply"`
	Minutes number        `json:"minutes" doc:"a rough time"`
	Bits    number        `json:"bits" doc:"expected information about the action"`
	Caution string        `json:"caution" doc:"what belongs beside the test"`
	Limit   nullable      `json:"limit" doc:"how long there is while it lasts"`
	Unit    nullable      `json:"unit" doc:"of the answer; null for a choice"`
	Choices []string      `json:"choices" doc:"of the answer"`
	Expect  []expectedDoc `json:"expect" doc:"what it shows under the likeliest suspects"`
}

type expectedDoc struct {
	Suspect string `json:"suspect" doc:"fault and channel"`
	Text    string `json:"text" doc:"what it shows"`
}

type readingOfDoc struct {
	Test    string   `json:"test" doc:"its id"`
	Text    string   `json:"text" doc:"what to do"`
	Caution string   `json:"caution" doc:"what belongs beside the test"`
	Low     optional `json:"low" doc:"least that a healthy board shows"`
	High    optional `json:"high" doc:"greatest; null is open"`
	Shows   string   `json:"shows" doc:"the same in words"`
}

// leastShown is the probability from which suspects and actions are in the
// document.
const leastShown = 1e-6

func diagnosisDocumentOf(t *target, w *infer.Bench, d *infer.Diagnosis) *diagnosisDocument {
	x := &diagnosisDocument{
		Schema: schemaName("diagnosis"), Notice: notice, Board: t.document(), Priors: append([]string{}, w.Priors.Sources...),
		Evidence: []evidenceDocument{}, Suspects: []suspectDocument{}, Other: number(d.Other), Meters: []meterDocument{}, Alike: [][]string{},
		Unlikely: []unlikelyDocument{}, Actions: []actionDocument{}, Decided: d.Decided, Stop: nullable(d.Stop), Next: []adviceDocument{}, Confirm: []readingOfDoc{},
		Warnings: append([]string{}, d.Warnings...), Unexplained: []int{},
	}
	for i, e := range d.Evidence {
		unc := missing
		if e.Uncertainty > 0 {
			unc = optional(e.Uncertainty)
		}
		x.Evidence = append(x.Evidence, evidenceDocument{e.Text, e.Test.Key(), optional(e.Value), nullable(e.Test.Unit()), unc, number(d.Moves[i].Bits), number(d.Moves[i].Amiss)})
	}
	for _, i := range d.Unexplained {
		x.Unexplained = append(x.Unexplained, i+1)
	}
	for _, s := range d.Suspects {
		if s.Probability >= leastShown {
			x.Suspects = append(x.Suspects, suspectDocument{s.Name, s.Text, number(s.Probability), number(s.Prior), s.Action})
		}
	}
	for _, m := range d.Meters {
		y := meterDocument{Told: append([]string{}, m.Of...), Name: append([]string{}, m.Names...), Probability: []number{}}
		for _, p := range m.Probability {
			y.Probability = append(y.Probability, number(p))
		}
		x.Meters = append(x.Meters, y)
	}
	for _, g := range d.Alike {
		x.Alike = append(x.Alike, append([]string{}, g...))
	}
	for i := range d.Unlikely {
		u := &d.Unlikely[i]
		x.Unlikely = append(x.Unlikely, unlikelyDocument{u.Suspect, number(u.Probability), u.Test.Key(), u.Test.Describe(w.Board), u.Test.Caution(), u.Shows})
	}
	for _, a := range d.Actions {
		if a.Probability >= leastShown {
			x.Actions = append(x.Actions, actionDocument{a.Do, number(a.Probability), append([]string{}, a.Check...), append([]string{}, a.Suspects...)})
		}
	}
	if d.Next != nil {
		x.Next = append(x.Next, adviceOf(w, d.Next))
		for i := range d.Others {
			x.Next = append(x.Next, adviceOf(w, &d.Others[i]))
		}
	}
	for i := range d.Confirm {
		r := &d.Confirm[i]
		low, high := optional(r.Low), optional(r.High)
		if math.IsInf(r.Low, 0) {
			low = missing
		}
		x.Confirm = append(x.Confirm, readingOfDoc{r.Test.Key(), r.Test.Describe(w.Board), r.Test.Caution(), low, high, r.Text})
	}
	return x
}

func adviceOf(w *infer.Bench, a *infer.Advice) adviceDocument {
	y := adviceDocument{
		Test: a.Test.Key(), Text: a.Test.Describe(w.Board), Risk: a.Test.Risk().String(), Live: a.Test.Risk().Live(), Minutes: number(a.Test.Effort()),
		Bits: number(a.Gain), Caution: a.Caution, Limit: nullable(a.Limit), Unit: nullable(a.Test.Unit()), Choices: append([]string{}, a.Test.Choices()...), Expect: []expectedDoc{},
	}
	for _, e := range a.Expect {
		y.Expect = append(y.Expect, expectedDoc{e.Suspect, strings.TrimSpace(e.Text)})
	}
	return y
}

type alarmDocument struct {
	Schema  string        `json:"schema" doc:"kind and version of this document"`
	Notice  string        `json:"notice" doc:"what to keep in mind"`
	Board   boardDocument `json:"board" doc:"what was looked at"`
	Watts   number        `json:"threshold_w" doc:"power above which to give the alarm while the controls are off"`
	Delay   number        `json:"delay_s" doc:"for how long it must last"`
	Healthy number        `json:"healthy_w" doc:"the most that a healthy board draws while off"`
	Least   number        `json:"least_w" doc:"the least that a fault which heats a boiler draws while off"`
	Link    optional      `json:"link_s" doc:"from cold, the earliest time at which a link opens; null for never"`
	Tells   []string      `json:"tells" doc:"faults that give the alarm"`
	Below   []string      `json:"below" doc:"faults that draw more than a healthy board while off, but less than the threshold"`
	Silent  []string      `json:"silent" doc:"faults that draw what a healthy board draws while off"`
}

func alarmDocumentOf(t *target, a *infer.Alarm) *alarmDocument {
	d := &alarmDocument{Schema: schemaName("alarm"), Notice: notice, Board: t.document(), Watts: number(a.Watts), Delay: number(a.Seconds), Healthy: number(a.Healthy), Least: number(a.Least), Link: missing,
		Tells: append([]string{}, a.Tells...), Below: append([]string{}, a.Below...), Silent: append([]string{}, a.Silent...)}
	if a.Minutes > 0 {
		d.Link = optional(60 * a.Minutes)
	}
	return d
}
