package faults_test

import (
	"fmt"
	"time"

	"boilwright/faults"
	"boilwright/models"
)

// twoChannels is an invented board, as far as the examples need one.
func twoChannels() *models.Board {
	b := &models.Board{Channels: []models.Channel{{Name: "soak"}, {Name: "dye"}}}
	for i := range b.Channels {
		b.Channels[i].Triac = models.Triac{Threshold: 0.9, Slope: 0.025}
	}
	return b
}

// Read faults as they are written at the command line, start a run, and edit
// a copy of the healthy board whenever the version has changed.
func Example() {
	healthy := twoChannels()
	set, err := faults.ParseSet([]string{
		"dye:triac-one-way,polarity=negative,from=25 min",
		"soak:link-open,link-above=126 °C",
	}, []string{"soak", "dye"})
	if err != nil {
		fmt.Println(err)
		return
	}
	run, err := set.Start(1)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, at := range []struct {
		minutes time.Duration
		link    float64 // °C, of soak
	}{{0, 20}, {25, 60}, {40, 130}, {50, 90}} {
		m := models.Moment{Time: at.minutes * time.Minute, Link: []float64{at.link, 20}}
		version, _ := run.Version(m)
		b := healthy.Clone()
		if err := run.Edit(b, m); err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%2d min: version %d, extra paths %d, link open %v\n", at.minutes, version, len(b.Bridges), b.Channels[0].Link.Open)
	}
	// Output:
	//  0 min: version 0, extra paths 0, link open false
	// 25 min: version 2, extra paths 1, link open false
	// 40 min: version 3, extra paths 1, link open true
	// 50 min: version 3, extra paths 1, link open true
}

// A mistyped fault is answered with the nearest one and with where it is.
func ExampleParse_mistake() {
	_, err := faults.Parse("dye:triac-shortet,resistance=20 mΩ", []string{"soak", "dye"})
	fmt.Println(err)
	// Output:
	// fault "dye:triac-shortet,resistance=20 mΩ", position 5: found "triac-shortet", expected a fault of the catalogue; did you mean triac-shorted?
}

// What to do about a suspect: unplugged tests come first, and a live one has
// the caution beside it.
func ExampleFind() {
	f, _ := faults.Find("opto-open")
	for _, s := range f.Separates {
		kind := "unplugged"
		if s.Live {
			kind = "live"
		}
		fmt.Printf("%s: %s\n", kind, s.Do)
		if s.Live {
			fmt.Println(f.Danger)
			fmt.Println(faults.Caution[:70] + "…")
		}
	}
	// Output:
	// unplugged: Diode test across the LED: a junction, as healthy. Resistance of the gate resistor and diode test from gate to MT1: right values leave the opto's output.
	// unplugged: Exchange the optos of two channels: trouble that moves with the opto is the opto's.
	// live: LED current normal with the drive on, and no heating.
	// The board is live in standby.
	// live tests only by someone competent and, where local rules ask for it…
}

// The board as it is when everything has happened, for readings of a fault
// without its history.
func ExampleSet_Applied() {
	set := faults.Set{
		faults.New("triac-shorted", 1).With("resistance", 0.5),
		faults.New("opto-dead", 0),
	}
	b, err := set.Applied(twoChannels())
	if err != nil {
		fmt.Println(err)
		return
	}
	p := b.Bridges[0]
	fmt.Println(p.From, p.To, p.Resistance)
	fmt.Println(b.Channels[0].Opto.LEDSlope)
	// Output:
	// out2 rail 500 mΩ
	// open
}

// A film left wet dries by itself, and with it goes what it conducts.
func ExampleRun_Wetness() {
	set, err := faults.ParseSet([]string{"dye:film-earth,resistance=20 kΩ,dries=10 min,wet=100 %,exponent=2"}, []string{"soak", "dye"})
	if err != nil {
		fmt.Println(err)
		return
	}
	run, err := set.Start(1)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, minutes := range []time.Duration{0, 10, 20, 60} {
		m := models.Moment{Time: minutes * time.Minute}
		b := twoChannels()
		if err := run.Edit(b, m); err != nil {
			fmt.Println(err)
			return
		}
		film := "none"
		if len(b.Bridges) > 0 {
			film = fmt.Sprintf("%.0f kΩ", float64(b.Bridges[0].Resistance)/1e3)
		}
		fmt.Printf("%2d min: wetness %.3f, film %s\n", minutes, run.Wetness(m)[0], film)
	}
	// Output:
	//  0 min: wetness 1.000, film 20 kΩ
	// 10 min: wetness 0.368, film 142 kΩ
	// 20 min: wetness 0.135, film 1011 kΩ
	// 60 min: wetness 0.002, film none
}
