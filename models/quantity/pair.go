package quantity

import (
	"fmt"
	"math"
	"strings"
)

// Two quantities joined by "at" name a third.

// parseReactance reads an inductance written as a reactance at a frequency.
//
//	L = X/(2πf)
func parseReactance(text, x, f string) (float64, error) {
	expected := Inductance.Expected()
	ohms, err := Parse(Resistance, x)
	if err == nil && math.IsInf(ohms, 1) {
		err = &Error{x, x, expected}
	}
	if err != nil {
		return 0, within(text, err, expected)
	}
	hertz, err := Parse(Frequency, f)
	if err != nil {
		return 0, within(text, err, expected)
	}
	if hertz <= 0 {
		return 0, &Error{text, "a frequency of " + Format(Frequency, hertz), "a frequency above 0 Hz"}
	}
	l := ohms / (2 * math.Pi * hertz)
	if math.IsInf(l, 0) {
		return 0, &Error{text, "a number too large", expected}
	}
	return l, nil
}

// ParseRating reads the rating of a resistive load, "1200 W at 230 V".
func ParseRating(text string) (Watt, Volt, error) {
	const expected = "a power at a voltage such as 1200 W at 230 V"
	p, u, ok := strings.Cut(text, " at ")
	if !ok {
		return 0, 0, &Error{text, fmt.Sprintf("%q", clip(text)), expected}
	}
	power, err := As[Watt](p)
	if err != nil {
		return 0, 0, within(text, err, expected)
	}
	voltage, err := As[Volt](u)
	if err == nil && math.IsInf(float64(voltage), 0) {
		err = &Error{u, u, expected}
	}
	if err != nil {
		return 0, 0, within(text, err, expected)
	}
	return power, voltage, nil
}

// within widens the error about a part of a text to the whole.
func within(text string, err error, expected string) error {
	e, ok := err.(*Error)
	if !ok {
		return err
	}
	return &Error{text, e.Found, expected}
}
