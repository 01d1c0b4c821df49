package command

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/plots"
	"boilwright/plots/lessons"
	"boilwright/sim"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

func (c *class) delayLesson(ctx context.Context) (lessons.Lesson, error) {
	l := lessons.Lesson{Name: "delay", Title: "A leak at the gate"}
	r := c.random(delayStream)
	k := r.IntN(len(c.names))
	t := c.target()
	s, err := delaySheet(ctx, t, k, c.heading(), 1)
	if err != nil {
		return l, err
	}
	l.Figures = []lessons.Figure{c.figure("delay", s)}
	ohms := float64(3 + r.IntN(10))
	b, err := faults.Set{faults.New("gate-leak", k).With("resistance", ohms)}.Applied(c.file.Board)
	if err != nil {
		return l, err
	}
	w, err := readings.Record(b, readings.Conditions{State: readings.Heating, Temps: circuit.Uniform(len(b.Channels), 25)}, 1)
	if err != nil {
		return l, err
	}
	angle := math.NaN()
	for _, a := range circuit.Conduction(w.Recording.Events, k) {
		if a.Half == w.First {
			angle = a.Firing
		}
	}
	first := s.Data()[0]
	if math.IsNaN(angle) || len(first.Columns) == 0 || first.Rows() == 0 {
		return l, errNoLesson
	}
	lowest := first.Columns[0].Number[0]
	l.Text = []string{
		fmt.Sprintf("A damaged gate leaks to main terminal 1: part of the current that should fire the triac of channel %s goes past it, so that the supply must rise further before it fires.", c.names[k]),
		"The figure shows the angle of the supply at which the triac fires, against the resistance of the leak.",
	}
	l.Questions = []lessons.Question{
		{Ask: fmt.Sprintf("At which angle does the triac fire with a leak of %s? Read it from the figure.", q.Format(q.Resistance, ohms)), Answer: fmt.Sprintf("%.1f°", angle), Why: "Worked out for this resistance; a reading within 2° is good."},
		{Ask: "At about which resistance does it stop firing at all?", Answer: "about " + q.FormatDigits(q.Resistance, lowest, 2), Why: "The line ends there: below it, the leak takes so much at the supply's crest that the gate never gets its trigger current."},
		{Ask: "Does the fault show in standby?", Choices: []string{"yes", "no"}, Right: 1, Why: "The leak acts on the gate current only, and in standby there is none."},
	}
	return l, nil
}

func (c *class) linkLesson(ctx context.Context) (lessons.Lesson, error) {
	l := lessons.Lesson{Name: "link", Title: "Time left before the thermal link opens"}
	r := c.random(linkStream)
	t := c.target()
	s, err := linkSheet(ctx, t, 0, c.heading(), 1)
	var e *exitError
	if errors.As(err, &e) {
		return l, errNoLesson // no link ever opens
	}
	if err != nil {
		return l, err
	}
	l.Figures = []lessons.Figure{c.figure("link", s)}
	table := s.Data()[r.IntN(len(s.Data()))]
	k := slices.Index(c.names, table.Name)
	temps, left := table.Columns[0].Number, table.Columns[1].Number
	at := math.Round(temps[0] + (0.2+0.6*r.Float64())*(temps[len(temps)-1]-temps[0]))
	i, _ := slices.BinarySearch(temps, at)
	i = min(max(i, 1), len(temps)-1)
	minutes := left[i-1] + (left[i]-left[i-1])*(at-temps[i-1])/max(1e-9, temps[i]-temps[i-1])
	open := c.target()
	open.set = faults.Set{faults.New("link-open", k)}
	result, _, err := simulate(ctx, open, 1, sim.Options{Duration: 30 * time.Minute})
	if err != nil {
		return l, err
	}
	if result.Status == sim.Interrupted {
		return l, errInterrupted
	}
	o := result.Outcomes[k]
	l.Text = []string{
		"A triac that has shorted heats its boiler whatever the controls ask for. The thermal link on the boiler's shell is the last thing that stops it. It opens once and for good.",
		"The figure shows how long that takes from each temperature of the water on.",
	}
	l.Caution = plots.LinkCaution
	l.Questions = []lessons.Question{
		{Ask: fmt.Sprintf("The water of %s has %.0f °C when its triac shorts. How long until its link opens?", table.Name, at), Answer: fmt.Sprintf("%.1f min", minutes), Why: "Read from the boiler's line; within half a minute is good."},
		{Ask: "Which boiler is hottest when its link opens?", Answer: hottestEnd(s.Data()), Why: "Its line reaches furthest to the right. The link sits on the shell and functions at its own temperature, and the water can be ahead of it."},
		{Ask: fmt.Sprintf("The triac of %s is replaced but its open link is not. How warm is the water half an hour after switching on?", table.Name), Answer: fmt.Sprintf("%.1f °C", o.Final), Why: fmt.Sprintf("Its element gets no current: the verdict of the run is %q.", o.Verdict)},
	}
	return l, nil
}

// hottestEnd is the name of the table whose first column ends highest.
func hottestEnd(tables []plots.Table) string {
	name, most := "", math.Inf(-1)
	for _, t := range tables {
		x := t.Columns[0].Number
		if v := x[len(x)-1]; v > most {
			name, most = t.Name, v
		}
	}
	return name
}

// deadFaults are faults after which a channel does not heat.
var deadFaults = []string{"opto-dead", "opto-open", "gate-resistor-open", "gate-open", "triac-open", "element-open", "link-open", "wire-open", "drive-stuck-off", "drive-open"}

// suspects of one lesson.
const suspectCount = 5

func (c *class) nextLesson(context.Context) (lessons.Lesson, error) {
	l := lessons.Lesson{Name: "next-test", Title: "Which test next?", Live: true, Caution: sentenceCase(readings.UnpluggedCaution) + " " + sentenceCase(readings.LiveCaution)}
	r := c.random(nextStream)
	k := r.IntN(len(c.names))
	b := c.file.Board
	names := slices.Clone(deadFaults)
	r.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	names = names[:suspectCount]
	slices.Sort(names)
	truth := names[r.IntN(len(names))]
	boards := make([]*models.Board, len(names))
	for i, n := range names {
		var err error
		if boards[i], err = (faults.Set{faults.New(n, k)}).Applied(b); err != nil {
			return l, err
		}
	}
	meter := slices.IndexFunc(b.Meters, func(m models.Meter) bool { return m.Detector == models.RMSDirect && float64(m.Resistance) >= 1e6 })
	if meter < 0 {
		return l, errNoLesson
	}
	type test struct {
		point  readings.Point
		values []readings.Value
		groups [][]string // of suspects that read alike
	}
	var tests []test
	for _, p := range readings.Points(b) {
		if p.Channel != k || p.Control {
			continue
		}
		x := test{point: p, values: make([]readings.Value, len(names))}
		err := parallel(len(names), func(i int) error {
			v, err := readings.At(boards[i], p, b.Meters[meter:meter+1], driving(boards[i], k))
			if err == nil {
				x.values[i] = v[0]
			}
			return err
		})
		if err != nil {
			return l, err
		}
		x.groups = alike(names, x.values)
		tests = append(tests, x)
	}
	slices.SortStableFunc(tests, func(x, y test) int { return len(y.groups) - len(x.groups) })
	best := tests[0]
	var others []string
	for _, x := range tests[1:] {
		if len(x.groups) < len(best.groups) {
			others = append(others, x.point.Name+" ("+x.point.Title+")")
		}
	}
	if len(best.groups) < 2 || len(others) == 0 {
		return l, errNoLesson
	}
	right := best.point.Name + " (" + best.point.Title + ")"
	choices, at := shuffled(r, 4, right, others...)
	value := func(i int) string { return voltageShown(best.values[i]) }
	var shown []string
	var remain []string
	for i, n := range names {
		shown = append(shown, n+" "+value(i))
	}
	at2 := slices.Index(names, truth)
	for i, n := range names {
		if confused(best.values[i], best.values[at2]) {
			remain = append(remain, n)
		}
	}
	var unplugged []string
	f, _ := faults.Find(truth)
	for _, s := range f.Separates {
		if !s.Live {
			unplugged = append(unplugged, s.Do)
		}
	}
	l.Text = []string{
		fmt.Sprintf("Channel %s does not heat although the controls ask for it. Five faults are suspected: %s.", c.names[k], strings.Join(names, ", ")),
		fmt.Sprintf("You have a meter of the kind %q with %s of input resistance.", b.Meters[meter].Name, short(b.Meters[meter].Resistance)),
	}
	l.Questions = []lessons.Question{
		{Ask: "What is done before any test with the supply connected?", Answer: "The tests with the supply disconnected", Why: "They are the safer ones. If the fault is " + truth + ": " + strings.Join(unplugged, " ")},
		{Ask: "Only live tests are left, channel driven. At which point does one reading keep most of the suspects apart?", Choices: choices, Right: at,
			Why: fmt.Sprintf("It sorts them into %d groups, more than the others: %s.", len(best.groups), strings.Join(shown, ", "))},
		{Ask: fmt.Sprintf("At that point the meter shows %s. Which suspects remain?", value(at2)), Answer: strings.Join(remain, ", "), Why: "Those whose reading there is the same within the meter's uncertainty."},
	}
	return l, nil
}

// confused reports whether two readings can be one within the meter's
// uncertainty.
func confused(a, b readings.Value) bool {
	if a.Over || b.Over {
		return a.Over && b.Over
	}
	return math.Abs(a.Shown-b.Shown) <= a.Uncertainty+b.Uncertainty
}

// alike sorts suspects into groups whose readings overlap within the meter's
// uncertainty, one linking to the next.
func alike(names []string, values []readings.Value) [][]string {
	order := make([]int, len(names))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := values[a].Shown, values[b].Shown; {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	var out [][]string
	for n, i := range order {
		if n > 0 {
			if confused(values[i], values[order[n-1]]) {
				out[len(out)-1] = append(out[len(out)-1], names[i])
				continue
			}
		}
		out = append(out, []string{names[i]})
	}
	return out
}
