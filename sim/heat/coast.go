package heat

import (
	"fmt"
	"math"
)

// Coast takes the longest windows in which the frozen coefficients change
// little.
const (
	maxCoast = 120.0 // s
	coastDT  = 1.0   // K that water may warm or cool
	coastWet = 0.002 // change of the wet fraction
)

// Coast advances the machine from t0 by dt seconds at constant powers, as
// with the controls off, in windows of its own choice: up to two minutes,
// shorter while water changes by more than 1 K or a wet fraction by more than
// 0.002 in one, and ending where a draw changes. It stops early as Window
// does. An error leaves the machine where the last whole window ended.
func (m *Machine) Coast(t0, dt float64, powers Powers) (Report, error) {
	if err := checkSpan(t0, dt); err != nil {
		return Report{}, err
	}
	if err := m.checkPowers(&powers); err != nil {
		return Report{}, fmt.Errorf("heat: from %g s: %w", t0, err)
	}
	m.open(t0)
	start, content := m.total, m.content()
	report := Report{Advanced: dt}
	m.coast[0].Powers = powers
	for done := 0.0; done < dt; {
		m.try.copyFrom(m.now)
		next, _ := m.turn(m.try, t0+done, 0, false)
		left := min(dt-done, next)
		h := min(m.span, left)
		if left < 1.5*h {
			h = left
		}
		m.coast[0].Duration = h
		if err := m.predict(t0+done, h, m.coast[:]); err != nil {
			return Report{}, err
		}
		change := m.change()
		if change > 1 && h > 1e-3 {
			m.span = h / min(max(change, 2), 8) // 2 beats the stretch to the end
			continue
		}
		if change < 0.5 {
			m.span = min(max(m.span, h)*1.5, maxCoast)
		}
		r, err := m.correct(t0+done, h, m.coast[:])
		if err != nil {
			return Report{}, err
		}
		if r.Early {
			report.Advanced, report.Early = done+r.Advanced, true
			break
		}
		if done += h; dt-done < slack {
			break
		}
	}
	report.Events = m.events
	report.Energy = m.total.minus(start)
	report.Energy.Enthalpy = m.content() - content
	return report, nil
}

// change returns how far the predicted window goes, as a fraction of what
// coasting allows.
func (m *Machine) change() float64 {
	far := 0.0
	for i := range m.par.vessels {
		far = max(far, math.Abs(m.try.Water[i]-m.now.Water[i])/coastDT)
		if w := m.par.vessels[i].wetted; w > 0 {
			far = max(far, math.Abs(min(1, m.try.Mass[i]/w)-min(1, m.now.Mass[i]/w))/coastWet)
		}
	}
	return far
}
