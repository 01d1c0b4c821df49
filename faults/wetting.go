package faults

import (
	"fmt"
	"math"
	"slices"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/models/water"
)

// Wetting is the course of a film that wets and dries: only a fault that
// [Fault.Wets] takes one. The zero value is a film of fixed resistance.
//
// The film has a wetness w from 0, dry, to 1, as wet as it gets, which follows
// a settled wetness with one time constant, and a conductance that is a power
// of it:
//
//	dw/dt = (w_s − w)/τ
//	g     = g_wet·wⁿ/k
//	w_s   = min(1, drip + leak·p/bar), but 1 with the pocket below the dew point
//	p     = max(0, p_sat(T) − p_ambient)
//
//	symbol     field     unit  meaning
//	τ          Dries     s     time constant of wetting and of drying
//	w_s        -         1     wetness at which the film settles
//	leak       Leak      1     settled wetness for each bar of gauge pressure
//	drip       Drip      1     settled wetness that no pressure changes
//	n          Exponent  1     power of the wetness in the conductance
//	k          Coating   1     what a conformal coating divides the conductance by
//	g_wet      -         S     conductance of the injection's severity and resistance
//	T          -         °C    water of the boiler that leaks
//	p_ambient  -         Pa    pressure of the surroundings
//
// Here p_sat is the saturation pressure of IAPWS R7-97(2012) eq. 30, since a
// closed boiler holds nothing but water and its steam. That a film wets and
// dries with one time constant, that its conductance is a power of its
// wetness, that condensation wets it wholly and that a leak wets in proportion
// to the pressure behind it are conventions of this package (common practice,
// no source), and so are all numbers for them: they order cases, and predict
// no real board.
//
// Between two moments that a run is shown w_s is taken to change evenly, for
// which w is exact. A board sees the wetness in 64 equal steps, and a
// step is left for the nearest one only when w is three quarters of a step
// away from it, so that a wetness between two steps does not change the board
// over and over.
type Wetting struct {
	// Dries is τ, at least 1 s; 0 is a film of fixed resistance, and then all
	// other fields are 0 too.
	Dries time.Duration
	Leak  float64 // 0 to 1000 [0]
	// Steam is the channel, from 1, whose boiler leaks; 0 is the injection's
	// own.
	Steam int
	Drip  float64 // 0 to 1 [0]
	Wet   float64 // the wetness at the onset, 0 to 1 [0]
	// Exponent is n, 0.1 to 10; 0 is the default, 1.
	Exponent float64
	// DewPoint is the temperature of the pocket below which it is wet through,
	// above 0 °C to 100 °C; 0 is none.
	DewPoint q.Celsius
	// Coating is k, 1 to 1e6; 0 is the default, 1, which is no coating.
	Coating float64
}

// wetSteps is the number of steps of wetness that a board sees.
const wetSteps = 64

// wetDeadband is how far in steps the wetness is from the step in force when
// it leaves it: half a step for the nearest, and half of half a step to each
// side of that against chatter.
const wetDeadband = 0.75

// shortestDrying bounds the time constant from below.
const shortestDrying = time.Second

// wets reports whether the course is that of a film that wets and dries.
func (w *Wetting) wets() bool { return w.Dries > 0 }

// orOne returns the value of a field whose default is 1.
func orOne(v float64) float64 {
	if v == 0 {
		return 1
	}
	return v
}

// standardPressure is the ambient pressure in pascals of a moment that tells
// none.
const standardPressure = 101325

// settled returns w_s at a moment, for an injection on channel own.
func (w *Wetting) settled(m *models.Moment, own int) float64 {
	if w.DewPoint > 0 && m.Pocket < float64(w.DewPoint) {
		return 1
	}
	ch := own
	if w.Steam > 0 {
		ch = w.Steam - 1
	}
	ambient := m.AmbientPressure
	if ambient == 0 {
		ambient = standardPressure
	}
	s := w.Drip
	if w.Leak > 0 {
		s += w.Leak * max(0, steamPressure(at(m.Water, ch))-ambient) / 1e5
	}
	return min(1, s)
}

// hottestSteam is just below the critical temperature in °C, beyond which
// there is no saturation pressure.
const hottestSteam = 373.9

// steamPressure is the saturation pressure in Pa of water at t in °C; 0 where
// it is frozen or not told.
func steamPressure(t float64) float64 {
	p, err := water.SaturationPressure(min(t, hottestSteam))
	if err != nil {
		return 0
	}
	return p
}

// follow returns the wetness after dt from w, where the settled wetness goes
// evenly from a to b meanwhile. With x = dt/τ, E = exp(−x) and φ = (1 − E)/x
//
//	w' = w·E + a·(φ − E) + b·(1 − φ)
//
// which is the solution of the equation of [Wetting]; the three weights are
// not negative and their sum is 1.
func follow(w, a, b float64, dt, tau time.Duration) float64 {
	if dt <= 0 {
		return w
	}
	x := dt.Seconds() / tau.Seconds()
	e := math.Exp(-x)
	phi := -math.Expm1(-x) / x
	return min(1, max(0, w*e+a*(phi-e)+b*(1-phi)))
}

// film is where the wetness of an injection stands.
type film struct {
	begun   bool
	at      time.Duration // the moment last shown
	wetness float64       // then
	settled float64       // w_s then
	step    int           // what the board sees, 0 to wetSteps
}

// show brings the film of injection j, which began at start, to moment m.
func (f *film) show(j *Injection, start time.Duration, m *models.Moment) {
	w := &j.Course.Wetting
	now := w.settled(m, j.Channel)
	if !f.begun {
		*f = film{begun: true, at: start, wetness: w.Wet, settled: now, step: int(math.Round(w.Wet * wetSteps))}
	}
	if m.Time < f.at {
		return
	}
	f.wetness = follow(f.wetness, f.settled, now, m.Time-f.at, w.Dries)
	f.at, f.settled = m.Time, now
	if x := f.wetness * wetSteps; math.Abs(x-float64(f.step)) >= wetDeadband {
		f.step = int(math.Round(x))
	}
}

// wetSeverity returns the severity at which the injection's film has the
// conductance of a wetness: the law of an added path,
//
//	R(s) = (1 GΩ)^(1 − s)·R^s
//
// solved for s, with R(s) the resistance of the severity times k/wⁿ. A film
// above 1 GΩ is none.
func (j *Injection) wetSeverity(wetness float64) float64 {
	w := &j.Course.Wetting
	drier := math.Log(orOne(w.Coating)) - orOne(w.Exponent)*math.Log(wetness)
	if j.Severity == 0 || drier == 0 {
		return j.Severity
	}
	full := edit{fault: find(j.Fault), settings: j.Settings}.value(filmKey)
	return max(0, j.Severity-drier/math.Log(nothing/full))
}

// filmKey is the key of a film with its resistance.
const filmKey = "resistance"

// Wetness returns the wetness of each injection of the set at moment m, as it
// is between the steps that a board sees: NaN for a fault that does not wet
// and for a film that does not act. It is for a look at a run; showing the
// moment again, or Version, Edit and Severities before or after it, changes
// nothing.
func (r *Run) Wetness(m models.Moment) []float64 {
	out := make([]float64, len(r.set))
	for i := range r.set {
		out[i] = math.NaN()
		if r.set[i].Course.Wetting.wets() && r.level(i, &m).number > 0 {
			out[i] = r.states[i].film.wetness
		}
	}
	return out
}

// The keys of a film that wets and dries.
const (
	keyDries    = "dries"
	keyLeak     = "leak"
	keySteam    = "steam"
	keyDrip     = "drip"
	keyWet      = "wet"
	keyExponent = "exponent"
	keyDewPoint = "dew-point"
	keyCoating  = "coating"
)

// WettingKeys lists the keys that a fault takes beside those of every fault if
// it [Fault.Wets], in the order in which an injection is written.
func WettingKeys() []CommonKey {
	return []CommonKey{
		{keyDries, "10 min", "the film wets and dries, with this time constant; the other keys of wetness need it"},
		{keyLeak, "50 %", "wetness at which it settles for each bar of gauge pressure in the boiler that leaks"},
		{keySteam, "3", "the channel whose boiler leaks, if not the fault's own"},
		{keyDrip, "10 %", "wetness at which it settles without any pressure"},
		{keyWet, "40 %", "wetness at the onset, dry if not given"},
		{keyExponent, "2", "power of the wetness in the film's conductance, 1 if not given"},
		{keyDewPoint, "15 °C", "with the board pocket below this the film settles wet through"},
		{keyCoating, "100", "factor by which a conformal coating divides the film's conductance"},
	}
}

// wettingNumber is a key of wetness with a number.
type wettingNumber struct {
	key string
	to  *float64
	in  q.Dimension
	// The bounds of what can be written, both included. 0 in a field is the
	// default, also where it lies outside.
	least, most float64
}

func (w *Wetting) numbers() []wettingNumber {
	return []wettingNumber{
		{keyLeak, &w.Leak, q.Number, 0, 1000},
		{keyDrip, &w.Drip, q.Number, 0, 1},
		{keyWet, &w.Wet, q.Number, 0, 1},
		{keyExponent, &w.Exponent, q.Number, 0.1, 10},
		{keyDewPoint, (*float64)(&w.DewPoint), q.Temperature, 0.1, 100},
		{keyCoating, &w.Coating, q.Number, 1, 1e6},
	}
}

func (n *wettingNumber) expected() string {
	return fmt.Sprintf("%s to %s", q.Format(n.in, n.least), q.Format(n.in, n.most))
}

func (n *wettingNumber) takes(v float64) bool { return v >= n.least && v <= n.most }

// wetting reads a key of wetness, and reports whether it is one that the fault
// takes.
func (p *parser) wetting(key, value string, offset int) (bool, error) {
	if !p.fault.Wets || !slices.ContainsFunc(WettingKeys(), func(k CommonKey) bool { return k.Name == key }) {
		return false, nil
	}
	w := &p.j.Course.Wetting
	switch key {
	case keyDries:
		d, err := q.ParseDuration(value)
		if err != nil {
			return true, p.quantity(err, offset)
		}
		if err := checkTime(key, d, shortestDrying); err != nil {
			return true, p.fail(offset, quoted(value), err.(*FieldError).Expected)
		}
		w.Dries = d
		return true, nil
	case keySteam:
		ch, err := p.channel(value, offset, false)
		w.Steam = ch + 1
		return true, err
	}
	numbers := w.numbers()
	n := &numbers[slices.IndexFunc(numbers, func(n wettingNumber) bool { return n.key == key })]
	v, err := q.Parse(n.in, value)
	if err != nil {
		return true, p.quantity(err, offset)
	}
	if !n.takes(v) {
		return true, p.fail(offset, q.Format(n.in, v), n.expected())
	}
	*n.to = v
	return true, nil
}

// write writes the keys that are not left at their defaults.
func (w Wetting) write(pair func(key, value string), channels []string) {
	if w.Dries != 0 {
		pair(keyDries, q.FormatDuration(w.Dries))
	}
	numbers := w.numbers()
	for _, k := range WettingKeys() {
		if k.Name == keySteam && w.Steam != 0 {
			pair(keySteam, written(w.Steam-1, channels))
		}
		for _, n := range numbers {
			if n.key == k.Name && *n.to != 0 {
				pair(n.key, q.Format(n.in, *n.to))
			}
		}
	}
}

func (w Wetting) check(f *Fault, c *Course, b *models.Board) []error {
	var errs []error
	bad := func(field, found, expected string) { errs = append(errs, &FieldError{field, found, expected}) }
	switch {
	case w == Wetting{}:
		return nil
	case !f.Wets:
		bad("course", "a film that wets and dries", "none, as "+f.Name+" is no film")
		return errs
	case c.intermittent():
		bad("course", "an intermittent film that wets and dries", "one of the two")
	case c.Growing > 0:
		bad(keyGrowing, "a growing severity", "none, as its wetness moves the film")
	}
	if w.Dries != 0 {
		if err := checkTime(keyDries, w.Dries, shortestDrying); err != nil {
			errs = append(errs, err)
		}
	}
	for _, n := range w.numbers() {
		v := *n.to
		switch {
		case v == 0:
		case !n.takes(v):
			bad(n.key, q.Format(n.in, v), n.expected())
		case w.Dries == 0:
			bad(n.key, q.Format(n.in, v), keyDries+" with it")
		}
	}
	switch {
	case w.Steam < 0, b != nil && w.Steam > len(b.Channels):
		n := "1 or more"
		if b != nil {
			n = fmt.Sprintf("1 to %d", len(b.Channels))
		}
		bad(keySteam, fmt.Sprint(w.Steam), n)
	case w.Steam > 0 && w.Leak == 0:
		bad(keySteam, "a boiler", keyLeak+" with it")
	}
	return errs
}
