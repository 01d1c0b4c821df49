//go:build !amd64

package circuit

func contractLanes(out, forms, m []float64) { contractPlain(out, forms, m) }

func dotsWide(out, m, x []float64) { dotsPlain(out, m, x) }
