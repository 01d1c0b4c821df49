package faults

import "math"

// nothing is the resistance in ohms at which an added path begins: at mains
// voltage it carries less than a microampere.
const nothing = 1e9

// path returns the resistance in ohms of an added path at severity s in
// (0, 1]: its conductance is interpolated geometrically between that of
// [nothing] and that of the full path,
//
//	R(s) = nothing^(1 − s) · full^s
//
// so that equal steps of severity multiply the leak current equally. It is
// exactly full at s = 1.
func path(full, s float64) float64 { return geometric(nothing, full, s) }

// geometric interpolates between two positive values, healthy at s = 0 and
// full at s = 1, both exactly.
//
//	healthy^(1 − s) · full^s
func geometric(healthy, full, s float64) float64 {
	switch s {
	case 0:
		return healthy
	case 1:
		return full
	}
	return math.Exp((1-s)*math.Log(healthy) + s*math.Log(full))
}

// linear interpolates between healthy at s = 0 and full at s = 1, both
// exactly.
//
//	healthy + s·(full − healthy)
func linear(healthy, full, s float64) float64 {
	switch s {
	case 0:
		return healthy
	case 1:
		return full
	}
	return healthy + s*(full-healthy)
}

// scaled multiplies a value by a factor in proportion to the severity.
//
//	v · factor^s
func scaled(v, factor, s float64) float64 { return v * math.Pow(factor, s) }
