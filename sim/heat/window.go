package heat

import (
	"fmt"
	"math"
)

// Left out of a Taylor step, in kelvin: by the pass that counts, and by the
// one that only finds coefficients.
const (
	fine   = 1e-15
	coarse = 1e-9
)

// maxChanges bounds the changes of mode within one window.
const maxChanges = 10000

// Report is what a window came to.
type Report struct {
	// Advanced is the time in s by which the machine moved on: the whole
	// window, or less where a thermal link reached its functioning
	// temperature and the caller must change the circuit.
	Advanced float64
	// Early tells that a link stopped the window.
	Early bool

	Events []Event // in order of time; valid until the next call
	Energy Balance // of this window
}

// Window advances the machine from t0 by dt seconds. plan returns the pieces
// of constant power, which together last dt; it is called twice: to predict
// the window from its start, and again with what was predicted, when the
// temperatures that set the powers are known better. What it returns is read
// until the next call.
//
// Coefficients are those half-way between the start and the predicted end;
// with them the solution is exact, and events are located on it. See the
// package comment. An error leaves the machine unchanged.
func (m *Machine) Window(t0, dt float64, plan func(*Outlook) []Piece) (Report, error) {
	if err := checkSpan(t0, dt); err != nil {
		return Report{}, err
	}
	m.look.Pass = 0
	m.look.copyFrom(m.now)
	pieces := plan(&m.look)
	if err := m.checkPieces(t0, dt, pieces); err != nil {
		return Report{}, err
	}
	if err := m.predict(t0, dt, pieces); err != nil {
		return Report{}, err
	}
	m.look.Pass = 1
	m.look.sync()
	pieces = plan(&m.look)
	if err := m.checkPieces(t0, dt, pieces); err != nil {
		return Report{}, err
	}
	m.open(t0)
	return m.correct(t0, dt, pieces)
}

// open begins a report.
func (m *Machine) open(t0 float64) {
	m.events = m.events[:0]
	for _, e := range m.pending {
		e.Time = t0
		m.events = append(m.events, e)
	}
	m.pending = m.pending[:0]
}

// predict runs the window with the coefficients at its start.
func (m *Machine) predict(t0, dt float64, pieces []Piece) error {
	m.freeze(m.now, m.now)
	m.try.copyFrom(m.now)
	m.look.element = m.look.element[:0]
	if _, _, err := m.run(m.try, t0, dt, pieces, false); err != nil {
		return err
	}
	for i := range m.look.Mass {
		m.look.Mass[i] = (m.now.Mass[i] + m.try.Mass[i]) / 2
		m.look.Steam[i] = (m.now.Steam[i] + m.try.Steam[i]) / 2
	}
	return nil
}

// correct runs the window with the coefficients of its middle, for good.
func (m *Machine) correct(t0, dt float64, pieces []Piece) (Report, error) {
	m.visits++
	m.freeze(m.now, m.try)
	m.try.copyFrom(m.now)
	start, content := m.total, m.content()
	done, early, err := m.run(m.now, t0, dt, pieces, true)
	if err != nil {
		m.now.copyFrom(m.try)
		m.total = start
		return Report{}, err
	}
	m.total.Stored += m.stored(m.try)
	m.now.sync()
	e := m.total.minus(start)
	e.Enthalpy = m.content() - content
	return Report{Advanced: done, Early: early, Events: m.events, Energy: e}, nil
}

// run takes state p through the pieces with the frozen coefficients and
// returns how far it came and whether a link stopped it. The final run keeps
// accounts and tells events; the other one fills the outlook instead.
func (m *Machine) run(p *State, t0, dt float64, pieces []Piece, final bool) (done float64, early bool, err error) {
	net, tol := m.net, fine
	if !final {
		tol = coarse
	}
	next, _ := m.turn(p, t0, 0, final)
	m.compose(p)
	t, end, changes := 0.0, 0.0, 0
	middle := dt / 2 // of the window, until the outlook has it
	for k := range pieces {
		begin := t
		end += pieces[k].Duration
		if k == len(pieces)-1 {
			end = dt
		}
		if !final {
			m.look.begin(p)
		}
		m.load(&pieces[k])
		for t < end {
			goal := min(end, next)
			h := goal - t
			if longest := net.longest(); h > longest {
				h /= math.Ceil(h / longest)
			}
			net.expand(p.x, h, tol)
			s := m.first(p, final)
			if !final {
				if reach := t + s*h; middle <= reach {
					m.look.copyFrom(p)
					net.at(m.look.x, (middle-t)/h)
					middle = math.Inf(1)
				}
			}
			if s > 0 {
				m.move(p, s, final)
			}
			if s == 1 && t+h >= goal-slack {
				t = goal
			} else {
				t += s * h
			}
			changed := len(m.hits) > 0
			if changed {
				if m.apply(p, t0+t, final) {
					return t, true, nil
				}
			}
			if t >= next {
				var turned bool
				next, turned = m.turn(p, t0, t, final)
				changed = changed || turned
			}
			if changed {
				if changes++; changes > maxChanges {
					return t, false, fmt.Errorf("heat: window at %g s: found more than %d changes of mode, expected fewer", t0, maxChanges)
				}
				m.compose(p)
				m.load(&pieces[k])
			}
		}
		if !final {
			m.look.end(p, t-begin)
		}
	}
	if !final && !math.IsInf(middle, 1) {
		m.look.copyFrom(p)
	}
	return dt, false, nil
}

// move takes p to the fraction s of the step just expanded.
func (m *Machine) move(p *State, s float64, final bool) {
	net, n := m.net, len(m.par.vessels)
	net.weigh(s)
	dt := s * net.step
	for i := range m.par.vessels {
		d, v := &m.draws[i], &m.par.vessels[i]
		steam := d.steam * dt
		h := m.frozen[i].h * steam
		heat := 0.0
		if p.Holding[i] {
			heat = net.heat(i)
			e := heat / v.latent
			p.boiled[i] += e
			steam += e
			h += v.hBoiling * e
		}
		if steam != 0 {
			p.Steam[i] += steam
			if v.feed {
				h = 0 // what leaves is replaced: latent has the difference
			} else {
				p.Mass[i] -= steam
			}
		}
		if final {
			m.total.Carried += heat + h
			m.total.Stored -= h
			if *d != (drawn{}) {
				m.total.Carried += d.out*net.temperature(waterNode*n+i, true) + d.fixed*dt
			}
		}
	}
	if !final {
		sums := m.look.element[len(m.look.element)-n:]
		for i := range sums {
			sums[i] += net.temperature(elementNode*n+i, false)
		}
	} else {
		m.total.In += m.power * dt
		for i := shellNode * n; i < (shellNode+1)*n; i++ {
			m.lose(i, dt)
		}
		m.lose(kinds*n+lidNode, dt)
		m.lose(kinds*n+pocketNode, dt)
		for _, f := range net.inflows {
			m.total.Carried -= f.g * net.temperature(f.from, true)
		}
	}
	net.at(p.x, s)
	if final {
		for i, t := range p.Water {
			m.total.Stored += m.frozen[i].capacity * (t - net.term[waterNode*n+i])
		}
	}
}

// lose books what node i gave to the room.
func (m *Machine) lose(i int, dt float64) {
	if g := m.par.air[i]; g > 0 {
		m.total.Ambient += g * (m.net.temperature(i, true) - m.par.ambient*dt)
	}
}

// latest bounds the time that a window starts: later, a float64 of seconds
// can't tell events apart well enough.
const latest = 1e8 // s

func checkSpan(t0, dt float64) error {
	if !(dt > 0) || math.IsInf(dt, 0) || !(math.Abs(t0) <= latest) {
		return fmt.Errorf("heat: window: found %g s from %g s, expected a duration above 0 from a time within %g s", dt, t0, latest)
	}
	return nil
}

// checkPieces looks over what a plan returned.
func (m *Machine) checkPieces(t0, dt float64, pieces []Piece) error {
	total := 0.0
	for k := range pieces {
		p := &pieces[k]
		if !(p.Duration >= 0) {
			return fmt.Errorf("heat: window at %g s: piece %d: found a duration of %g s, expected 0 or more", t0, k+1, p.Duration)
		}
		total += p.Duration
		if err := m.checkPowers(&p.Powers); err != nil {
			return fmt.Errorf("heat: window at %g s: piece %d: %w", t0, k+1, err)
		}
	}
	if math.Abs(total-dt) > 1e-9*dt || len(pieces) == 0 {
		return fmt.Errorf("heat: window at %g s: found %d pieces that last %g s, expected %g s", t0, len(pieces), total, dt)
	}
	return nil
}

func (m *Machine) checkPowers(p *Powers) error {
	n := len(m.par.vessels)
	if p.Element != nil && len(p.Element) != n || p.Link != nil && len(p.Link) != n {
		return fmt.Errorf("found powers of %d elements and %d links, expected %d each or none", len(p.Element), len(p.Link), n)
	}
	sum := p.Pocket + p.Upstream // finite only if every power is
	for _, w := range p.Element {
		sum += math.Abs(w)
	}
	for _, w := range p.Link {
		sum += math.Abs(w)
	}
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		return fmt.Errorf("found a power that isn't finite, expected watts")
	}
	if p.Upstream != 0 && !m.par.fitted {
		return fmt.Errorf("found %g W in an upstream link, expected none: the board has none", p.Upstream)
	}
	return nil
}
