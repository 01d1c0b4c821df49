package models

import "time"

// Moment is what a running machine shows at one instant: what the onset and
// the course of a change may depend on. Temperatures in °C, slices by
// channel.
type Moment struct {
	Time      time.Duration
	HalfCycle int64 // half-cycles since the start

	Element, Water, Shell, Link, Junction []float64
	Lid, Pocket                           float64
	AmbientPressure                       float64 // Pa absolute; 0 where it is not told
	// Cycles counts the half-cycles in which each channel's drive was on.
	Cycles []int64
	// GatePower is the mean power in watts of each channel's gate resistor
	// over the last control window.
	GatePower []float64
}
