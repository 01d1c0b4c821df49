package boardfile_test

import (
	"fmt"

	"boilwright/sim/boardfile"
)

func Example() {
	f, err := boardfile.Parse("my.toml", []byte(`
based-on = "dye-bench-230"
name = "a weak triac on dye"

[channel.dye]
triac.latching-current = "120 mA"
`), nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	dye := f.Board.Channels[f.Board.ChannelIndex("dye")]
	fmt.Println(dye.Triac.Latching, dye.Triac.Holding, dye.Control.SetPoint)
	o, _ := f.Origin("channel.dye.triac.latching-current")
	fmt.Println(o.Source, o.File, o.Line)
	// Output:
	// 120 mA 30 mA 85 °C
	// file my.toml 6
}

func ExampleParse_errors() {
	_, err := boardfile.Parse("my.toml", []byte(`based-on = "dye-bench-230"
[supply]
voltage = "230"
[channel.dye]
triac.latching-curent = "40 mA"
triac.holding-current = "50 mA"
`), nil)
	fmt.Println(err)
	// Output:
	// my.toml:3:11: supply.voltage: found a number without a unit in "230", expected a voltage such as 230 V
	// my.toml:5:7: channel.dye.triac.latching-curent: found the unknown key "latching-curent", expected a known key; did you mean latching-current
	// my.toml:6:25: channel.dye.triac.holding-current: found 50 mA, expected less than triac.latching-current, 40 mA
}

func ExampleCheck() {
	b := boardfile.Default()
	b.Channels[0].Element.Resistance = -44
	fmt.Println(boardfile.Check(b))
	// Output:
	// channel.soak.element.resistance: found -44 Ω, expected a resistance above 0 Ω, at most 1 GΩ
}

func ExampleMarshal() {
	f, err := boardfile.Parse("small.toml", []byte(small), nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	f.Board.Channels[0].Snubber.Capacitance = 0
	fmt.Print(string(boardfile.Marshal(f.Board)))
	// Output:
	// [supply]
	// voltage = "230 V"
	// frequency = "50 Hz"
	//
	// [channel.soak.snubber]
	// capacitance = "0 F"
	//
	// [channel.soak.link]
	// functions = "112 °C"
	//
	// [channel.soak.element]
	// resistance = "44.083333333333336 Ω"
	//
	// [channel.soak.boiler]
	// water = "1.2 kg"
	//
	// [channel.soak.control]
	// set-point = "55 °C"
}
