package water_test

import (
	"errors"
	"fmt"

	"boilwright/models/water"
)

// How long does an element take to warm a boiler, and how much power does it
// take to make steam in it? Losses are left out.
func Example() {
	const mass, power = 2.0, 1500.0 // kg, W

	heat := mass * (water.H(85) - water.H(15))
	fmt.Printf("15 to 85 degC: %.1f kJ, %.0f s\n", heat/1e3, heat/power)

	perKilogram := water.H(118) - water.H(15) + water.Hfg(118)
	fmt.Printf("1 g/s of steam at 118 degC: %.0f W\n", 1e-3*perKilogram)
	// Output:
	// 15 to 85 degC: 585.8 kJ, 391 s
	// 1 g/s of steam at 118 degC: 2640 W
}

// A relief valve is set by its gauge pressure; the ambient pressure, less at
// altitude, comes on top.
func ExampleSaturationTemperature() {
	for _, ambient := range []float64{101325, 79495} { // sea level; 2000 m
		open, err := water.SaturationTemperature(ambient)
		if err != nil {
			fmt.Println(err)
			return
		}
		relief, err := water.SaturationTemperature(ambient + 2e5)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("at %.1f kPa an open vat boils at %.2f degC, a 2 bar relief valve lifts at %.2f degC\n",
			ambient/1e3, open, relief)
	}
	// Output:
	// at 101.3 kPa an open vat boils at 99.97 degC, a 2 bar relief valve lifts at 133.68 degC
	// at 79.5 kPa an open vat boils at 93.32 degC, a 2 bar relief valve lifts at 131.13 degC
}

// A temperature that the formulation doesn't cover is an error, never a NaN.
func ExampleSaturationPressure_outOfRange() {
	_, err := water.SaturationPressure(-5)
	fmt.Println(err)
	fmt.Println(errors.Is(err, water.ErrRange))
	// Output:
	// temperature -5 degC is outside 0 to 373.946 degC of IAPWS-IF97
	// true
}

// Two boilers' contents mix: H and its inverse give the temperature.
func ExampleTemperatureOfH() {
	const cold, hot = 0.4, 1.6 // kg
	mixed := (cold*water.H(15) + hot*water.H(85)) / (cold + hot)
	fmt.Printf("%.2f degC\n", water.TemperatureOfH(mixed))
	// Output:
	// 71.03 degC
}
