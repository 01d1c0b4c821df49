package quantity

import (
	"regexp"
	"strings"
)

const (
	spacePattern  = "[ \\t\u00a0\u2007\u2009\u202f]*"
	numberPattern = `[0-9]+(\.[0-9]+)?`
)

// Pattern returns a regular expression that every text matches which Parse
// takes for d, and few others: right number, right unit. It is written in the
// subset common to Go and ECMA-262, for schemas and input forms.
func Pattern(d Dimension) string {
	dim := &dimensions[d]
	p := written(dim)
	for _, w := range d.Words() {
		p += "|" + w
	}
	if d == Inductance {
		p += "|" + written(&dimensions[Resistance]) + " at " + written(&dimensions[Frequency])
	}
	return "^" + spacePattern + "(" + p + ")" + spacePattern + "$"
}

// RatingPattern is the Pattern of what ParseRating takes.
func RatingPattern() string {
	return "^" + written(&dimensions[Power]) + " at " + written(&dimensions[Voltage]) + "$"
}

// DurationPattern is the Pattern of what ParseDuration takes.
func DurationPattern() string {
	one := numberPattern + spacePattern + "(h|min|s|ms|[uµ\u03bc]s|ns)"
	return "^" + spacePattern + "(-" + spacePattern + ")?" + one + "(" + spacePattern + one + ")*" + spacePattern + "$"
}

// written is the pattern of a number with one of the units of d.
func written(d *dimension) string {
	units := make([]string, len(d.names))
	for i, n := range d.names {
		n = regexp.QuoteMeta(n)
		n = strings.ReplaceAll(n, "µ", "[µ\u03bc]")
		units[i] = strings.ReplaceAll(n, "Ω", "[Ω\u2126]")
	}
	return "[-+\u2212]?" + numberPattern + "([eE][-+]?[0-9]+)?" + spacePattern + "(" + strings.Join(units, "|") + ")" + spacePattern
}
