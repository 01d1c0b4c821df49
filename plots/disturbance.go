package plots

import (
	"fmt"
	"math"
)

// Spectrum is the harmonic content of one signal, as rms values by order.
type Spectrum struct {
	Name string    // "current of the supply"
	Unit string    // "A"
	RMS  []float64 // by order; [0] is the magnitude of the direct part
	// Limit is by order as RMS, in the same unit; NaN is none. Nil leaves
	// limits out.
	Limit []float64
}

// Severity is a flicker severity over a part of a run.
type Severity struct {
	From, To float64 // s
	Value    float64
	Whole    bool // the part is as long as the severity is meant for
}

// DisturbanceInput is what a disturbance sheet shows: spectra, and the flicker
// of a run. Times are in seconds and rise.
type DisturbanceInput struct {
	Heading
	State   string     // in which the spectra were taken: "soak driven"
	Spectra []Spectrum // 1 to 3
	Limits  string     // where the limits are from
	// Time and Sensation are the instantaneous flicker P_inst, each the
	// greatest since the time before; empty leaves the panel out.
	Time, Sensation []float64
	Short           []Severity // P_st, in order of time; empty leaves the panel out
	Long            []Severity // P_lt
}

// mostOrders is the highest order drawn.
const mostOrders = 40

// Disturbance builds a sheet of what a board does to its supply: spectra of
// its current and voltage, each on a logarithmic scale, and below them what the
// eye perceives of the flicker over the run, and P_st. An error names the
// series and what was expected.
func Disturbance(in DisturbanceInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	d := &disturbances{DisturbanceInput: in}
	for i := range in.Spectra {
		d.orders = max(d.orders, len(in.Spectra[i].RMS)-1)
	}
	if d.flickers() {
		d.unit = timeUnitFor(d.to() - d.from())
	}
	s := in.Heading.sheet("Disturbance of the supply", d.aid())
	s.alt = d.alternative(s)
	s.data = d.tables()
	s.body = d.draw
	return s, nil
}

func (in *DisturbanceInput) check() error {
	if n := len(in.Spectra); n == 0 || n > 3 {
		return fmt.Errorf("found %s, expected 1 to 3", plural(n, "spectrum", "spectra"))
	}
	for i := range in.Spectra {
		if err := in.Spectra[i].check(fmt.Sprintf("spectrum %q", in.Spectra[i].Name)); err != nil {
			return err
		}
	}
	if len(in.Time) > 0 || len(in.Sensation) > 0 {
		if err := checkTimes("flicker", in.Time, mostRun); err != nil {
			return err
		}
		if err := checkSeries("flicker", in.Time, in.Sensation, mostPlain); err != nil {
			return err
		}
		if err := notNegative("flicker", in.Sensation); err != nil {
			return err
		}
	}
	for _, s := range []struct {
		name string
		of   []Severity
	}{{"P_st", in.Short}, {"P_lt", in.Long}} {
		last := math.Inf(-1)
		for i, v := range s.of {
			where := fmt.Sprintf("%s %d", s.name, i)
			if err := checkValues(where, []float64{v.From, v.To}, mostRun); err != nil {
				return err
			}
			if err := checkValues(where, []float64{v.Value}, mostPlain); err != nil {
				return err
			}
			if err := notNegative(where, []float64{v.Value}); err != nil {
				return err
			}
			if !(v.From >= last && v.To > v.From) {
				return fmt.Errorf("%s: found from %g s to %g s, expected times that rise", where, v.From, v.To)
			}
			last = v.To
		}
	}
	return nil
}

func (s *Spectrum) check(where string) error {
	if n := len(s.RMS); n < 2 || n > mostOrders+1 {
		return fmt.Errorf("%s: found %s, expected orders 0 to 1 at least and to %d at most", where, plural(n, "value", "values"), mostOrders)
	}
	if err := checkUnit(where, s.Unit); err != nil {
		return err
	}
	if err := checkValues(where, s.RMS, mostOf(s.Unit)); err != nil {
		return err
	}
	if err := notNegative(where, s.RMS); err != nil {
		return err
	}
	if s.Limit == nil {
		return nil
	}
	if len(s.Limit) != len(s.RMS) {
		return fmt.Errorf("%s: found %s for %s, expected as many", where, plural(len(s.Limit), "limit", "limits"), plural(len(s.RMS), "value", "values"))
	}
	for n, l := range s.Limit {
		if !math.IsNaN(l) && !(l > 0 && l <= mostOf(s.Unit)) {
			return fmt.Errorf("%s: limit: found %g at order %d, expected more than 0 and at most %g, or none", where, l, n, mostOf(s.Unit))
		}
	}
	return nil
}

// notNegative rejects a series of magnitudes with a negative one.
func notNegative(where string, v []float64) error {
	for i, x := range v {
		if x < 0 {
			return fmt.Errorf("%s: found %g at index %d, expected 0 or more", where, x, i)
		}
	}
	return nil
}

// thd is the rms value of orders from 2 on over that of the first; NaN where
// there is none.
func (s *Spectrum) thd() float64 {
	if s.RMS[1] == 0 {
		return math.NaN()
	}
	sum := 0.0
	for _, x := range s.RMS[2:] {
		sum += x * x
	}
	return math.Sqrt(sum) / s.RMS[1]
}

// beyond lists the orders above their limits.
func (s *Spectrum) beyond() []int {
	var out []int
	for n, l := range s.Limit {
		if s.RMS[n] > l {
			out = append(out, n)
		}
	}
	return out
}

// disturbances is a sheet being built.
type disturbances struct {
	DisturbanceInput
	orders int
	unit   timeUnit
}

// flickers reports whether there is a panel with a time axis.
func (d *disturbances) flickers() bool { return len(d.Time) > 0 || len(d.Short) > 0 }

func (d *disturbances) from() float64 {
	from := math.Inf(1)
	if len(d.Time) > 0 {
		from = d.Time[0]
	}
	if len(d.Short) > 0 {
		from = math.Min(from, d.Short[0].From)
	}
	return from
}

func (d *disturbances) to() float64 {
	to := math.Inf(-1)
	if n := len(d.Time); n > 0 {
		to = d.Time[n-1]
	}
	if n := len(d.Short); n > 0 {
		to = math.Max(to, d.Short[n-1].To)
	}
	return to
}
