package boardfile

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"boilwright/models"
	"boilwright/models/names"
	"boilwright/models/quantity"
)

// wrong says what was found in a value and what was expected.
type wrong struct{ found, expected string }

// meant adds a guess at what was meant, if there is one.
func (w *wrong) meant(near string) *wrong {
	if near != "" {
		w.expected += "; did you mean " + near
	}
	return w
}

// parse reads the value of a field from a node. channels are the names of the
// board's channels.
func (f *field) parse(n *node, channels []string) (any, *wrong) {
	v, w := f.scan(n, channels)
	if w == nil {
		w = f.check(v, channels)
		if w != nil && f.kind != textKind && n.shape != arrayShape {
			w.found = strings.Trim(n.text, " \t")
		}
	}
	return v, w
}

func (f *field) scan(n *node, channels []string) (any, *wrong) {
	mismatch := func() *wrong { return &wrong{n.describe(), f.expected(channels)} }
	switch f.kind {
	case quantityKind:
		return f.scanQuantity(n)
	case quantitiesKind:
		if n.shape != arrayShape {
			return nil, mismatch()
		}
		s := []float64{}
		for _, item := range n.items {
			v, w := f.scanQuantity(item)
			if w != nil {
				return nil, w
			}
			s = append(s, v.(float64))
		}
		return s, nil
	case numberKind:
		if n.shape != floatShape && n.shape != integerShape {
			return nil, mismatch()
		}
		v, err := strconv.ParseFloat(strings.ReplaceAll(n.text, "_", ""), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, mismatch()
		}
		return v, nil
	case integerKind:
		if n.shape != integerShape {
			return nil, mismatch()
		}
		v, err := strconv.ParseInt(strings.TrimPrefix(n.text, "+"), 0, 64)
		if err != nil || int64(int(v)) != v {
			return nil, mismatch()
		}
		return int(v), nil
	case booleanKind:
		if n.shape != booleanShape {
			return nil, mismatch()
		}
		return n.text == "true", nil
	}
	if n.shape != textShape {
		return nil, mismatch()
	}
	switch f.kind {
	case choiceKind:
		if i := slices.Index(f.names, n.text); i >= 0 {
			return f.values[i], nil
		}
		return nil, mismatch().meant(names.Nearest(n.text, f.names))
	case durationKind:
		d, err := quantity.ParseDuration(n.text)
		if err != nil {
			return nil, wrongQuantity(n, err)
		}
		return d, nil
	case nodeKind:
		p, err := models.ParseNode(n.text, len(channels))
		if err != nil {
			return nil, mismatch()
		}
		return p, nil
	case channelKind:
		if i := slices.Index(f.names, n.text); i >= 0 {
			return f.values[i], nil
		}
		if i := slices.Index(channels, n.text); i >= 0 {
			return i, nil
		}
		return nil, mismatch().meant(names.Nearest(n.text, channels))
	}
	return n.text, nil
}

func (f *field) scanQuantity(n *node) (any, *wrong) {
	bare := n.shape == floatShape || n.shape == integerShape
	if n.shape != textShape && !(bare && f.dim == quantity.Number) {
		expected := f.dim.Expected()
		if bare {
			expected += ", in quotes"
		}
		return nil, &wrong{n.describe(), expected}
	}
	text := n.text
	if bare {
		text = strings.ReplaceAll(text, "_", "")
	}
	if strings.Trim(text, " \t") == "none" && !f.none {
		return nil, &wrong{quote(text), f.bounds()}
	}
	v, err := quantity.Parse(f.dim, text)
	if err != nil {
		return nil, wrongQuantity(n, err)
	}
	return v, nil
}

func wrongQuantity(n *node, err error) *wrong {
	e, ok := err.(*quantity.Error)
	if !ok {
		return &wrong{n.describe(), err.Error()}
	}
	if n.shape != textShape || e.Found == quote(n.text) {
		return &wrong{n.describe(), e.Expected}
	}
	return &wrong{fmt.Sprintf("%s in %s", e.Found, quote(n.text)), e.Expected}
}

// check tells what is wrong with a value that is of the right kind.
func (f *field) check(v any, channels []string) *wrong {
	ok, expected := true, f.bounds
	switch v := v.(type) {
	case float64:
		ok = f.within(v)
	case []float64:
		return f.checkList(v)
	case time.Duration:
		ok = f.within(v.Seconds())
	case int:
		_, named := f.nameOf(v)
		switch f.kind {
		case integerKind:
			ok = f.within(float64(v)) && !(f.even && v%2 != 0)
		case choiceKind:
			ok = named
		case channelKind:
			ok = named || v >= 0 && v < len(channels)
		}
		expected = func() string { return f.expected(channels) }
	case models.Node:
		ok = v.Place >= 0 && v.Place <= models.SnubberTap && v.Channel >= 0 &&
			(v.Channel == 0 || v.Place.PerChannel() && v.Channel < len(channels))
		expected = func() string { return f.expected(channels) }
	case string:
		return f.checkText(v)
	}
	if ok {
		return nil
	}
	return &wrong{f.format(v, channels), expected()}
}

func (f *field) checkList(v []float64) *wrong {
	for i, x := range v {
		if !f.within(x) {
			return &wrong{quantity.Format(f.dim, x), f.bounds()}
		}
		if f.rising && i > 0 && v[i-1] >= x {
			return &wrong{quantity.Format(f.dim, x) + " after " + quantity.Format(f.dim, v[i-1]), "rising values"}
		}
	}
	return nil
}

func (f *field) checkText(s string) *wrong {
	switch n := utf8.RuneCountInString(s); {
	case !utf8.ValidString(s):
		return &wrong{"text that is not UTF-8", "UTF-8"}
	case n < int(f.min) || n > int(f.max):
		return &wrong{fmt.Sprintf("%d characters", n), f.bounds()}
	}
	control := func(r rune) bool { return unicode.IsControl(r) && (f.singleLine || r != '\n' && r != '\t') }
	if i := strings.IndexFunc(s, control); i >= 0 {
		r, _ := utf8.DecodeRuneInString(s[i:])
		return &wrong{fmt.Sprintf("the control character %U", r), f.bounds()}
	}
	return nil
}

func (l *limits) within(v float64) bool {
	if math.IsInf(v, 1) {
		return l.infinite
	}
	return !math.IsInf(v, -1) && v >= l.min && v <= l.max && !(l.above && v == l.min)
}

// expected describes the kind of value that a field takes.
func (f *field) expected(channels []string) string {
	switch f.kind {
	case quantityKind, quantitiesKind, integerKind, textKind:
		return f.bounds()
	case numberKind:
		return "a number"
	case booleanKind:
		return "true or false"
	case choiceKind:
		return oneOf(f.names)
	case durationKind:
		return "a time such as 25 min or 1 h 30 min"
	case nodeKind:
		return fmt.Sprintf("one of %s with K from 1 to %d", strings.Join(models.NodeNames(), ", "), len(channels))
	}
	return "a channel: " + oneOf(append(slices.Clone(f.names), channels...))
}

func oneOf(names []string) string {
	switch len(names) {
	case 0:
		return "none"
	case 1:
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " or " + names[len(names)-1]
}

// bounds describes the values that a field takes: "a resistance above 0 Ω, or
// open".
func (f *field) bounds() string {
	what, show := "a number", func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	switch f.kind {
	case quantityKind, quantitiesKind:
		name := f.dim.String()
		what = "a " + name
		if strings.ContainsRune("aeiou", rune(name[0])) {
			what = "an " + name
		}
		if f.kind == quantitiesKind {
			what = "a list, each " + what
		}
		show = func(v float64) string { return quantity.Format(f.dim, v) }
	case integerKind:
		what = "a whole number"
		if f.even {
			what = "an even number"
		}
	case durationKind:
		what = "a time"
		show = func(v float64) string { return quantity.FormatDuration(time.Duration(v * 1e9)) }
	case textKind:
		if f.singleLine && f.min > 0 {
			return fmt.Sprintf("one line of %v to %v characters", f.min, f.max)
		} else if f.singleLine {
			return fmt.Sprintf("one line of up to %v characters", f.max)
		}
		return fmt.Sprintf("text of up to %v characters", f.max)
	}
	if r := f.interval(show); r != "" {
		what += " " + r
	}
	switch {
	case f.infinite && !f.none:
		what += ", or open"
	case f.infinite && f.dim == quantity.Resistance:
		what += ", or none"
	case f.infinite:
		what += ", or infinite"
	case f.none:
		what += ", or none"
	}
	return what
}

// interval describes the finite bounds: "from 90 V to 260 V".
func (l *limits) interval(show func(float64) string) string {
	low, high := !math.IsInf(l.min, -1), !math.IsInf(l.max, 1)
	switch {
	case low && high && l.above:
		return "above " + show(l.min) + ", at most " + show(l.max)
	case low && high:
		return "from " + show(l.min) + " to " + show(l.max)
	case low && l.above:
		return "above " + show(l.min)
	case low:
		return "of at least " + show(l.min)
	case high:
		return "of at most " + show(l.max)
	}
	return ""
}

// format writes a value as parse reads it, without the quotes of text.
func (f *field) format(v any, channels []string) string {
	switch v := v.(type) {
	case float64:
		if f.kind == numberKind {
			return strconv.FormatFloat(v, 'g', -1, 64)
		}
		return quantity.Format(f.dim, v)
	case []float64:
		s := make([]string, len(v))
		for i, x := range v {
			s[i] = quantity.Format(f.dim, x)
		}
		return strings.Join(s, ", ")
	case bool:
		return strconv.FormatBool(v)
	case string:
		return v
	case time.Duration:
		return quantity.FormatDuration(v)
	case models.Node:
		return v.String()
	case int:
		if name, ok := f.nameOf(v); ok {
			return name
		}
		if f.kind == channelKind && v >= 0 && v < len(channels) {
			return channels[v]
		}
		return strconv.Itoa(v)
	}
	return fmt.Sprint(v)
}

// defaultOf returns the value of a field that is not written.
func (f *field) defaultOf(b *models.Board, target any, channels []string) any {
	if f.compute != nil {
		return f.compute(b, target)
	}
	n := &node{shape: textShape, text: f.def}
	switch f.kind {
	case numberKind:
		n.shape = floatShape
	case integerKind:
		n.shape = integerShape
	case booleanKind:
		n.shape = booleanShape
	case quantitiesKind:
		n.shape = arrayShape
		for s := range strings.SplitSeq(f.def, ", ") {
			n.items = append(n.items, &node{shape: textShape, text: s})
		}
	}
	v, w := f.parse(n, channels)
	if w != nil { // a mistake in the table itself; a test reads every default
		panic("boardfile: default of " + f.key + ": found " + w.found + ", expected " + w.expected)
	}
	return v
}
