package quantity

import (
	"math"
	"strconv"
	"strings"
)

// Format prints the value v, in the SI unit of d, with an engineering prefix
// and the fewest digits that Parse reads back as the same float64: "1.5 kΩ".
// +Inf prints as open for a resistance and infinite elsewhere.
func Format(d Dimension, v float64) string { return format(d, v, 0) }

// FormatDigits prints v with n significant digits, at least one, trailing
// zeros kept: "230.0 V" for 4.
func FormatDigits(d Dimension, v float64, n int) string { return format(d, v, max(1, n)) }

// Digits prints x with n significant digits: Digits(Ohm(1499.6), 3) is
// "1.50 kΩ".
func Digits[Q Quantity](x Q, n int) string { return FormatDigits(x.Dimension(), float64(x), n) }

// format prints with n significant digits, or the fewest where n is 0.
func format(d Dimension, v float64, n int) string {
	if !d.valid() {
		return strconv.FormatFloat(v, 'g', -1, 64) + " (unknown dimension)"
	}
	dim := &dimensions[d]
	switch {
	case math.IsNaN(v):
		return "NaN"
	case math.IsInf(v, 1):
		if d == Resistance {
			return "open"
		}
		return "infinite"
	case math.IsInf(v, -1):
		return "-infinite"
	}
	sign := ""
	if math.Signbit(v) {
		sign, v = "-", -v
	}
	// d.ddde±xx: the digits and the exponent of the first.
	decimals := -1
	if n > 0 {
		decimals = n - 1
	}
	text := strconv.FormatFloat(v, 'e', decimals, 64)
	mantissa, exponent, _ := strings.Cut(text, "e")
	exp, _ := strconv.Atoi(exponent)
	sig := strings.Replace(mantissa, ".", "", 1)

	r := dim.rung(v, exp)
	point := exp - r.exp // position of the last integer digit
	var number string
	if point < -4 || point > dim.widest() {
		// Too long to read: scientific, in the base unit.
		r = rung{symbol: dim.base}
		number = mantissa + "e" + strconv.Itoa(exp)
	} else {
		number = place(sig, point)
	}
	if r.symbol == "" || dim.tight {
		return sign + number + r.symbol
	}
	return sign + number + " " + r.symbol
}

// rung picks the unit to print a value whose first digit has exponent exp.
func (d *dimension) rung(v float64, exp int) rung {
	if v == 0 {
		return rung{symbol: d.base}
	}
	r := d.ladder[0]
	for _, next := range d.ladder[1:] {
		if exp >= next.from {
			r = next
		}
	}
	return r
}

// widest is the largest exponent that prints as a plain number on the top
// rung: six digits where larger prefixes exist, nine where none do.
func (d *dimension) widest() int {
	if len(d.ladder) == 1 {
		return 9
	}
	return 6
}

// place writes significant digits with the decimal point after digit 1+point.
func place(sig string, point int) string {
	switch {
	case point < 0:
		return "0." + strings.Repeat("0", -point-1) + sig
	case point+1 >= len(sig):
		return sig + strings.Repeat("0", point+1-len(sig))
	}
	return sig[:point+1] + "." + sig[point+1:]
}
