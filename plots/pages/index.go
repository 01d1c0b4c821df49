package pages

import (
	"fmt"
	"io"
	"math"
	"slices"

	"boilwright/faults"
	"boilwright/sim/readings"
)

// WriteIndex writes the page that leads to all others. Interrupted tells that
// it lists only those that were done.
func (r *Reference) WriteIndex(w io.Writer, interrupted bool) error {
	var d document
	d.heading(1, "Faults of "+r.Board.Name)
	d.paragraph("> %s", sentence(r.Notice))
	d.paragraph("Each fault of the catalogue was put in at full severity, on channel %s or on the whole board, and simulated; %s. %s", code(r.channel()), escape(r.Conditions), sentence(r.Board.Note))
	var shown []*Study
	for _, s := range r.Faults {
		if r.Pages == nil || slices.Contains(r.Pages, s.Fault.Name) {
			shown = append(shown, s)
		}
	}
	if interrupted {
		d.paragraph("**The work was interrupted: these are the %d pages that were done.**", len(shown))
	}
	at := r.output()
	d.paragraph("In standby, what the element takes is told as a part of its rated power: none, half, full, or the percentage. Beside it stands what each meter, by its name, shows in standby at %s, in volts. The last two columns are what becomes of the channel with the controls on, and the pages name the faults that look alike, with the first test that separates them.", code(r.Points[at].Name))
	d.caution(readings.LiveCaution)
	heads := []string{"fault", "element in standby"}
	for _, m := range r.Meters {
		heads = append(heads, escape(m.Name))
	}
	heads = append(heads, "after "+r.duration(), "link opens at")
	rows := [][]string{r.indexRow("healthy board", at, r.Healthy)}
	part := faults.Part("")
	for _, s := range shown {
		if s.Fault.Part != part {
			part = s.Fault.Part
			rows = append(rows, append([]string{"**" + escape(string(part)) + "**"}, make([]string, len(heads)-1)...))
		}
		rows = append(rows, r.indexRow(r.link(s.Fault.Name), at, s))
	}
	d.table(heads, 2, rows)
	if h := r.Healthy.Hour; h != nil {
		d.heading(2, "The healthy board")
		d.paragraph("Energy through the plug: %s.", energy(h.Plug))
		d.table(outcomeHeads, 2, outcomes(h.Outcomes, h.Outcomes))
		d.figure(r.Healthy.Temperatures)
	}
	d.heading(2, "How it was compared")
	d.paragraph("Two live readings count as different where they lie further apart than the uncertainties of both, as the meters' accuracies state them; differences of millivolts drown in interference on a real board. Two results on the unplugged board count as different where resistances lie more than %.0f %% and %s Ω apart or diode tests more than %s V (common practice, no source). The states compared are the unplugged board, standby and heating, and, for boards that none of these separates, holding, with drives in bursts. Look-alikes were sought among the healthy board and all faults, at one channel and at full severity: a fault of less severity, or one that shows only while a temperature is held, may look like others.",
		100*ohmsPart, decimals(ohmsMore, 0.1), decimals(voltsMore, 0.01))
	_, err := io.WriteString(w, d.String())
	return err
}

// duration is how long the runs are.
func (r *Reference) duration() string {
	if r.Healthy.Hour == nil {
		return "the run"
	}
	return clock(r.Healthy.Hour.Duration)
}

func (r *Reference) indexRow(name string, at int, s *Study) []string {
	row := []string{name}
	if !s.simulated() {
		row = append(row, s.missing())
		for range len(r.Meters) + 2 {
			row = append(row, "–")
		}
		return row
	}
	row = append(row, r.share(s))
	for j := range r.Meters {
		h, f := r.Healthy.Standby[at][j], s.Standby[at][j]
		text := display(f)
		if differ(h, f) {
			text = "**" + text + "**"
		}
		row = append(row, text)
	}
	if s.Hour == nil {
		text := "–"
		if s.Failed != "" {
			text = s.missing()
		}
		return append(row, text, "–")
	}
	o := s.Hour.Outcomes[r.Channel]
	return append(row, string(o.Verdict), clock(o.LinkOpened))
}

// share tells in words which part of its rated power the channel's element
// takes in standby, from what the plug carries beyond the healthy board's.
func (r *Reference) share(s *Study) string {
	v := float64(r.Board.Supply.Voltage)
	rated := v * v / float64(r.Board.Channels[r.Channel].Element.Resistance)
	x := (s.Plug[0].Watts - r.Healthy.Plug[0].Watts) / rated
	switch {
	case math.Abs(x) < 0.01:
		return "none"
	case x > 0.47 && x < 0.53:
		return "half"
	case x > 0.95 && x < 1.05:
		return "full"
	}
	return fmt.Sprintf("%s %%", decimals(100*x, 1))
}
