package sim_test

import (
	"context"
	"fmt"
	"time"

	"boilwright/faults"
	"boilwright/sim"
	"boilwright/sim/boardfile"
)

// The demonstration board warms up for a minute.
func ExampleRun() {
	b := boardfile.Default()
	r, err := sim.Run(context.Background(), b, sim.Options{Duration: time.Minute, Every: 20 * time.Second})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range r.Samples {
		fmt.Printf("%4.0f s  %4.0f W", s.Time.Seconds(), s.Power)
		for k, c := range s.Channels {
			fmt.Printf("  %s %.1f °C", b.Channels[k].Name, c.Water)
		}
		fmt.Println()
	}
	fmt.Printf("%.4g kJ through the plug, %s\n", r.Supply.Plug/1000, r.Status)
	// Output:
	//    0 s     0 W  soak 20.0 °C  dye 20.0 °C  steam 20.0 °C
	//   20 s  3463 W  soak 22.7 °C  dye 22.1 °C  steam 22.7 °C
	//   40 s  3451 W  soak 26.6 °C  dye 25.1 °C  steam 26.5 °C
	//   60 s  3448 W  soak 30.6 °C  dye 28.2 °C  steam 30.4 °C
	// 207.2 kJ through the plug, completed
}

// A fault is something that changes the board while it runs: here an opto
// output begins to conduct in one polarity with the controls off.
func ExampleRun_fault() {
	b := boardfile.Default()
	for k := range b.Channels {
		b.Channels[k].Control.Enabled = false
	}
	fault, err := faults.Parse("dye:opto-one-way,from=30 s", []string{"soak", "dye", "steam"})
	if err != nil {
		fmt.Println(err)
		return
	}
	edits, err := faults.Set{fault}.Start(1)
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := sim.Run(context.Background(), b, sim.Options{Duration: time.Minute, Every: 10 * time.Second, Edits: edits})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range r.Samples {
		fmt.Printf("%2.0f s  dye takes %4.0f W\n", s.Time.Seconds(), s.Channels[1].Power)
	}
	for _, e := range r.Events {
		fmt.Println(e)
	}
	// Output:
	//  0 s  dye takes    0 W
	// 10 s  dye takes    0 W
	// 20 s  dye takes    0 W
	// 30 s  dye takes    0 W
	// 40 s  dye takes  724 W
	// 50 s  dye takes  722 W
	// 60 s  dye takes  722 W
	// 30s board changed
}
