package models

import (
	"time"

	q "boilwright/models/quantity"
)

// ControlKind is the law of a channel's controller.
type ControlKind int

// The control laws.
const (
	Hysteresis   ControlKind = iota // on below the band, off above it
	Proportional                    // proportional-integral with burst firing
	FixedDuty                       // open loop
)

func (k ControlKind) String() string {
	return [...]string{"hysteresis", "proportional-integral", "fixed"}[k]
}

// Control is what a channel's controller is set to.
type Control struct {
	Kind     ControlKind
	Enabled  bool
	SetPoint q.Celsius
	Band     q.Kelvin // full width of the hysteresis band about SetPoint
	// Gain (1/K) and Integral time are Kp and Ti of the
	// proportional-integral law; Integral 0 is proportional only.
	Gain     float64
	Integral q.Second
	Duty     q.Ratio // of FixedDuty
	Spread   bool    // cycles spread over the window, not in one run
	Priority int     // lower goes first where channels may not all conduct

	InBand   q.Kelvin  // indicator: half-width that counts as in band
	OverTemp q.Celsius // indicator: over temperature above this
}

// Controller is what all channels share.
type Controller struct {
	// Window is the control window in half-cycles; even.
	Window int
	// Together limits the channels that conduct in the same cycle; 0 is no
	// limit.
	Together int
	// LoseRefused drops a cycle that the limit refused; otherwise it is owed.
	LoseRefused bool
	// Schedule switches heating on and off; empty means on throughout.
	Schedule []OnPeriod
}

// OnPeriod is a time during which the controls are on.
type OnPeriod struct{ From, To time.Duration }

// On reports whether the controls are on at time t.
func (c *Controller) On(t time.Duration) bool {
	if len(c.Schedule) == 0 {
		return true
	}
	for _, p := range c.Schedule {
		if t >= p.From && t < p.To {
			return true
		}
	}
	return false
}

// Protection is what should stop a fault from becoming a hazard.
type Protection struct {
	Residual ResidualDevice
	Fuse     Fuse
}

// ResidualDevice is a residual-current device ahead of the board.
type ResidualDevice struct {
	Fitted    bool
	Rated     q.Ampere // I_Δn
	Threshold q.Ratio  // trips at this fraction of Rated, 0.5 to 1
	TypeAC    bool     // not assured to trip on half-wave residual current
}

// Fuse is the supply fuse.
type Fuse struct {
	Fitted bool
	Rated  q.Ampere
	Melt   q.AmpereSquaredSecond // I²t at which it melts
}
