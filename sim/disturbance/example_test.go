package disturbance_test

import (
	"context"
	"fmt"
	"time"

	"boilwright/models"
	"boilwright/sim"
	"boilwright/sim/boardfile"
	"boilwright/sim/disturbance"
)

// What the demonstration board does to its supply when all three channels are
// on for 0.3 s of every second: the lamps beside it flicker far beyond the
// limit, while no harmonic comes near its own.
func Example() {
	b := boardfile.Default()
	for k := range b.Channels {
		c := &b.Channels[k].Control
		c.Kind, c.Duty = models.FixedDuty, 0.3
	}
	a, err := disturbance.Assess(context.Background(), b, sim.Options{Duration: 10 * time.Minute})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(a)
	for _, c := range a.Checks() {
		verdict := "met"
		if !c.Met() {
			verdict = "not met"
		}
		fmt.Printf("%-52s %6.2f of %4.2f %-2s %s\n", c.What, c.Value, c.Limit, c.Unit, verdict)
	}
	// Output:
	// d_max 2.73 %, d_c 0.00 %, 119.8 changes a minute, P_st up to 3.95
	// greatest voltage change d_max                          2.73 of 4.00 %  met
	// steady voltage change d_c                              0.00 of 3.30 %  met
	// time beyond 3.3 %                                      0.00 of 0.50 s  met
	// short-term flicker severity P_st                       3.95 of 1.00    not met
	// current harmonic 39 with soak+dye+steam driven         0.01 of 0.06 A  met
	// voltage harmonic 21 with soak+dye+steam driven         0.02 of 0.50 %  met
	// maximum of current harmonic group 2                    0.95 of 1.62 A  met
}

// A meter by itself: a heater that lowers the voltage by 1 % for half of every
// second.
func ExampleFlickermeter() {
	m, err := disturbance.NewHalfCycleMeter(disturbance.System{Lamp: disturbance.Lamp230, Frequency: 50}, 230)
	if err != nil {
		fmt.Println(err)
		return
	}
	for h := range 10 * 60 * 100 {
		v := 230.0
		if h%100 < 50 {
			v *= 0.99
		}
		m.Feed(v)
	}
	fmt.Printf("P_st %.2f\n", m.Pst())
	// Output:
	// P_st 1.42
}
