package command

import (
	"slices"
	"testing"
)

func TestStandbyLevel(t *testing.T) {
	repeat := slices.Repeat[[]float64]
	for name, c := range map[string]struct {
		values []float64
		want   float64
		of     int
	}{
		"steady":                      {repeat([]float64{390}, 20), 390, 20},
		"nothing, one digit flickers": {append(repeat([]float64{0}, 15), 1, 1, 1), 0, 18},
		"comes and goes":              {append(repeat([]float64{0.4}, 160), repeat([]float64{1480}, 40)...), 1480, 40},
		"most of the time":            {append(repeat([]float64{0.4}, 40), repeat([]float64{1480}, 160)...), 1480, 200},
		"on its way between levels":   {append(append(repeat([]float64{0}, 90), 300, 700), repeat([]float64{1500}, 8)...), 1500, 8},
		"a single spike":              {append(repeat([]float64{0}, 99), 1500), 0, 100},
		"one value":                   {[]float64{7}, 7, 1},
	} {
		if v, of := standbyLevel(c.values, leastWatts); v != c.want || of != c.of {
			t.Errorf("%s: found %v in %d values, expected %v in %d", name, v, of, c.want, c.of)
		}
	}
}
