package plots

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"boilwright/sim"
	"boilwright/sim/boardfile"
	"boilwright/sim/disturbance"
)

// demoDisturbance is the current of 20 A peak in one half-cycle only, whose
// orders are known in closed form, on a voltage with a third harmonic, and the
// flicker of 25 min.
func demoDisturbance() DisturbanceInput {
	in := DisturbanceInput{State: "dye driven", Limits: "class A and the supply's own"}
	in.Title, in.Subtitle = "One half-cycle of two", "230 V, 50 Hz"
	current := Spectrum{Name: "supply current", Unit: "A"}
	voltage := Spectrum{Name: "voltage L to N", Unit: "V"}
	for n := range 41 {
		rms, limit := 0.0, math.NaN()
		switch {
		case n == 0: // 20 A/π
			rms = 20 / math.Pi
		case n == 1: // 10 A peak
			rms = 10 / math.Sqrt2
		case n%2 == 0: // (2/π)/(n² − 1) of 20 A peak
			rms, limit = 20*2/math.Pi/float64(n*n-1)/math.Sqrt2, 1.08*2/float64(n)
		default:
			limit = 2.3 * 3 / float64(n)
		}
		current.RMS, current.Limit = append(current.RMS, rms), append(current.Limit, limit)
		voltage.RMS = append(voltage.RMS, map[int]float64{1: 230, 3: 11.5}[n])
	}
	in.Spectra = []Spectrum{current, voltage}
	for i := range 301 {
		t := 5 * float64(i)
		in.Time = append(in.Time, t)
		in.Sensation = append(in.Sensation, math.Max(0, 6*math.Sin(2*math.Pi*t/600)))
	}
	in.Short = []Severity{{0, 600, 0.9, true}, {600, 1200, 1.42, true}, {1200, 1500, 0.31, false}}
	in.Long = []Severity{{0, 1500, 1.12, false}}
	return in
}

// TestDisturbanceAlternative: the rectified sine of 20 A peak has a mean of
// 20/π = 6.366 A, a first order of 10/√2 = 7.071 A rms, a second of
// 20·(2/π)/3/√2 = 3.001 A and, as the whole is 10 A rms, a THD of
// √(100 − 40.53 − 50)/7.071 = 0.4352 (Fourier series, circuit texts).
func TestDisturbanceAlternative(t *testing.T) {
	s, err := Disturbance(demoDisturbance())
	must(t, s, err)
	contains(t, "text alternative", s.Alt(),
		"Disturbance figure: One half-cycle of two. 230 V, 50 Hz.", "the direct part to order 40",
		"supply current: order 1: 7.07 A; THD 43.5 %; direct part 6.37 A; 2 orders beyond the limit: 2, 4; largest harmonics order 2 3 A (42 %), order 4 0.6 A (8.5 %)",
		"voltage L to N: order 1: 230 V; THD 5 %; largest harmonics order 3 11.5 V (5 %).",
		"Flicker sensation from 0.0 min to 25.0 min: highest 6 at 2.5 min, above 1 for",
		"P_st from 0.0 min: 0.90, 1.42 and 0.31 over 5.0 min only.", "Highest P_lt: 1.12 over 25.0 min.")
	contains(t, "caption", s.Caption(), "Spectra: with dye driven.", "limits of class A and the supply's own; which of them hold, local rules say", "invented for demonstration")
	in := demoDisturbance()
	in.Spectra, in.Time, in.Sensation, in.Short, in.Long = in.Spectra[1:], nil, nil, nil, nil
	s, err = Disturbance(in)
	must(t, s, err)
	for _, x := range []string{"P_st", "licker", "limit"} {
		if strings.Contains(s.Alt()+s.Caption(), x) {
			t.Errorf("found %q told of a voltage alone: %s %s", x, s.Alt(), s.Caption())
		}
	}
}

func TestDisturbanceErrors(t *testing.T) {
	for want, change := range map[string]func(*DisturbanceInput){
		`found 0 spectra, expected 1 to 3`: func(in *DisturbanceInput) { in.Spectra = nil },
		`spectrum "supply current": found 1 value, expected orders 0 to 1 at least and to 40 at most`:           func(in *DisturbanceInput) { in.Spectra[0].RMS = []float64{1} },
		`spectrum "supply current": found -1 at index 3, expected 0 or more`:                                    func(in *DisturbanceInput) { in.Spectra[0].RMS[3] = -1 },
		`spectrum "voltage L to N": found NaN at index 2, expected a finite number`:                             func(in *DisturbanceInput) { in.Spectra[1].RMS[2] = math.NaN() },
		`spectrum "voltage L to N": found 1 limit for 41 values, expected as many`:                              func(in *DisturbanceInput) { in.Spectra[1].Limit = []float64{1} },
		`spectrum "supply current": limit: found 0 at order 5, expected more than 0 and at most 1e+09, or none`: func(in *DisturbanceInput) { in.Spectra[0].Limit[5] = 0 },
		`spectrum "supply current": found unit "", expected one of 1 to 8 characters`:                           func(in *DisturbanceInput) { in.Spectra[0].Unit = "" },
		`flicker: found 0 times, expected at least 2`:                                                           func(in *DisturbanceInput) { in.Time = nil },
		`flicker: found 0 values for 301 times, expected as many`:                                               func(in *DisturbanceInput) { in.Sensation = nil },
		`flicker: found -2 at index 1, expected 0 or more`:                                                      func(in *DisturbanceInput) { in.Sensation[1] = -2 },
		`P_st 1: found from 100 s to 1200 s, expected times that rise`:                                          func(in *DisturbanceInput) { in.Short[1].From = 100 },
		`P_lt 0: found +Inf at index 0, expected a finite number`:                                               func(in *DisturbanceInput) { in.Long[0].Value = math.Inf(1) },
		`P_lt 0: found from 0 s to 0 s, expected times that rise`:                                               func(in *DisturbanceInput) { in.Long[0].To = 0 },
	} {
		in := demoDisturbance()
		change(&in)
		checkError(t, want, func() (*Sheet, error) { return Disturbance(in) })
	}
}

func TestDisturbanceLabelsExtreme(t *testing.T) {
	for name, change := range map[string]func(*DisturbanceInput){
		"long names": func(in *DisturbanceInput) {
			in.State, in.Limits = longName, longName
			for i := range in.Spectra {
				in.Spectra[i].Name = longName + longName
			}
		},
		"nothing": func(in *DisturbanceInput) {
			for i := range in.Spectra {
				in.Spectra[i].RMS, in.Spectra[i].Limit = make([]float64, 41), nil
			}
			in.Sensation = make([]float64, len(in.Time))
			in.Short = []Severity{{0, 1500, 0, true}}
		},
		"great": func(in *DisturbanceInput) {
			in.Spectra[0].RMS[7], in.Spectra[1].RMS[1] = 1e9, 1e-9
			in.Sensation[4], in.Short[0].Value = 1e5, 1e5
		},
		"three, of an odd unit": func(in *DisturbanceInput) {
			in.Spectra = append(in.Spectra, Spectrum{Name: "x", Unit: "furlongs", RMS: []float64{1, 2, 3}})
		},
		"2 orders": func(in *DisturbanceInput) {
			in.Spectra = []Spectrum{{Name: "x", Unit: "V", RMS: []float64{0, 230}}}
		},
		"a long run": func(in *DisturbanceInput) {
			in.Short = nil
			for i := range 500 {
				in.Short = append(in.Short, Severity{600 * float64(i), 600 * float64(i+1), 1 + math.Sin(float64(i)), true})
			}
			for i := range in.Time {
				in.Time[i] *= 200
			}
		},
		"near the threshold": func(in *DisturbanceInput) {
			for i := range in.Short {
				in.Short[i].Value = 0.98 + 0.02*float64(i)
			}
		},
		"severities alone": func(in *DisturbanceInput) { in.Time, in.Sensation = nil, nil },
		"a second": func(in *DisturbanceInput) {
			in.Time, in.Sensation, in.Short, in.Long = []float64{0, 1}, []float64{0, 3}, nil, nil
		},
	} {
		t.Run(name, func(t *testing.T) {
			in := demoDisturbance()
			change(&in)
			s, err := Disturbance(in)
			checkLabels(t, must(t, s, err))
		})
	}
}

// TestFromAssessment draws what a run came to.
func TestFromAssessment(t *testing.T) {
	b := boardfile.Default()
	a, err := disturbance.Assess(context.Background(), b, sim.Options{Duration: 90 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	in := FromAssessment(a)
	if n := len(in.Time); n != 91 || in.Time[0] != 0 || in.Time[90] != 90 || len(in.Short) != 1 || in.Short[0].Whole {
		t.Errorf("found %d times and severities %+v, expected 0 s to 90 s by 1 s and one that is not whole", n, in.Short)
	}
	i, u := in.Spectra[0], in.Spectra[1]
	if i.Limit[3] != 2.30 || !math.IsNaN(i.Limit[1]) || !(math.Abs(u.Limit[3]/u.RMS[1]-0.05) < 1e-12) || !math.IsNaN(u.Limit[27]) {
		t.Errorf("found limits of order 3 of %g A and %g V, expected 2.30 A (IEC 61000-3-2 Table 1) and 5 %% (EN 50160 Table 1)", i.Limit[3], u.Limit[3])
	}
	s, err := Disturbance(in)
	checkLabels(t, must(t, s, err))
	contains(t, "text alternative", s.Alt(), "Disturbance of the supply: "+b.Name, "supply current: order 1: 15.")
	if _, err := Disturbance(FromAssessment(&disturbance.Assessment{Run: a.Run})); err == nil {
		t.Error("found no error of an assessment without a state")
	}
}
