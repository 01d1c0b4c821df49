package pages

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/sim/readings"
)

// WritePage writes the page of a fault.
func (r *Reference) WritePage(w io.Writer, s *Study) error {
	var d document
	f := s.Fault
	d.heading(1, f.Title)
	d.paragraph("%s. Part: %s. It belongs to %s. [All faults](%s)", code(f.Name), escape(string(f.Part)),
		map[faults.Scope]string{faults.PerChannel: "one channel", faults.PerBoard: "the whole board"}[f.Scope], IndexFile)
	d.paragraph("> %s", sentence(r.Notice))
	r.glance(&d, s)
	d.heading(2, "What it is")
	d.paragraph("%s", escape(f.What))
	d.heading(2, "What changes")
	d.paragraph("%s", escape(f.Physics))
	d.heading(2, "What it shows")
	d.paragraph("%s", escape(f.Seen))
	r.separation(&d, s)
	if s.simulated() {
		d.heading(2, "Simulated")
		d.paragraph("Board: %s, with %s at full severity; %s. %s", escape(r.Board.Name), code(s.Text), escape(r.Conditions), sentence(r.Board.Note))
		r.lookAlikes(&d, s)
		r.unplugged(&d, s)
		r.live(&d, s)
		r.monitor(&d, s)
		r.hour(&d, s)
	} else {
		d.heading(2, "Not simulated")
		if s.Lacking != "" {
			d.paragraph("The board %s cannot have this fault: %s.", escape(r.Board.Name), escape(s.Lacking))
		}
	}
	if s.Failed != "" {
		d.paragraph("**The simulation of this fault stopped, and what follows from it is missing here:** %s.", escape(s.Failed))
	}
	severity(&d, f)
	_, err := io.WriteString(w, d.String())
	return err
}

// separation lists the catalogue's tests, each live one with its caution.
func (r *Reference) separation(d *document, s *Study) {
	f := s.Fault
	d.heading(2, "What separates it from its look-alikes")
	if len(f.LookAlikes) > 0 {
		var names []string
		for _, n := range f.LookAlikes {
			names = append(names, r.link(n))
		}
		d.paragraph("A first look mistakes it for %s.", strings.Join(names, ", "))
	}
	d.gap()
	for i, x := range f.Separates {
		head := fmt.Sprintf("%d. ", i+1)
		if !x.Live {
			fmt.Fprintf(d, "%s**Unplugged.** %s\n", head, escape(x.Do))
			continue
		}
		fmt.Fprintf(d, "%s**Live.** %s\n\n%s> **Caution.** %s %s\n", head, escape(x.Do), strings.Repeat(" ", len(head)), escape(f.Danger), sentence(faults.Caution))
		if i+1 < len(f.Separates) {
			d.WriteByte('\n')
		}
	}
	if !f.Live() {
		d.caution(f.Danger)
	}
}

// link leads to the page of a fault, where it has one.
func (r *Reference) link(fault string) string {
	if r.study(fault) == nil || r.Pages != nil && !slices.Contains(r.Pages, fault) {
		return code(fault)
	}
	return "[" + code(fault) + "](" + File(fault) + ")"
}

// fewNames is how many look-alikes are named at a glance.
const fewNames = 4

// glance sums up what was simulated.
func (r *Reference) glance(d *document, s *Study) {
	if !s.simulated() {
		return
	}
	parts := []string{"**At a glance**, simulated as " + code(s.Text) + ": in standby the element of " + code(r.channel()) + " takes " + strings.Replace(r.share(s), "full", "all", 1) + " of its rated power"}
	if s.Hour != nil {
		o := s.Hour.Outcomes[r.Channel]
		text := "after " + clock(s.Hour.Duration) + " with the controls on: " + string(o.Verdict)
		if o.LinkOpened >= 0 {
			text += ", since " + clock(o.LinkOpened)
		}
		parts = append(parts, text)
	}
	alike, same := r.alike(s), r.inseparable(s)
	switch {
	case len(same) > 0:
		parts = append(parts, "no test simulated here separates it from "+r.few(same))
	case len(alike) > 0:
		parts = append(parts, "live readings in standby and heating do not separate it from "+r.few(alike)+"; other tests named below do")
	default:
		parts = append(parts, "the live tests simulated here separate it from all other faults and from a healthy board")
	}
	d.paragraph("%s.", strings.Join(parts, "; "))
}

// few names the first of some studies, and how many are left.
func (r *Reference) few(of []*Study) string {
	names := r.links(of)
	if n := len(names) - fewNames; n > 1 {
		names = append(names[:fewNames], fmt.Sprintf("and %d others named below", n))
	}
	return strings.Join(names, ", ")
}

// inseparable lists the boards, the healthy one first, that no test tells from
// one with this fault.
func (r *Reference) inseparable(s *Study) []*Study {
	var same []*Study
	for _, x := range r.alike(s) {
		if r.First(s, x) == Inseparable {
			same = append(same, x)
		}
	}
	return same
}

// alike lists the boards, the healthy one first, that live readings in standby
// and heating cannot tell from one with this fault.
func (r *Reference) alike(s *Study) []*Study {
	var alike []*Study
	for _, x := range append([]*Study{r.Healthy}, r.Faults...) {
		if x != s && Alike(s, x) {
			alike = append(alike, x)
		}
	}
	return alike
}

// lookAlikes tells what live readings cannot separate, and what does.
func (r *Reference) lookAlikes(d *document, s *Study) {
	alike, same := r.alike(s), r.inseparable(s)
	d.heading(3, "Look-alikes, computed")
	simulated := 0
	for _, x := range r.Faults {
		if x.simulated() {
			simulated++
		}
	}
	within := fmt.Sprintf("on every one of %d meters, at all %d test points of the supply and of channel %s, in standby and in heating", len(r.Meters), len(r.Points), code(r.channel()))
	var apart []*Study
	for _, x := range alike {
		if !slices.Contains(same, x) {
			apart = append(apart, x)
		}
	}
	if len(same) > 0 {
		d.paragraph("**No test simulated here separates it from %s.** They are alike, within the meters' uncertainties, %s, %sat the energy monitor, and in every test on the unplugged board. A run, or the steps above, may still tell.",
			strings.Join(r.links(same), ", "), within, map[bool]string{true: "in holding with the other channels off, ", false: ""}[s.Holding != nil])
	}
	if len(apart) > 0 {
		d.paragraph("**Live readings in standby and heating do not separate it from %s**, the first test in the table does. They read alike, within the meters' uncertainties, %s.", strings.Join(r.links(apart), ", "), within)
	}
	if len(alike) == 0 {
		d.paragraph("Of the healthy board and the other %d faults simulated, none reads as this one does %s. On a real board interference hides differences of millivolts.", simulated-1, within)
	}
	var rows [][]string
	var listed []*Study
	for _, n := range s.Fault.LookAlikes {
		if x := r.study(n); x != nil {
			listed = append(listed, x)
		}
	}
	named := len(listed)
	for _, x := range alike {
		if !slices.Contains(listed, x) {
			listed = append(listed, x)
		}
	}
	for i, x := range listed {
		why := "looks"
		if i >= named {
			why = "readings"
		} else if slices.Contains(alike, x) {
			why = "looks, readings"
		}
		if !x.simulated() {
			rows = append(rows, []string{r.links([]*Study{x})[0], why, x.missing(), "–", "–"})
			continue
		}
		by, first := r.first(s, x)
		if by == Inseparable {
			first = "none of these; see the steps above"
		}
		rows = append(rows, []string{r.links([]*Study{x})[0], why, first, otherUnplugged(s, x), liveApart(s, x)})
	}
	if len(rows) == 0 {
		return
	}
	d.paragraph("In this table, alike by looks is what the catalogue names, by readings what was computed. Results are those with this fault / with the look-alike. The first test that separates is the safest of those that do: on the unplugged board with small voltages, then with 500 V, then the energy monitor, then live with the leads on the control side, then live at mains voltage in standby, in heating, and in holding with only the drive of this channel in bursts. For unplugged tests: %s", sentence(readings.UnpluggedCaution))
	d.caution(readings.LiveCaution)
	d.table([]string{"look-alike", "alike by", "first test that separates", "other unplugged tests that do", "live reading in standby or heating that differs most"}, 5, rows)
}

func (r *Reference) links(of []*Study) []string {
	var names []string
	for _, x := range of {
		if x.Fault == nil {
			names = append(names, "the "+x.name())
		} else {
			names = append(names, r.link(x.name()))
		}
	}
	return names
}

// liveApart names the live reading in which two boards differ most.
func liveApart(a, b *Study) string {
	n, p := differences(a, b)
	if n == 0 {
		return "none"
	}
	return liveText(a, b, p)
}
