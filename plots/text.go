package plots

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot/font"
)

// face is one of the faces in which text is set: Liberation Sans.
type face uint8

const (
	regular face = iota
	bold
)

// loadFaces parses the fonts once; they are part of the program.
var loadFaces = sync.OnceValue(func() [2]font.Face {
	var faces [2]font.Face
	for i, ttf := range [][]byte{liberationsansregular.TTF, liberationsansbold.TTF} {
		f, err := opentype.Parse(ttf)
		if err != nil { // a mistake in the program; every test would show it
			panic(fmt.Sprintf("plots: embedded font: %v", err))
		}
		weight := xfont.WeightNormal
		if face(i) == bold {
			weight = xfont.WeightBold
		}
		faces[i] = font.Face{Font: font.Font{Typeface: "Liberation", Variant: "Sans", Weight: weight}, Face: f}
	}
	return faces
})

// at returns the face in a size in points.
func (f face) at(size float64) font.Face {
	x := loadFaces()[f]
	x.Font.Size = font.Length(size)
	return x
}

// measure returns the width of t in points.
func measure(f face, size float64, t string) float64 {
	x := f.at(size)
	return float64(x.Width(t))
}

// clean makes t one line of text that every format can hold: no controls, no
// characters beyond the basic plane.
func clean(t string) string {
	t = strings.Map(func(r rune) rune {
		switch {
		case r <= ' ', r >= 0x7f && r <= 0xa0, r == 0x2028, r == 0x2029:
			return ' '
		case r >= 0xfffe:
			return 0xfffd
		}
		return r
	}, strings.ToValidUTF8(t, "\uFFFD"))
	return strings.Join(strings.Fields(t), " ")
}

// most is more characters than a width of w can show.
func most(size, w float64) int { return int(w/(0.15*size)) + 8 }

// holds returns how many characters of r fit a width of w.
func holds(f face, size, w float64, r []rune, end string) int {
	r = r[:min(len(r), most(size, w))]
	return sort.Search(len(r), func(n int) bool {
		return measure(f, size, strings.TrimRight(string(r[:n+1]), " ,:")+end) > w
	})
}

// fit shortens t with an ellipsis so that it is at most w wide.
func fit(f face, size, w float64, t string) string {
	r := []rune(t)
	if len(r) <= most(size, w) && measure(f, size, t) <= w {
		return t
	}
	n := holds(f, size, w, r, "…")
	if n == 0 {
		return ""
	}
	return strings.TrimRight(string(r[:n]), " ,:") + "…"
}

// wrap breaks t into lines of at most w; words wider than a line are broken.
func wrap(f face, size, w float64, t string) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(t) {
		for word != "" {
			next := word
			if line != "" {
				next = line + " " + word
			}
			r := []rune(word)
			if len(r) <= most(size, w) && measure(f, size, next) <= w {
				line, word = next, ""
				continue
			}
			if line != "" {
				lines = append(lines, line)
				line = ""
				continue
			}
			n := max(1, holds(f, size, w, r, ""))
			if k := strings.LastIndex(string(r[:n]), "-"); k > 0 && n < len(r) { // after a hyphen, if there is one
				n = utf8.RuneCountInString(string(r[:n])[:k+1])
			}
			lines = append(lines, string(r[:n]))
			word = string(r[n:])
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// number writes x with so many significant digits, without an exponent where
// that stays short, and with a true minus sign.
func number(x float64, digits int) string {
	if x == 0 {
		return "0"
	}
	s := strconv.FormatFloat(x, 'g', digits, 64)
	if a := math.Abs(x); a >= 1e-4 && a < 1e7 {
		y, _ := strconv.ParseFloat(s, 64)
		s = strconv.FormatFloat(y, 'f', -1, 64)
	}
	return strings.Replace(s, "-", "−", 1)
}

// fixed writes x with so many decimals and a true minus sign.
func fixed(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

// prefix is a decimal multiple of a unit.
type prefix struct {
	factor float64
	sign   string
}

// prefixFor chooses how values up to size in magnitude are written.
func prefixFor(unit string, size float64) prefix {
	switch unit {
	case "V", "A", "W", "Ω":
	default:
		return prefix{1, ""}
	}
	switch {
	case size >= 5e6:
		return prefix{1e6, "M"}
	case size >= 5e3:
		return prefix{1e3, "k"}
	case size >= 0.5 || size < 1e-6:
		return prefix{1, ""}
	case size >= 0.5e-3:
		return prefix{1e-3, "m"}
	}
	return prefix{1e-6, "µ"}
}

// quantity writes a value with its unit in so many significant digits.
func quantity(x float64, unit string, digits int) string {
	p := prefixFor(unit, math.Abs(x))
	if unit == "" {
		return number(x/p.factor, digits)
	}
	return number(x/p.factor, digits) + " " + p.sign + unit
}

// watts writes a power; a machine's own uses are whole watts.
func watts(x float64) string {
	if math.Abs(x) < 1 {
		return "0 W"
	}
	return quantity(x, "W", 3)
}

// unended is a text without the punctuation at its end, to go on after it.
func unended(t string) string { return strings.TrimRight(t, ".?!:; ") }

// plural writes a count with its noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// joined writes a list as a person would.
func joined(parts []string) string {
	switch len(parts) {
	case 0:
		return ""
	case 1:
		return parts[0]
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}
