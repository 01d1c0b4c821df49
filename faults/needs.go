package faults

import (
	"math"

	"boilwright/models"
)

// What a healthy board must have for a fault to mean something.

func needsSnubber(b *models.Board, ch int) error {
	if !b.Channels[ch].Snubber.Fitted() {
		return &FieldError{"board", "no snubber", "one"}
	}
	return nil
}

func needsWindow(b *models.Board, ch int) error {
	if math.IsInf(float64(b.Channels[ch].Opto.Inhibit), 1) {
		return &FieldError{"board", "an opto that fires at any angle", "one with a zero-cross window"}
	}
	return nil
}

func needsUpstreamLink(b *models.Board, _ int) error {
	if b.Upstream == nil {
		return &FieldError{"board", "no link ahead of the channels", "one"}
	}
	return nil
}

func needsThermostat(b *models.Board, ch int) error {
	if !b.Channels[ch].Thermostat.Fitted {
		return &FieldError{"board", "no thermostat", "one on the boiler of the channel"}
	}
	return nil
}
