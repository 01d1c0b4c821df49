package models

import (
	"time"

	q "boilwright/models/quantity"
)

// Boiler is the vessel of one channel with its water.
type Boiler struct {
	Open bool // an open vat at ambient pressure; otherwise closed

	Water  q.Kilogram // mass at the start
	Wetted q.Kilogram // m_min: below it the element begins to lie dry
	Floor  q.Kilogram // mass at which the boiler counts as dry
	Start  q.Celsius  // temperature of water, shell, element, probe, link at the start
	Scale  q.Ratio    // divides ElementToWater [1]
	Feed   bool       // steam and boiled water are replaced from Inlet
	Inlet  q.Celsius  // cold supply [15 °C]

	ElementToWater q.WattPerKelvin  // G_ew
	ElementToShell q.WattPerKelvin  // G_es0, for the dry part of the element
	WaterToShell   q.WattPerKelvin  // G_ws
	ShellToLid     q.WattPerKelvin  // G_sk
	ShellToAir     q.WattPerKelvin  // G_sa
	ShellCapacity  q.JoulePerKelvin // C_s

	// Relief and Reseat are absolute pressures of the relief valve of a
	// closed boiler; it holds saturation at Relief and closes at Reseat.
	Relief q.Pascal
	Reseat q.Pascal

	Draws []Draw
}

// Draw is water or steam taken from a boiler for a time.
type Draw struct {
	From, To time.Duration
	// Every repeats the draw with this period; 0 is once.
	Every time.Duration
	Flow  q.KilogramPerSecond
	Steam bool
	// Refill names the inlet of a water draw: -1 is the cold supply at
	// Boiler.Inlet, otherwise the channel whose water flows in and which is
	// then drawn in turn.
	Refill int
}

// Active reports whether the draw runs at time t, and when it next changes.
// A zero next means never again.
func (d Draw) Active(t time.Duration) (active bool, next time.Duration) {
	if t < d.From {
		return false, d.From
	}
	length := d.To - d.From
	if d.Every <= 0 {
		if t < d.To {
			return true, d.To
		}
		return false, 0
	}
	k := (t - d.From) / d.Every
	start := d.From + k*d.Every
	if t < start+length {
		return true, start + length
	}
	return false, start + d.Every
}

// Lid is the one lid over all boilers.
type Lid struct {
	Capacity q.JoulePerKelvin // C_k
	ToPocket q.WattPerKelvin  // G_kb
	ToAir    q.WattPerKelvin  // G_ka
	Start    q.Celsius
}

// Pocket is the air and structure around the circuit board.
type Pocket struct {
	Capacity q.JoulePerKelvin // C_b
	ToAir    q.WattPerKelvin  // G_ba
	Start    q.Celsius
}
