package quantity

import (
	"math/big"
	"strings"
)

// unit says what one unit is in the SI unit of its dimension:
// num/den·10^exp·x + offset. Where num is 0 it is a power of ten alone.
type unit struct {
	exp      int
	num, den int64
	offset   int64
}

// entry is a unit with one of its spellings.
type entry struct {
	name  string
	unit  unit
	print bool // a rung of the ladder for printing
}

type table []entry

// standardAtmosphere in pascals is what a gauge pressure is added to (defined
// by the 10th General Conference on Weights and Measures, 1954).
const standardAtmosphere = 101325

// prefixes are the SI prefixes in use; the space is none.
var prefixes = map[rune]int{
	'f': -15, 'p': -12, 'n': -9, 'µ': -6, 'm': -3, ' ': 0, 'h': 2, 'k': 3, 'M': 6, 'G': 9, 'T': 12,
}

// prefixed gives a symbol with each of the prefixes.
func prefixed(symbol, with string) table {
	var t table
	for _, p := range with {
		exp := prefixes[p]
		name := strings.TrimSpace(string(p)) + symbol
		t = append(t, entry{name, unit{exp: exp}, exp%3 == 0})
		if p == 'µ' {
			t = append(t, entry{"u" + symbol, unit{exp: exp}, false})
		}
	}
	return t
}

// plain gives one spelling of a power of ten.
func plain(name string, exp int) table {
	return table{{name, unit{exp: exp}, exp == 0}}
}

// scaled gives one spelling of num/den·10^exp.
func scaled(name string, exp int, num, den int64) table {
	return table{{name, unit{exp: exp, num: num, den: den}, false}}
}

// gauge gives the spellings of a pressure above the standard atmosphere.
func gauge(name string, exp int) table {
	u := unit{exp: exp, num: 1, den: 1, offset: standardAtmosphere}
	return table{{name + "(g)", u, false}, {name + " (g)", u, false}, {name + " gauge", u, false}}
}

// canonical maps the spellings of a unit that look alike onto one: the two
// micro signs and the two ohm signs; runs of spaces become one.
var canonicalRunes = strings.NewReplacer(
	"\u03bc", "\u00b5", // Greek small letter mu
	"\u2126", "\u03a9", // ohm sign
)

func canonical(name string) string {
	return strings.Join(strings.FieldsFunc(canonicalRunes.Replace(name), space), " ")
}

// space reports whether r is one of the spaces that people and word
// processors put between a number and its unit.
func space(r rune) bool {
	switch r {
	case ' ', '\t', '\u00a0', '\u2007', '\u2009', '\u202f':
		return true
	}
	return false
}

// exact returns num/den·mantissa·10^exp + offset rounded once. The mantissa
// is a decimal number without exponent; abs(exp) is at most maxExponent.
func (u unit) exact(mantissa string, exp int) float64 {
	r, ok := new(big.Rat).SetString(mantissa)
	if !ok {
		return 0
	}
	power := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(abs(exp))), nil)
	scale := new(big.Rat).SetInt(power)
	if exp < 0 {
		scale.Inv(scale)
	}
	r.Mul(r, scale)
	r.Mul(r, big.NewRat(u.num, u.den))
	r.Add(r, new(big.Rat).SetInt64(u.offset))
	f, _ := r.Float64()
	return f
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}
