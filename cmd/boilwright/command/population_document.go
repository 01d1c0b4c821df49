package command

import (
	"bytes"
	"encoding/json"

	"boilwright/sim/readings"
)

// The documents of the command population: of the whole, and of each board.

type populationDocument struct {
	Schema   string                 `json:"schema" doc:"kind and version of this document"`
	Notice   string                 `json:"notice" doc:"what to keep in mind"`
	Caution  string                 `json:"caution" doc:"belongs beside every live test"`
	Board    boardDocument          `json:"board" doc:"what the boards were drawn around"`
	Seed     uint64                 `json:"seed" doc:"of the draw"`
	From     uint64                 `json:"from" doc:"index of the first board"`
	Asked    uint64                 `json:"asked" doc:"boards that were asked for"`
	Done     uint64                 `json:"done" doc:"boards that were done"`
	Job      string                 `json:"job" doc:"draw, readings or run"`
	Healthy  uint64                 `json:"healthy" doc:"boards without a fault"`
	Unsolved uint64                 `json:"unsolved" doc:"boards of which circuit or heat has no solution"`
	Faults   []drawnFaultDocument   `json:"faults" doc:"that were drawn, in the order of the catalogue"`
	Values   []drawnValueDocument   `json:"parameters" doc:"what was drawn for the parts, of all boards"`
	Readings []drawnReadingDocument `json:"readings" doc:"of job readings: of healthy boards, test points, leads, energy monitor"`
	Channels []drawnChannelDocument `json:"channels" doc:"of job run: by channel"`
	Files    []string               `json:"files" doc:"that were written"`
}

type drawnFaultDocument struct {
	Fault    string `json:"fault" doc:"name"`
	Boards   uint64 `json:"boards" doc:"that have it, on whatever channel, alone or with others"`
	Unsolved uint64 `json:"unsolved" doc:"of them without a solution"`
	Unseen   uint64 `json:"unseen" doc:"of job run: of them with every channel at its set point"`
}

type drawnValueDocument struct {
	Name    string         `json:"name" doc:"parameter, after its channel, coupling or meter"`
	Law     string         `json:"law" doc:"that it was drawn by"`
	Nominal number         `json:"nominal" doc:"the board's own, in SI units; 1 for a common factor, 0 for a difference or an error"`
	Drawn   spreadDocument `json:"drawn" doc:"in SI units"`
}

type spreadDocument struct {
	Count     int      `json:"count" doc:"values"`
	Mean      optional `json:"mean" doc:"of them; null for none"`
	Deviation optional `json:"deviation" doc:"standard deviation; null for less than two"`
	Lowest    optional `json:"lowest" doc:"least"`
	Highest   optional `json:"highest" doc:"greatest"`
}

type drawnReadingDocument struct {
	State string         `json:"state" doc:"standby, heating or holding"`
	Place nullable       `json:"place" doc:"test point or lead; null for the energy monitor"`
	Live  bool           `json:"live" doc:"a live test: the caution applies"`
	Meter string         `json:"meter" doc:"name of the meter or clamp, or energy-monitor"`
	Unit  string         `json:"unit" doc:"V, A or W"`
	Over  uint64         `json:"over" doc:"boards on which it is out of every range"`
	Shown spreadDocument `json:"shown" doc:"what it shows on the others, in that unit"`
}

type drawnChannelDocument struct {
	Channel string                 `json:"channel" doc:"its name"`
	Reached spreadDocument         `json:"reached_s" doc:"healthy boards: when the probe's reading first came into band"`
	Final   spreadDocument         `json:"final_degc" doc:"healthy boards: water temperature at the end"`
	Energy  spreadDocument         `json:"element_j" doc:"healthy boards: energy into its element"`
	Verdict []drawnVerdictDocument `json:"verdicts" doc:"that were found"`
}

type drawnVerdictDocument struct {
	Verdict string `json:"verdict" doc:"what became of its temperature"`
	Healthy uint64 `json:"healthy" doc:"boards without a fault"`
	Faulty  uint64 `json:"faulty" doc:"boards with a fault, on this channel or elsewhere"`
}

// memberDocument is a line of the boards' file.
type memberDocument struct {
	Schema   string                  `json:"schema" doc:"kind and version of this document"`
	Index    uint64                  `json:"index" doc:"of the board in the population"`
	Seed     uint64                  `json:"seed" doc:"of the population"`
	Faults   []string                `json:"faults" doc:"ground truth: what is wrong, each as --fault takes it; empty for a healthy board"`
	Problem  nullable                `json:"problem" doc:"why there is no result; null where there is one"`
	Values   []memberValueDocument   `json:"parameters,omitempty" doc:"with --values: what was drawn, in SI units"`
	Meters   []string                `json:"meters,omitempty" doc:"of job readings: names of the meters"`
	Readings []memberReadingDocument `json:"readings,omitempty" doc:"of job readings: by state and test point"`
	Clamps   []string                `json:"clamps,omitempty" doc:"of job readings with --lead: names of the clamp ammeters"`
	Currents []memberCurrentDocument `json:"currents,omitempty" doc:"of job readings with --lead: by state and lead"`
	Monitor  []memberMonitorDocument `json:"monitor,omitempty" doc:"of job readings with --monitor: by state"`
	Duration optional                `json:"duration_s" doc:"of job run: simulated time; null otherwise"`
	Plug     optional                `json:"plug_j" doc:"of job run: energy through the plug; null otherwise"`
	Outcomes []outcomeDocument       `json:"outcomes,omitempty" doc:"of job run: by channel"`
	Events   []eventDocument         `json:"events,omitempty" doc:"of job run: in order of time"`
}

type memberValueDocument struct {
	Name  string `json:"name" doc:"parameter, after its channel, coupling or meter"`
	Value number `json:"value" doc:"what was drawn"`
}

type memberReadingDocument struct {
	State string     `json:"state" doc:"standby, heating or holding"`
	Point string     `json:"point" doc:"test point"`
	Shown []optional `json:"shown_v" doc:"what the meters show, in their order; null for out of every range"`
}

type memberCurrentDocument struct {
	State string     `json:"state" doc:"standby, heating or holding"`
	Lead  string     `json:"lead" doc:"conductor that the clamps go round"`
	Shown []optional `json:"shown_a" doc:"what the clamps show, in their order; null for out of every range"`
}

type memberMonitorDocument struct {
	State   string `json:"state" doc:"standby or heating"`
	Power   number `json:"shown_w" doc:"power that the energy monitor shows"`
	Current number `json:"shown_a" doc:"current that it shows"`
}

func (m *moments) document() spreadDocument {
	d := spreadDocument{Count: m.n, Mean: missing, Deviation: optional(m.deviation()), Lowest: missing, Highest: missing}
	if m.n > 0 {
		d.Mean, d.Lowest, d.Highest = optional(m.mean), optional(m.lowest), optional(m.highest)
	}
	return d
}

func (t *tally) document(files []string) *populationDocument {
	o := t.options
	d := &populationDocument{
		Schema: schemaName("population"), Notice: notice, Caution: readings.LiveCaution, Board: t.target.document(), Seed: o.seed, From: o.from,
		Asked: o.boards, Done: t.done, Job: o.job, Healthy: t.healthy, Unsolved: t.unsolved, Files: files,
		Faults: []drawnFaultDocument{}, Values: []drawnValueDocument{}, Readings: []drawnReadingDocument{}, Channels: []drawnChannelDocument{},
	}
	for _, name := range t.seenFaults() {
		x := t.faults[name]
		f := drawnFaultDocument{Fault: name, Boards: x.boards, Unsolved: x.unsolved}
		if o.job == jobRun {
			f.Unseen = x.unseen
		}
		d.Faults = append(d.Faults, f)
	}
	for k, c := range t.columns {
		d.Values = append(d.Values, drawnValueDocument{c.Name, c.Spread.String(), number(c.Nominal), t.drawn[k].document()})
	}
	if o.job == jobReadings {
		for k, l := range t.labels {
			d.Readings = append(d.Readings, drawnReadingDocument{l.state.String(), nullable(l.place), l.live, l.meter, l.unit, t.read[k].over, t.read[k].shown.document()})
		}
	}
	if o.job == jobRun {
		for k := range t.channels {
			x := &t.channels[k]
			c := drawnChannelDocument{Channel: t.target.names[k], Reached: x.reached.document(), Final: x.final.document(), Energy: x.energy.document(), Verdict: []drawnVerdictDocument{}}
			for _, v := range allVerdicts {
				if x.healthy[v]+x.faulty[v] > 0 {
					c.Verdict = append(c.Verdict, drawnVerdictDocument{string(v), x.healthy[v], x.faulty[v]})
				}
			}
			d.Channels = append(d.Channels, c)
		}
	}
	return d
}

// text is what is written of one board.
func (w *populationWork) text(f *finished) ([]byte, error) {
	if w.options.format == formatCSV {
		return w.rows(f)
	}
	d := memberDocument{
		Schema: schemaName("member"), Index: f.member.Index, Seed: w.options.seed, Faults: []string{}, Problem: nullable(f.problem()),
		Duration: missing, Plug: missing,
	}
	for _, j := range f.member.Faults {
		d.Faults = append(d.Faults, j.Text(w.target.names))
	}
	if w.options.values {
		for k, c := range w.tally.columns {
			d.Values = append(d.Values, memberValueDocument{c.Name, number(f.member.Values[k])})
		}
	}
	if w.plan != nil && d.Problem == "" {
		w.measured(&d, f)
	}
	if w.options.job == jobRun && d.Problem == "" {
		w.outcome(&d, f)
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(&d)
	return b.Bytes(), err
}

// measured puts in what the instruments show.
func (w *populationWork) measured(d *memberDocument, f *finished) {
	p := w.plan
	display := func(v readings.Value) optional {
		if v.Over {
			return missing
		}
		return optional(v.Shown)
	}
	for i := range p.Meters {
		d.Meters = append(d.Meters, p.Meters[i].Name)
	}
	if len(p.Leads) > 0 {
		for i := range p.Clamps {
			d.Clamps = append(d.Clamps, p.Clamps[i].Name)
		}
	}
	for s, state := range p.States {
		for k, at := range p.Points {
			r := memberReadingDocument{State: state.String(), Point: at.Name}
			for m := range p.Meters {
				r.Shown = append(r.Shown, display(f.measured.Values[p.Index(s, k, m)]))
			}
			d.Readings = append(d.Readings, r)
		}
		for k, l := range p.Leads {
			r := memberCurrentDocument{State: state.String(), Lead: l.Name, Shown: []optional{}}
			for m := range p.Clamps {
				r.Shown = append(r.Shown, display(f.measured.Currents[p.CurrentIndex(s, k, m)]))
			}
			d.Currents = append(d.Currents, r)
		}
	}
	for _, v := range f.measured.Monitor {
		d.Monitor = append(d.Monitor, memberMonitorDocument{v.State.String(), number(v.ShownPower), number(v.ShownCurrent)})
	}
}

func (w *populationWork) outcome(d *memberDocument, f *finished) {
	x := &f.outcome
	d.Duration, d.Plug = optional(x.Duration.Seconds()), optional(x.Supply.Plug)
	for k, c := range x.Channels {
		d.Outcomes = append(d.Outcomes, outcomeDocument{
			Channel: c.Channel, SetPoint: number(f.member.Board.Channels[k].Control.SetPoint), Reached: seconds(c.Reached),
			Peak: number(c.Peak), PeakAt: number(c.PeakAt.Seconds()), Final: number(c.Final), Slope: number(c.Slope),
			LinkOpened: seconds(c.LinkOpened), Boiled: seconds(c.Boiled), Dry: seconds(c.Dry), Drifts: c.Drifts,
			Energy: number(c.Energy), Verdict: string(c.Verdict),
		})
	}
	for _, e := range x.Events {
		y := eventDocument{Time: number(e.Time.Seconds()), Kind: string(e.Kind), Detail: e.Detail}
		if e.Channel >= 0 {
			y.Channel = nullable(w.target.names[e.Channel])
		}
		d.Events = append(d.Events, y)
	}
}
