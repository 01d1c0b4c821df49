package plots

import (
	"math"
	"strings"

	"boilwright/sim/disturbance"
)

// FromAssessment makes the input of [Disturbance] from what a run did to its
// supply: the spectra of current and voltage of the state with the greatest
// harmonic currents, with the limits of IEC 61000-3-2 class A and EN 50160, and
// the flicker of the run. Without a state the input has no spectra, which
// Disturbance rejects.
func FromAssessment(a *disturbance.Assessment) DisturbanceInput {
	in := DisturbanceInput{Limits: "IEC 61000-3-2 class A and EN 50160"}
	in.Title = "Disturbance of the supply: " + a.Run.Board.Name
	if p := a.MostDistorting(); p != nil {
		driven := strings.Join(p.Driven(), " and ")
		if driven == "" {
			driven = "nothing"
		}
		in.State = driven + " driven"
		current := Spectrum{Name: "supply current", Unit: "A"}
		voltage := Spectrum{Name: "voltage L to N", Unit: "V"}
		for n := range disturbance.Orders + 1 {
			current.RMS, voltage.RMS = append(current.RMS, p.Current.RMS[n]), append(voltage.RMS, p.Voltage.RMS[n])
			current.Limit = append(current.Limit, disturbance.ClassA(n))
			limit := disturbance.VoltageLimit(n) / 100 * p.Voltage.RMS[1]
			if !(limit > 0) {
				limit = math.NaN()
			}
			voltage.Limit = append(voltage.Limit, limit)
		}
		in.Spectra = []Spectrum{current, voltage}
	}
	// The first part lasts from the start: a time before it stands for that.
	every := a.Sensation.Every.Seconds()
	for i, p := range a.Sensation.Peak {
		if i == 0 {
			in.Time, in.Sensation = append(in.Time, 0), append(in.Sensation, p)
		}
		in.Time = append(in.Time, math.Min(float64(i+1)*every, math.Max(a.Observed.Seconds(), (float64(i)+0.5)*every)))
		in.Sensation = append(in.Sensation, p)
	}
	list := func(of []disturbance.Severity) []Severity {
		var out []Severity
		for _, s := range of {
			out = append(out, Severity{s.From.Seconds(), s.To.Seconds(), s.Value, s.Whole})
		}
		return out
	}
	in.Short, in.Long = list(a.Short), list(a.Long)
	return in
}
