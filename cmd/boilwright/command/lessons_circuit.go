package command

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/plots"
	"boilwright/plots/lessons"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// pack works out all lessons.
func (c *class) pack(ctx context.Context) (*lessons.Pack, error) {
	p := &lessons.Pack{Title: "Lessons on the " + c.file.Board.Name, Seed: c.seed,
		Note: "Everything here is simulated; a real board can differ. " + sentenceOf(c.file.Board.Note) + "Its values are varied by the seed. Local codes and licensed practice prevail."}
	for _, build := range []func(context.Context) (lessons.Lesson, error){c.circuitLesson, c.meterLesson, c.standbyLesson, c.delayLesson, c.linkLesson, c.nextLesson} {
		l, err := build(ctx)
		if errors.Is(err, errNoLesson) {
			continue // this board has no such thing
		}
		if err != nil {
			return nil, err
		}
		p.Lessons = append(p.Lessons, l)
	}
	return p, ctx.Err()
}

// errNoLesson tells that a board has nothing for a lesson.
var errNoLesson = errors.New("nothing to ask of this board")

// sentenceOf makes a note a sentence.
func sentenceOf(note string) string {
	if note == "" {
		return ""
	}
	return "The board: " + strings.TrimSuffix(note, ".") + ". "
}

// driving is the conditions under which channel k alone is driven.
func driving(b *models.Board, k int) readings.Conditions {
	c := readings.Conditions{State: readings.Heating, Temps: circuit.Uniform(len(b.Channels), 25), Off: make([]bool, len(b.Channels))}
	for i := range c.Off {
		c.Off[i] = i != b.DriveSource(k)
	}
	return c
}

// heading is that of a figure with a title of its own: under it the board.
func (c *class) heading() plots.Heading {
	h := heading(c.target(), "")
	h.Title, h.Subtitle = "", c.file.Board.Name
	return h
}

func (c *class) circuitLesson(context.Context) (lessons.Lesson, error) {
	l := lessons.Lesson{Name: "circuit", Title: "One channel and its current"}
	b := c.file.Board
	k := c.random(circuitStream).IntN(len(c.names))
	in, err := circuitOf(c.target(), k, c.heading())
	if err != nil {
		return l, err
	}
	s, err := plots.Schematic(in)
	if err != nil {
		return l, err
	}
	l.Figures = []lessons.Figure{c.figure("circuit", s)}
	w, err := readings.Record(b, driving(b, k), 2)
	if err != nil {
		return l, err
	}
	sig, err := w.Solver.Current(branchOf("wire", k))
	if err != nil {
		return l, err
	}
	amps := math.Sqrt(w.Recording.Moments(sig).MeanSquare)
	fired := 0
	for _, a := range circuit.Conduction(w.Recording.Events, k) {
		if !math.IsNaN(a.Firing) {
			fired++
		}
	}
	rate := float64(fired) / w.Recording.Duration()
	v, r := float64(b.Supply.Voltage), b.Channels[k].Element.ResistanceAt(25)
	z := float64(b.Supply.LineResistance + b.Supply.NeutralResistance)
	l.Text = []string{
		fmt.Sprintf("The diagram shows channel %s of your class's board. The supply has %s, the heating element %s at 25 °C.", c.names[k], short(b.Supply.Voltage), q.Digits(q.Ohm(r), 3)),
		"A small direct current on the control side lights an LED; its light turns the optotriac on, whose current through the gate resistor fires the triac; the triac carries the load.",
	}
	wattage := amps * amps * r
	power, right := shuffled(c.random(circuitStream+100), 4, q.Digits(q.Watt(wattage), 3), q.Digits(q.Watt(v*v/r/2), 3), q.Digits(q.Watt(v*v/r*math.Sqrt2), 3), q.Digits(q.Watt(wattage*1.25), 3))
	l.Questions = []lessons.Question{
		{Ask: fmt.Sprintf("Channel %s alone is driven. Which current flows in its element (rms)?", c.names[k]), Answer: q.Digits(q.Ampere(amps), 3),
			Why: fmt.Sprintf("By Ohm's law %s/%s = %s; the supply's own resistance of %s and the triac's drop take off the rest.", short(b.Supply.Voltage), q.Digits(q.Ohm(r), 3), q.Digits(q.Ampere(v/r), 3), q.Digits(q.Ohm(z), 2))},
		{Ask: "Which power does the element take then?", Choices: power, Right: right, Why: "The square of the current times the resistance. Half of it would be one half-wave only."},
		{Ask: "How often does the triac fire in a second?", Answer: fmt.Sprintf("%.0f times", rate), Why: fmt.Sprintf("It goes out at every zero of the current and is fired again in every half-cycle; at %s there are %.0f of them.", short(b.Supply.Frequency), 2*float64(b.Supply.Frequency))},
	}
	return l, nil
}

// meterFaults are the faults under which meters disagree.
var meterFaults = []string{"opto-half-wave", "triac-insensitive", "gate-leak"}

func (c *class) meterLesson(context.Context) (lessons.Lesson, error) {
	l := lessons.Lesson{Name: "meters", Title: "What will this meter show?", Live: true, Caution: sentenceCase(readings.LiveCaution)}
	r := c.random(meterStream)
	k := r.IntN(len(c.names))
	j := faults.New(meterFaults[r.IntN(len(meterFaults))], k)
	if j.Fault == "gate-leak" {
		j = j.With("resistance", roundTo(1.6+2*r.Float64(), 10))
	}
	t := c.target()
	t.set = faults.Set{j}
	b, err := t.applied()
	if err != nil {
		return l, err
	}
	p, err := t.pointFor("", k)
	if err != nil {
		return l, err
	}
	cond := driving(b, k)
	trace, _, err := pointTrace(b, p, cond, 1, 600)
	if err != nil {
		return l, err
	}
	curve := plots.Curve{Name: p.Name}
	for i := range trace.Time {
		curve.X, curve.Y = append(curve.X, 1e3*trace.Time[i]), append(curve.Y, trace.Value[i])
	}
	h := heading(t, "channel "+c.names[k]+" alone is driven")
	h.Title, h.Caption = "Voltage at "+p.Name, plots.Caution
	s, err := plots.Curves(plots.CurvesInput{Heading: h, Quantity: "time", Unit: "ms", Panels: []plots.CurvePanel{{Quantity: "voltage", Unit: "V", Curves: []plots.Curve{curve}}}})
	if err != nil {
		return l, err
	}
	l.Figures = []lessons.Figure{c.figure("meters-waveform", s)}
	flags := newConditions(readings.Heating.String())
	for i, n := range c.names {
		if cond.Off[i] {
			flags.off = append(flags.off, n)
		}
	}
	solved, err := meterSheet(t, p, &flags, &headingFlags{languageName: "en"})
	if err != nil {
		return l, err
	}
	l.Solved = []lessons.Figure{c.figure("meters-solution", solved)}
	values, err := readings.At(b, p, b.Meters, cond)
	if err != nil {
		return l, err
	}
	f, _ := faults.Find(j.Fault)
	l.Text = []string{
		fmt.Sprintf("Channel %s has a fault: %s. The figure shows the voltage between OUT and the other end of its load while the channel is driven.", c.names[k], strings.ToLower(f.Title)),
		"Meters follow different rules, and each rule makes another number of the same waveform. Only for a sine do they agree.",
	}
	var others []string
	for _, v := range values {
		others = append(others, voltageShown(v))
	}
	for i, m := range b.Meters {
		if m.Detector != models.AverageFullWave && m.Detector != models.RMSDirect && m.Detector != models.Direct || float64(m.Resistance) < 1e6 {
			continue
		}
		var wrong []string // what cannot be taken for the right reading
		for n, v := range values {
			if math.Abs(v.Shown-values[i].Shown) > v.Uncertainty+values[i].Uncertainty {
				wrong = append(wrong, others[n])
			}
		}
		choices, right := shuffled(r, 4, others[i], wrong...)
		question := lessons.Question{Ask: fmt.Sprintf("What does a meter show that takes the %s (%s)?", detectorRules[m.Detector], m.Name),
			Why: "The rule applied to the waveform; see the figure of the solution for all meters."}
		if len(choices) < 2 {
			question.Answer = others[i]
		} else {
			question.Choices, question.Right = choices, right
		}
		l.Questions = append(l.Questions, question)
	}
	if len(l.Questions) == 0 {
		return l, errNoLesson
	}
	return l, nil
}

// voltageShown is what a meter for voltage shows.
func voltageShown(v readings.Value) string {
	if v.Over {
		return "overload"
	}
	return strings.Replace(steps(v.Shown, v.Resolution), "-", "−", 1) + " V"
}

// sentenceCase makes a caution a sentence.
func sentenceCase(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + strings.TrimSuffix(s[1:], ".") + "."
}

func (c *class) standbyLesson(ctx context.Context) (lessons.Lesson, error) {
	l := lessons.Lesson{Name: "standby", Title: "Standby: which boiler is on?", Caution: plots.StandbyCaution}
	if len(c.names) > 6 {
		return l, errNoLesson
	}
	r := c.random(standbyStream)
	t := c.target()
	s, err := standbySheet(ctx, t, 0, c.heading(), 1)
	if err != nil {
		return l, err
	}
	l.Figures = []lessons.Figure{c.figure("standby", s)}
	k, half := r.IntN(len(c.names)), r.IntN(2) == 1
	// The element of the machine in question is not quite the rated one.
	b := c.file.Board.Clone()
	tolerance := readings.DefaultTolerance
	part := float64(tolerance.ElementLow) + r.Float64()*float64(tolerance.ElementHigh-tolerance.ElementLow)
	b.Channels[k].Element.Resistance /= q.Ohm(1 + 0.9*part)
	rows, err := readings.MonitorTable(b, circuit.Uniform(len(b.Channels), 25), tolerance)
	if err != nil {
		return l, err
	}
	data := s.Data()[0]
	name := func(k int, half bool) string {
		if half {
			return c.names[k] + ", one half-wave"
		}
		return c.names[k]
	}
	var shown readings.Combination
	for _, row := range rows {
		match := true
		for i, m := range row.Modes {
			want := readings.ChannelOff
			if i == k {
				want = map[bool]readings.Mode{true: readings.HalfWave, false: readings.FullWave}[half]
			}
			match = match && m == want
		}
		if match {
			shown = row
		}
	}
	within := func(column int, x float64) []string {
		var out []string
		for i, n := range data.Columns[0].Text {
			if x >= data.Columns[column+1].Number[i] && x <= data.Columns[column+2].Number[i] {
				out = append(out, n)
			}
		}
		return out
	}
	var others []string
	for i := range c.names {
		for _, h := range []bool{false, true} {
			others = append(others, name(i, h))
		}
	}
	choices, right := shuffled(r, 6, name(k, half), others...)
	monitor := &b.Monitor
	watts, amps := steps(shown.Power.Nominal, float64(monitor.PowerResolution))+" W", steps(shown.Current.Nominal, float64(monitor.CurrentResolution))+" A"
	l.Text = []string{
		"The machine is in standby: its supply is on and nothing is asked for. A plug-in energy monitor sits in the supply lead; reading it needs no tool and opens nothing.",
		fmt.Sprintf("It shows %s and %s.", watts, amps),
	}
	l.Questions = []lessons.Question{
		{Ask: "What conducts?", Choices: choices, Right: right, Why: "Both readings must lie in the bars of the same case. One half-wave gives half the power but 0.71 times the current."},
		{Ask: "Which cases would the current alone leave?", Answer: list(within(4, shown.Current.Nominal), "none"), Why: fmt.Sprintf("The bars of the current that hold %s.", amps)},
		{Ask: "Which cases would the power alone leave?", Answer: list(within(1, shown.Power.Nominal), "none"), Why: fmt.Sprintf("The bars of the power that hold %s.", watts)},
	}
	return l, nil
}
