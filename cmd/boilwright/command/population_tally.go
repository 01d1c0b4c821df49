package command

import (
	"math"
	"slices"

	"boilwright/faults"
	"boilwright/sim"
	"boilwright/sim/population"
	"boilwright/sim/readings"
)

// moments are number, mean, spread and bounds of values that come one after
// the other (Welford, Technometrics 4 (1962) 419).
type moments struct {
	n               int
	mean, m2        float64
	lowest, highest float64
}

func (m *moments) add(v float64) {
	if m.n++; m.n == 1 {
		m.lowest, m.highest = v, v
	}
	d := v - m.mean
	m.mean += d / float64(m.n)
	m.m2 += d * (v - m.mean)
	m.lowest, m.highest = math.Min(m.lowest, v), math.Max(m.highest, v)
}

// deviation is the standard deviation of a sample; NaN for less than two.
func (m *moments) deviation() float64 {
	if m.n < 2 {
		return math.NaN()
	}
	return math.Sqrt(m.m2 / float64(m.n-1))
}

// tally is what the boards of a population come to. Its size does not depend
// on how many there are.
type tally struct {
	options *populationOptions
	target  *target
	columns []population.Column

	done, healthy, unsolved uint64
	faults                  map[string]*faultTally
	drawn                   []moments // by column
	plan                    *population.ReadingsPlan
	labels                  []label
	read                    []readTally // as labels tells
	channels                []channelTally
	plug                    moments // J, of healthy boards
	problem                 string  // of the first board without a solution
	problemAt               uint64
}

// faultTally is of the boards with one fault, on whatever channel.
type faultTally struct {
	boards, unsolved, unseen uint64
	verdicts                 map[sim.Verdict]uint64 // of the first channel that is not as it should be
}

// readTally is of one instrument in one place and state.
type readTally struct {
	shown moments // of healthy boards
	over  uint64  // healthy boards of which it is beyond every range
}

// channelTally is of the runs of one channel.
type channelTally struct {
	reached, final, energy moments // s, °C, J, of healthy boards
	healthy, faulty        map[sim.Verdict]uint64
}

func newTally(o *populationOptions, t *target, p *population.Population) *tally {
	x := &tally{options: o, target: t, columns: p.Columns(), faults: map[string]*faultTally{}}
	x.drawn = make([]moments, len(x.columns))
	for range t.names {
		x.channels = append(x.channels, channelTally{healthy: map[sim.Verdict]uint64{}, faulty: map[sim.Verdict]uint64{}})
	}
	return x
}

func (t *tally) measured(plan *population.ReadingsPlan) {
	t.plan = plan
	t.labels = labels(plan)
	t.read = make([]readTally, len(t.labels))
}

// label tells what a displayed value is.
type label struct {
	state readings.State
	place string // test point or lead; empty for the energy monitor
	live  bool
	meter string
	unit  string
}

// displayed is what an instrument shows.
type displayed struct {
	value, resolution float64
	over              bool
}

// monitorName stands for the energy monitor among meters.
const monitorName = "energy-monitor"

// labels tells what values returns, in order: voltages, then currents, then
// what the energy monitor shows.
func labels(p *population.ReadingsPlan) []label {
	var out []label
	for _, s := range p.States {
		for _, at := range p.Points {
			for i := range p.Meters {
				out = append(out, label{s, at.Name, at.Live, p.Meters[i].Name, "V"})
			}
		}
	}
	for _, s := range p.States {
		for _, l := range p.Leads {
			for i := range p.Clamps {
				out = append(out, label{s, l.Name, true, p.Clamps[i].Name, "A"})
			}
		}
	}
	if p.Monitor {
		for _, s := range p.States {
			out = append(out, label{s, "", false, monitorName, "W"}, label{s, "", false, monitorName, "A"})
		}
	}
	return out
}

// values returns what was displayed on one board; nothing where it has no
// solution.
func (f *finished) values() []displayed {
	var out []displayed
	for _, list := range [][]readings.Value{f.measured.Values, f.measured.Currents} {
		for _, v := range list {
			out = append(out, displayed{v.Shown, v.Resolution, v.Over})
		}
	}
	for _, v := range f.measured.Monitor {
		m := &f.member.Board.Monitor
		out = append(out, displayed{v.ShownPower, float64(m.PowerResolution), false}, displayed{v.ShownCurrent, float64(m.CurrentResolution), false})
	}
	return out
}

// take counts one board.
func (t *tally) take(f *finished) {
	t.done++
	for k, v := range f.member.Values {
		t.drawn[k].add(v)
	}
	healthy := len(f.member.Faults) == 0
	if healthy {
		t.healthy++
	}
	problem := f.problem()
	if problem != "" {
		if t.unsolved++; t.unsolved == 1 {
			t.problem, t.problemAt = problem, f.member.Index
		}
	}
	seen := sim.Reaches
	for _, c := range f.outcome.Channels {
		if c.Verdict != sim.Reaches && seen == sim.Reaches {
			seen = c.Verdict
		}
	}
	for i, j := range f.member.Faults {
		if slices.ContainsFunc(f.member.Faults[:i], func(o faults.Injection) bool { return o.Fault == j.Fault }) {
			continue
		}
		x := t.faults[j.Fault]
		if x == nil {
			x = &faultTally{verdicts: map[sim.Verdict]uint64{}}
			t.faults[j.Fault] = x
		}
		x.boards++
		switch {
		case problem != "":
			x.unsolved++
		case seen == sim.Reaches:
			x.unseen++
		default:
			x.verdicts[seen]++
		}
	}
	if problem == "" {
		t.results(f, healthy)
	}
}

// results counts what was measured or simulated.
func (t *tally) results(f *finished, healthy bool) {
	if healthy {
		for k, v := range f.values() {
			if v.over {
				t.read[k].over++
			} else {
				t.read[k].shown.add(v.value)
			}
		}
	}
	for k, c := range f.outcome.Channels {
		x := &t.channels[k]
		if !healthy {
			x.faulty[c.Verdict]++
			continue
		}
		x.healthy[c.Verdict]++
		if c.Reached >= 0 {
			x.reached.add(c.Reached.Seconds())
		}
		x.final.add(c.Final)
		x.energy.add(c.Energy)
	}
	if healthy && len(f.outcome.Channels) > 0 {
		t.plug.add(f.outcome.Supply.Plug)
	}
}

// problem tells why there is no result; empty where there is one.
func (f *finished) problem() string {
	if f.measured.Problem != "" {
		return f.measured.Problem
	}
	return f.outcome.Problem
}

// seenFaults lists the faults that were drawn, in the order of the catalogue.
func (t *tally) seenFaults() []string {
	return slices.DeleteFunc(faults.Names(), func(n string) bool { return t.faults[n] == nil })
}

// allVerdicts is every verdict, in the order in which they are told.
var allVerdicts = []sim.Verdict{sim.Reaches, sim.Overshot, sim.LinkEnded, sim.Boils, sim.RunsDry, sim.Settles, sim.StillUp, sim.Unheated}

// foremost returns the most frequent verdict, the first of those alike.
func foremost(counts map[sim.Verdict]uint64) (sim.Verdict, uint64) {
	var best sim.Verdict
	most := uint64(0)
	for _, v := range allVerdicts {
		if counts[v] > most {
			best, most = v, counts[v]
		}
	}
	return best, most
}
