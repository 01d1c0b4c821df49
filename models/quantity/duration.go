package quantity

import (
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
	"time"
)

// durationUnits from the longest; times that people set count in these.
var durationUnits = []struct {
	name  string
	alias string
	unit  time.Duration
}{
	{"h", "", time.Hour},
	{"min", "", time.Minute},
	{"s", "", time.Second},
	{"ms", "", time.Millisecond},
	{"µs", "us", time.Microsecond},
	{"ns", "", time.Nanosecond},
}

const durationExpected = "a time such as 25 min or 1 h 30 min"

// ParseDuration reads a time that people set: "25 min", "1 h 30 min", "10 s",
// "1.5 h", "500 ms". Units fall from the longest, each at most once, and only
// the last number may have a decimal point. Anything finer than a nanosecond
// is an error, not rounded. The error is an [*Error].
func ParseDuration(text string) (time.Duration, error) {
	fail := func(found, expected string) (time.Duration, error) {
		return 0, &Error{text, found, expected}
	}
	if len(text) > maxInput {
		return fail(fmt.Sprintf("%d bytes of text", len(text)), durationExpected)
	}
	s := strings.TrimFunc(canonicalRunes.Replace(text), space)
	negative := false
	if t, ok := strings.CutPrefix(s, "-"); ok {
		negative, s = true, strings.TrimFunc(t, space)
	}
	if s == "" {
		return fail("nothing", durationExpected)
	}
	total := new(big.Rat)
	next := 0 // the longest unit still allowed
	fraction := false
	for s != "" {
		if fraction {
			return fail("a decimal point before the last unit", durationExpected)
		}
		i := digits(s)
		if i == 0 {
			return fail(fmt.Sprintf("%q", clip(s)), durationExpected)
		}
		if i < len(s) && s[i] == '.' {
			k := digits(s[i+1:])
			if k == 0 {
				return fail(fmt.Sprintf("%q", clip(s)), durationExpected)
			}
			fraction = true
			i += 1 + k
		}
		number := s[:i]
		s = strings.TrimLeftFunc(s[i:], space)
		k := strings.IndexFunc(s, func(r rune) bool { return space(r) || r >= '0' && r <= '9' })
		if k < 0 {
			k = len(s)
		}
		name := s[:k]
		s = strings.TrimLeftFunc(s[k:], space)
		at := -1
		for j, u := range durationUnits {
			if name != "" && (name == u.name || name == u.alias) {
				at = j
			}
		}
		switch {
		case name == "":
			return fail("a number without a unit", durationExpected)
		case name[0] == ',':
			return fail("a comma", "a decimal point, as in 1.5 h")
		case at < 0:
			return fail(fmt.Sprintf("the unit %q", clip(name)), durationExpected)
		case at < next:
			return fail(fmt.Sprintf("%q after a shorter or the same unit", name), durationExpected)
		}
		next = at + 1
		r, ok := new(big.Rat).SetString(number)
		if !ok {
			return fail(fmt.Sprintf("%q", number), durationExpected)
		}
		total.Add(total, r.Mul(r, new(big.Rat).SetInt64(int64(durationUnits[at].unit))))
	}
	if negative {
		total.Neg(total)
	}
	if !total.IsInt() {
		return fail("a time finer than a nanosecond", "whole nanoseconds")
	}
	if !total.Num().IsInt64() {
		return fail("a time too long", "at most "+FormatDuration(math.MaxInt64))
	}
	return time.Duration(total.Num().Int64()), nil
}

// FormatDuration prints a time as ParseDuration reads it back exactly: "25
// min", "1 h 30 min", "12.5 s", "500 ms"; below a second one unit with a
// decimal fraction.
func FormatDuration(d time.Duration) string {
	if d == 0 {
		return "0 s"
	}
	sign := ""
	u := uint64(d)
	if d < 0 {
		sign, u = "-", -u
	}
	var parts []string
	if u < uint64(time.Second) {
		for _, du := range durationUnits[3:] {
			if u >= uint64(du.unit) {
				parts = append(parts, decimal(u, uint64(du.unit))+" "+du.name)
				break
			}
		}
		return sign + parts[0]
	}
	for _, du := range durationUnits[:2] {
		if n := u / uint64(du.unit); n > 0 {
			parts = append(parts, strconv.FormatUint(n, 10)+" "+du.name)
			u %= uint64(du.unit)
		}
	}
	if u > 0 {
		parts = append(parts, decimal(u, uint64(time.Second))+" s")
	}
	return sign + strings.Join(parts, " ")
}

// decimal prints u/unit, unit a power of ten, without trailing zeros.
func decimal(u, unit uint64) string {
	whole, part := u/unit, u%unit
	if part == 0 {
		return strconv.FormatUint(whole, 10)
	}
	width := len(strconv.FormatUint(unit, 10)) - 1
	fraction := strconv.FormatUint(part, 10)
	fraction = strings.Repeat("0", width-len(fraction)) + fraction
	return strconv.FormatUint(whole, 10) + "." + strings.TrimRight(fraction, "0")
}
