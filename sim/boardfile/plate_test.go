package boardfile_test

import (
	"math"
	"strings"
	"testing"

	"boilwright/sim/boardfile"
)

// A plate's board has what the plate says, and its note what was assumed.
func TestPlate(t *testing.T) {
	p := boardfile.Plate{Name: `bench "B"`, Supply: 120, Frequency: 60, Channels: []boardfile.PlateChannel{
		{Name: "dye", Power: 1500, Water: 2, SetPoint: 85},
		{Name: "steam", Resistance: 14.4, Water: 1, SetPoint: 118, Link: 130},
	}}
	text, assumed, err := p.Text()
	if err != nil {
		t.Fatal(err)
	}
	f, err := boardfile.Parse("plate", text, nil)
	if err != nil {
		t.Fatal(err)
	}
	b := f.Board
	if b.Name != p.Name || b.Supply.Voltage != 120 || b.Supply.Frequency != 60 || len(b.Channels) != 2 {
		t.Errorf("found %q on %v, %v with %d channels", b.Name, b.Supply.Voltage, b.Supply.Frequency, len(b.Channels))
	}
	// Ohm's law: R = V²/P.
	if r := float64(b.Channels[0].Element.Resistance); math.Abs(r-120*120/1500.0) > 1e-9 {
		t.Errorf("found %g Ω, expected 9.6 Ω", r)
	}
	if c := b.Channels[1]; c.Element.Resistance != 14.4 || c.Boiler.Water != 1 || c.Control.SetPoint != 118 || c.Link.Functions != 130 || !c.Boiler.Feed {
		t.Errorf("found %v, %v, %v, %v, feed %t", c.Element.Resistance, c.Boiler.Water, c.Control.SetPoint, c.Link.Functions, c.Boiler.Feed)
	}
	if !strings.HasPrefix(b.Note, boardfile.PlateNote) {
		t.Errorf("found note %q", b.Note)
	}
	for _, a := range assumed {
		if !strings.Contains(b.Note, a) {
			t.Errorf("%q: expected it in the note", a)
		}
	}
	if !strings.Contains(b.Note, "dye: a thermal link that opens at 115 °C") || strings.Contains(b.Note, "steam: a thermal link") {
		t.Errorf("found note %q, expected the link of dye among what was assumed", b.Note)
	}
}

// What a board file cannot hold is told by it.
func TestPlateBad(t *testing.T) {
	good := boardfile.PlateChannel{Name: "dye", Power: 1500, Water: 2, SetPoint: 85}
	for want, change := range map[string]func(p *boardfile.Plate){
		"supply.voltage":    func(p *boardfile.Plate) { p.Supply = 400 },
		"second definition": func(p *boardfile.Plate) { p.Channels = append(p.Channels, good) },
		"lower-case":        func(p *boardfile.Plate) { p.Channels[0].Name = "Dye 1" },
		"no channel":        func(p *boardfile.Plate) { p.Channels = nil },
		"set-point":         func(p *boardfile.Plate) { p.Channels[0].SetPoint = 9000 },
	} {
		p := boardfile.Plate{Supply: 230, Frequency: 50, Channels: []boardfile.PlateChannel{good}}
		change(&p)
		if _, _, err := p.Text(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("found %v, expected %q", err, want)
		}
	}
}
