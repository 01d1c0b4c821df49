package pages

import (
	"fmt"
	"strings"

	"boilwright/faults"
	q "boilwright/models/quantity"
	"boilwright/sim"
	"boilwright/sim/readings"
)

// unplugged tables the tests on the unplugged board.
func (r *Reference) unplugged(d *document, s *Study) {
	d.heading(3, "Unplugged")
	d.caution(readings.UnpluggedCaution)
	d.paragraph("Each test one way / the other way round, the positive lead first on the node named first. **Healthy → faulty** where they can be told apart.")
	var heads []string
	var rows [][]string
	var row []string
	insulation := ""
	for i := 0; i < len(s.Dead); {
		x, h := &s.Dead[i], &r.Healthy.Dead[i]
		if x.Test == readings.Insulation {
			insulation = mark(dead(h), dead(x), differDead(h, x))
			i++
			continue
		}
		if len(row) == 0 {
			row = []string{code(x.Point), x.Plus.String() + " " + x.Minus.String()}
		}
		both := func(of *Study) string { return dead(&of.Dead[i]) + " / " + dead(&of.Dead[i+1]) }
		row = append(row, mark(both(r.Healthy), both(s), differDead(h, x) || differDead(&r.Healthy.Dead[i+1], &s.Dead[i+1])))
		if len(rows) == 0 {
			heads = append(heads, x.Test.String())
		}
		if i += 2; i >= len(s.Dead) || s.Dead[i].Point != x.Point {
			rows, row = append(rows, row), nil
		}
	}
	d.table(append([]string{"test point", "nodes"}, heads...), 2, rows)
	if insulation != "" {
		d.paragraph("Insulation at 500 V, line and neutral joined, to earth: %s. What is charged stays so: discharge it afterwards. Never test across a part.", insulation)
	}
}

// live tables the readings with the supply on, and shows the waveforms.
func (r *Reference) live(d *document, s *Study) {
	for _, t := range []struct {
		title           string
		healthy, faulty [][]readings.Value
	}{
		{"Standby (supply on, controls off)", r.Healthy.Standby, s.Standby},
		{"Heating (every drive on)", r.Healthy.Heating, s.Heating},
	} {
		d.heading(3, t.title)
		d.caution(readings.LiveCaution)
		heads := []string{"test point, volts by meter"}
		for _, m := range r.Meters {
			heads = append(heads, escape(m.Name))
		}
		var rows [][]string
		differing := 0
		for i, p := range r.Points {
			row := []string{code(p.Name)}
			if p.Live {
				row[0] += " \\*"
			}
			any := false
			for j, f := range t.faulty[i] {
				h := t.healthy[i][j]
				apart := differ(h, f)
				any = any || apart
				row = append(row, mark(display(h), display(f), apart))
			}
			if any {
				differing++
			}
			rows = append(rows, row)
		}
		text := fmt.Sprintf("%d of %d test points read otherwise than on the healthy board: **healthy → faulty** where they lie further apart than both uncertainties.", differing, len(rows))
		if differing == 0 {
			text = fmt.Sprintf("All %d test points read as on the healthy board, within the uncertainties.", len(rows))
		}
		d.paragraph("%s \\* marks points at mains voltage.", text)
		d.table(heads, 1, rows)
	}
	if s.Waveforms.File != "" {
		d.heading(3, "Waveforms")
		d.figure(s.Waveforms)
	}
}

// monitor tables what the energy monitor shows.
func (r *Reference) monitor(d *document, s *Study) {
	d.heading(3, "Energy monitor in the supply lead")
	m := &r.Board.Monitor
	var rows [][]string
	for i, state := range plugStates {
		h, f := r.Healthy.Plug[i], s.Plug[i]
		cell := func(h, f, resolution float64, unit string) string {
			return mark(decimals(h, resolution)+unit, decimals(f, resolution)+unit, monitorDiffers(m, h, f, resolution))
		}
		rows = append(rows, []string{state, cell(h.Watts, f.Watts, float64(m.PowerResolution), " W"), cell(h.Amperes, f.Amperes, float64(m.CurrentResolution), " A")})
	}
	d.paragraph("**Healthy → faulty** where they lie further apart than the monitor's accuracy allows, ±%v each.", m.Accuracy)
	d.table([]string{"state", "power", "current"}, 1, rows)
}

// hour tells what becomes of the board.
func (r *Reference) hour(d *document, s *Study) {
	if s.Hour == nil || r.Healthy.Hour == nil {
		return
	}
	d.heading(3, "After "+clock(s.Hour.Duration)+" of operation")
	h, f := r.Healthy.Hour.Plug, s.Hour.Plug
	d.paragraph("From cold, controls on. **Healthy → faulty** where they lie more than %d K, %d s or %.0f %% of the energy apart. Energy through the plug: %s.", kelvinsMore, secondsMore, 100*energyPart, mark(energy(h), energy(f), apartEnergies(h, f)))
	d.table(outcomeHeads, 2, outcomes(r.Healthy.Hour.Outcomes, s.Hour.Outcomes))
	opened := false
	for _, o := range s.Hour.Outcomes {
		opened = opened || o.LinkOpened >= 0
	}
	if opened {
		d.caution("a thermal link that has opened is a symptom: find out why the boiler went over temperature, and never bridge the link")
	}
	d.figure(s.Temperatures)
}

var outcomeHeads = []string{"channel", "what becomes of it", "in band at", "peak", "at the end", "link opens at", "energy of the element"}

func outcomes(healthy, faulty []sim.Outcome) [][]string {
	var rows [][]string
	for k, o := range faulty {
		h := healthy[k]
		rows = append(rows, []string{code(o.Channel), mark(string(h.Verdict), string(o.Verdict), h.Verdict != o.Verdict),
			mark(clock(h.Reached), clock(o.Reached), apartTimes(h.Reached, o.Reached)),
			mark(degrees(h.Peak), degrees(o.Peak), apart(h.Peak, o.Peak, kelvinsMore)),
			mark(degrees(h.Final), degrees(o.Final), apart(h.Final, o.Final, kelvinsMore)),
			mark(clock(h.LinkOpened), clock(o.LinkOpened), apartTimes(h.LinkOpened, o.LinkOpened)),
			mark(energy(h.Energy), energy(o.Energy), apartEnergies(h.Energy, o.Energy))})
	}
	return rows
}

// severity tells how far the fault can go, and its keys.
func severity(d *document, f *faults.Fault) {
	d.heading(2, "Severity and keys")
	text := "Severity: " + escape(f.Severity) + "."
	if !f.Graded {
		text += " It takes 0 (healthy) and 1 only."
	}
	if f.Lasting {
		text += " It stays until a part is replaced, so it is never intermittent."
	}
	d.paragraph("%s", text)
	var rows [][]string
	for _, k := range f.Keys {
		value := func(v float64) string {
			for _, c := range k.Choices {
				if c.Value == v {
					return c.Word
				}
			}
			return q.Format(k.Dimension, v)
		}
		normal, takes := k.Own, value(k.Min)+" to "+value(k.Max)
		if normal == "" {
			normal = value(k.Default)
		}
		if len(k.Choices) > 0 {
			var words []string
			for _, c := range k.Choices {
				words = append(words, c.Word)
			}
			takes = strings.Join(words, " or ")
		}
		rows = append(rows, []string{code(k.Name), escape(normal), escape(takes), escape(k.Doc)})
	}
	if len(rows) == 0 {
		d.paragraph("It has no keys of its own.")
		return
	}
	d.table([]string{"key", "default", "takes", "meaning"}, 4, rows)
}
