package water_test

import (
	"testing"

	"boilwright/models/water"
)

// BenchmarkFast runs through 20 to 150 degC, as a boiler does.
func BenchmarkFast(b *testing.B) {
	for _, c := range []struct {
		name  string
		scale float64 // argument per degC
		f     func(float64) float64
	}{
		{"function=CP", 1, water.CP},
		{"function=H", 1, water.H},
		{"function=HAndCP", 1, func(tC float64) float64 { h, cp := water.HAndCP(tC); return h + cp }},
		{"function=Hfg", 1, water.Hfg},
		{"function=TemperatureOfH", 4200, water.TemperatureOfH},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			tC := 20.0
			for b.Loop() {
				c.f(tC * c.scale)
				if tC += 0.001; tC > 150 {
					tC = 20
				}
			}
		})
	}
}

func BenchmarkFormulas(b *testing.B) {
	for _, c := range []struct {
		name  string
		scale float64
		f     func(float64) (float64, error)
	}{
		{"function=SaturationPressure", 1, water.SaturationPressure},
		{"function=SaturationTemperature", 1000, water.SaturationTemperature},
		{"function=LatentHeat", 1, water.LatentHeat},
		{"function=EnthalpyIntegral", 1, water.EnthalpyIntegral},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			tC := 20.0
			for b.Loop() {
				if _, err := c.f(tC * c.scale); err != nil {
					b.Fatal(err)
				}
				if tC += 0.001; tC > 150 {
					tC = 20
				}
			}
		})
	}
}
