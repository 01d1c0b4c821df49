package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Error tells why a text is no quantity.
type Error struct {
	Input    string // the whole text
	Found    string // what was found: `the unit "kF"`
	Expected string // what was expected: "a resistance such as 1.5 kΩ"
}

func (e *Error) Error() string {
	return fmt.Sprintf("%q: found %s, expected %s", clip(e.Input), e.Found, e.Expected)
}

const (
	maxInput    = 128 // bytes of a written quantity
	maxExponent = 400 // decimal exponents beyond are out of range of a float64
)

// Parse reads a written quantity of dimension d and returns its value in the
// SI unit of d ([Dimension.Unit]; °C for temperatures). +Inf comes only from
// the words that d has for it ([Dimension.Words]); NaN never. An inductance
// may also be written as a reactance at a frequency: "0.15 Ω at 50 Hz". The
// error is an [*Error].
func Parse(d Dimension, text string) (float64, error) {
	if !d.valid() {
		return 0, &Error{text, d.String(), "one of the dimensions of this package"}
	}
	if d == Inductance {
		if x, f, ok := strings.Cut(text, " at "); ok {
			return parseReactance(text, x, f)
		}
	}
	dim := &dimensions[d]
	fail := func(found string) (float64, error) {
		return 0, &Error{text, found, d.Expected()}
	}
	if len(text) > maxInput {
		return fail(fmt.Sprintf("%d bytes of text", len(text)))
	}
	s := strings.TrimFunc(text, space)
	if s == "" {
		return fail("nothing")
	}
	if v, ok := dim.words[s]; ok {
		return v, nil
	}
	n := scan(s)
	if n.mantissa == "" {
		return fail(fmt.Sprintf("%q", clip(s)))
	}
	u, ok := dim.units[canonical(n.rest)]
	switch {
	case ok:
	case n.rest == "":
		return fail("a number without a unit")
	case n.rest[0] == ',':
		return 0, &Error{text, "a comma", "a decimal point, as in " + dim.example}
	default:
		if other, ok := dimensionOf(n.rest); ok {
			return fail(article(other.String()))
		}
		return fail(fmt.Sprintf("the unit %q", clip(n.rest)))
	}
	return n.value(text, u)
}

// dimensionOf returns the first dimension that has the unit.
func dimensionOf(unit string) (Dimension, bool) {
	for d := range dimensions {
		if _, ok := dimensions[d].units[canonical(unit)]; ok {
			return Dimension(d), true
		}
	}
	return 0, false
}

// As reads a written quantity of the type Q: As[Ohm]("1.5 kΩ").
func As[Q Quantity](text string) (Q, error) {
	var zero Q
	v, err := Parse(zero.Dimension(), text)
	return Q(v), err
}

// number is a scanned decimal number and what follows it.
type number struct {
	mantissa string // sign, digits, point; empty when there is no number
	exponent int
	rest     string // without spaces at either end
}

// scan splits s into a number and the rest: [+-−]digits[.digits][e[+-]digits].
func scan(s string) number {
	var n number
	sign := ""
	if t, ok := strings.CutPrefix(s, "\u2212"); ok { // minus sign
		sign, s = "-", t
	} else if s[0] == '-' || s[0] == '+' {
		sign, s = s[:1], s[1:]
	}
	i := digits(s)
	if i == 0 {
		return number{rest: s}
	}
	if i < len(s) && s[i] == '.' {
		k := digits(s[i+1:])
		if k == 0 {
			return number{rest: s}
		}
		i += 1 + k
	}
	n.mantissa = sign + s[:i]
	s = s[i:]
	if len(s) > 1 && (s[0] == 'e' || s[0] == 'E') {
		j := 1
		if s[j] == '+' || s[j] == '-' {
			j++
		}
		if k := digits(s[j:]); k > 0 {
			e, err := strconv.Atoi(s[1 : j+k])
			if err != nil { // more digits than an int holds
				e = math.MaxInt32
				if s[1] == '-' {
					e = -e
				}
			}
			n.exponent, s = e, s[j+k:]
		}
	}
	n.rest = strings.TrimFunc(s, space)
	return n
}

func digits(s string) int {
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	return i
}

// value is the number in the SI unit, rounded once.
func (n number) value(text string, u unit) (float64, error) {
	exp := max(-2*maxExponent, min(n.exponent+u.exp, 2*maxExponent))
	var v float64
	if u.num == 0 {
		v, _ = strconv.ParseFloat(n.mantissa+"e"+strconv.Itoa(exp), 64)
	} else {
		v = u.exact(n.mantissa, exp)
	}
	if math.IsInf(v, 0) {
		return 0, &Error{text, "a number too large", "at most 1.8e308 in the base unit"}
	}
	if v == 0 && strings.ContainsAny(n.mantissa, "123456789") && u.offset == 0 {
		return 0, &Error{text, "a number too small", "0 or at least 4.9e-324 in the base unit"}
	}
	return v, nil
}

// clip shortens a text for an error message.
func clip(s string) string {
	const most = 60
	if len(s) <= most {
		return s
	}
	cut := most
	for cut > 0 && s[cut]&0xc0 == 0x80 { // inside a character
		cut--
	}
	return s[:cut] + "…"
}

func marshal(d Dimension, v float64) ([]byte, error) {
	s := Format(d, v)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		if w, ok := dimensions[d].words[s]; !ok || w != v {
			return nil, &Error{s, s, d.Expected()}
		}
	}
	return []byte(s), nil
}

func unmarshal(to *float64, d Dimension, b []byte) error {
	v, err := Parse(d, string(b))
	if err != nil {
		return err
	}
	*to = v
	return nil
}
