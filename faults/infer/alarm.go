package infer

import (
	"math"
	"slices"
	"strings"

	"boilwright/sim/readings"
)

// Alarm is an alarm that an energy monitor in the supply lead can give on power
// drawn while the controls are off, and what it tells and misses. Names are
// those of faults, on any channel.
type Alarm struct {
	Watts   float64 // threshold
	Seconds float64 // for which it must be passed
	Healthy float64 // W, the most that a healthy board draws in standby
	Least   float64 // W, the least that a fault draws which heats a boiler
	Minutes float64 // until the first link opens, from cold; 0 for never
	Tells   []string
	Below   []string // draw more than a healthy board, but less than the threshold
	Silent  []string // draw what a healthy board draws
}

// heats is the part of an element's rated power from which a fault counts as
// one that heats a boiler: an assumption.
const heats = 0.1

// samples is over how many sampling periods of the monitor the alarm waits, so
// that one value taken while a channel was just being switched off gives none:
// an assumption.
const samples = 2

// Alarm works out the alarm: its threshold lies at the geometric mean of the
// most that a healthy board draws, at least what the monitor can show, and the
// least that a fault which heats a boiler draws.
func (w *Bench) Alarm() *Alarm {
	x := experiment{kind: MonitorWatt, state: readings.Standby, pulled: -1, exchanged: none, about: -1}
	all := make([]int, len(w.Hypotheses))
	for i := range all {
		all[i] = i
	}
	w.need([]experiment{x}, all)
	s := w.sheet(&x)
	n := len(w.Board.Channels)
	a := &Alarm{Least: math.Inf(1), Seconds: samples * float64(w.Board.Monitor.Period)}
	drawn := map[string][2]float64{} // least and most, by name of the fault
	var names []string
	stuck := make([]int, n) // for each channel a hypothesis under which it heats in full
	for k := range stuck {
		stuck[k] = -1
	}
	for h := range w.Hypotheses {
		if len(w.Hypotheses[h].Set) > 1 {
			continue
		}
		name := Healthy
		if h > 0 {
			name = w.Hypotheses[h].Set[0].Fault
		}
		for m := range w.draws {
			r := s.rows[h*len(w.draws)+m]
			if len(r) == 0 {
				continue
			}
			watts := r[powerSingle(n, plugWatts)]
			d, ok := drawn[name]
			if !ok {
				d = [2]float64{math.Inf(1), 0}
				names = append(names, name)
			}
			drawn[name] = [2]float64{math.Min(d[0], watts), math.Max(d[1], watts)}
			if h == 0 {
				a.Healthy = math.Max(a.Healthy, watts)
				continue
			}
			for k := range n {
				if r[powerIndex(n, powerRatio, k)] >= heats {
					if watts < a.Least {
						a.Least = watts
					}
					if stuck[k] < 0 && r[powerIndex(n, powerRatio, k)] > 0.9 { // assumption: a full wave takes more
						stuck[k] = h
					}
				}
			}
		}
	}
	least := math.Max(a.Healthy, float64(w.Board.Monitor.Floor))
	if math.IsInf(a.Least, 1) {
		a.Least = 0
		a.Watts = 2 * least
	} else {
		a.Watts = math.Sqrt(least * a.Least)
	}
	for _, name := range names {
		switch d := drawn[name]; {
		case name == Healthy:
		case d[0] > a.Watts:
			a.Tells = append(a.Tells, name)
		case d[1] > a.Watts:
			a.Tells = append(a.Tells, name+" (not always)")
		case d[1] > least+float64(w.Board.Monitor.PowerResolution):
			a.Below = append(a.Below, name)
		default:
			a.Silent = append(a.Silent, name)
		}
	}
	for _, l := range [][]string{a.Tells, a.Below, a.Silent} {
		slices.SortFunc(l, strings.Compare)
	}
	for _, h := range stuck {
		if h < 0 {
			continue
		}
		if m := w.linkMinutes(h); m > 0 && (a.Minutes == 0 || m < a.Minutes) {
			a.Minutes = m
		}
	}
	return a
}

// linkMinutes is the earliest time at which a link opens in standby, from
// cold, under a hypothesis; 0 for never.
func (w *Bench) linkMinutes(h int) float64 {
	x := experiment{kind: Temperature, state: readings.Standby, pulled: -1, exchanged: none, about: -1}
	w.need([]experiment{x}, []int{h})
	s := w.sheet(&x)
	n := len(w.Board.Channels)
	soonest := math.Inf(1)
	for m := range w.runs {
		if r := s.rows[h*len(w.draws)+m]; len(r) > 0 {
			for ch := range n {
				soonest = math.Min(soonest, r[linkOpensIndex(n, ch)])
			}
		}
	}
	if math.IsInf(soonest, 1) {
		return 0
	}
	return soonest
}

// TypedAdvice says what to keep in mind about the diagnosis.
const TypedAdvice = `Prior weights are assumptions and can be edited. Films count as wet as they get, intermittent faults as acting. A
live test is only for someone competent and, where local rules ask for it, licensed.`
