package boardfile

import (
	"math"
	"slices"
	"time"

	"boilwright/models"
	"boilwright/models/quantity"
)

// kind says how a value is written.
type kind int

const (
	quantityKind   kind = iota // float64; text with a unit
	quantitiesKind             // []float64; a list of texts with units
	numberKind                 // float64; a TOML number
	integerKind                // int; a TOML integer
	booleanKind                // bool
	textKind                   // string
	choiceKind                 // int; one of the field's names
	durationKind               // time.Duration; text with units
	nodeKind                   // models.Node; text
	channelKind                // int; the name of a channel
)

// field is one row of the table: a value of a board with all that is known
// of it. target is a pointer to the struct that holds the value: Board,
// Channel or the element of a list.
type field struct {
	key  string // dotted, from the field's group
	kind kind
	dim  quantity.Dimension
	doc  string
	// usual is the range one meets in handbooks and data sheets, generic.
	usual string

	// A field has a default as it would be written, or one computed from
	// other values, or is essential.
	def       string
	essential bool
	// computed says in words what compute returns.
	computed string
	compute  func(b *models.Board, target any) any

	limits
	names  []string // of a choice, and extra names of a channel
	values []int    // what they stand for
	// other is another way of writing the same value, under its own key.
	other *alternative
	// presence marks a truth value that defaults to whether its table says
	// anything else.
	presence bool

	get func(target any) (any, bool) // false: the part is not there
	set func(target, value any)
}

// alternative is a second way of writing a field.
type alternative struct {
	key, doc, example, pattern string
	parse                      func(text string) (float64, error)
}

// limits bound a value; a length in the case of text.
type limits struct {
	min, max   float64
	above      bool // min itself is out
	infinite   bool // +Inf is allowed
	none       bool // the word none means something here
	even       bool
	rising     bool // a list
	singleLine bool
}

// list is a repeated part of a board: [[key]].
type list struct {
	key    string
	doc    string
	def    string // TOML array; empty is none
	fields []field
	name   string // key of the element's name, which must differ; may be empty

	length func(target any) int
	item   func(target any, i int) any
	resize func(target any, n int)
}

// group is a set of fields and lists of one target.
type group struct {
	fields []field
	lists  []list
}

// rows makes the field of a pointer into a target; the pointer may be nil
// when the part is not there.
func rows[T, V any](key string, k kind, doc string, at func(*T) *V, from func(any) V, to func(V) any) field {
	return field{
		key: key, kind: k, doc: doc, limits: limits{min: math.Inf(-1), max: math.Inf(1)},
		get: func(target any) (any, bool) {
			p := at(target.(*T))
			if p == nil {
				return nil, false
			}
			return to(*p), true
		},
		set: func(target, value any) {
			if p := at(target.(*T)); p != nil {
				*p = from(value)
			}
		},
	}
}

func same[V any](v V) any { return v }

func as[V any](v any) V { return v.(V) }

func quantityOf[T any, Q quantity.Quantity](key, doc string, at func(*T) *Q) field {
	var zero Q
	f := rows(key, quantityKind, doc, at, func(v any) Q { return Q(v.(float64)) }, func(v Q) any { return float64(v) })
	f.dim = zero.Dimension()
	return f
}

func quantitiesOf[T any, Q quantity.Quantity](key, doc string, at func(*T) *[]Q) field {
	var zero Q
	f := rows(key, quantitiesKind, doc, at,
		func(v any) []Q {
			var s []Q
			for _, x := range v.([]float64) {
				s = append(s, Q(x))
			}
			return s
		},
		func(v []Q) any {
			s := make([]float64, len(v))
			for i, x := range v {
				s[i] = float64(x)
			}
			return s
		})
	f.dim = zero.Dimension()
	return f
}

// perKelvinOf is a quantity that the board holds as a bare number.
func perKelvinOf[T any](key, doc string, at func(*T) *float64) field {
	f := rows(key, quantityKind, doc, at, as[float64], same[float64])
	f.dim = quantity.TemperatureCoefficient
	return f
}

func numberOf[T any](key, doc string, at func(*T) *float64) field {
	return rows(key, numberKind, doc, at, as[float64], same[float64])
}

func integerOf[T any](key, doc string, at func(*T) *int) field {
	return rows(key, integerKind, doc, at, as[int], same[int])
}

func booleanOf[T any](key, doc string, at func(*T) *bool) field {
	return rows(key, booleanKind, doc, at, as[bool], same[bool])
}

func textOf[T any](key, doc string, at func(*T) *string) field {
	return rows(key, textKind, doc, at, as[string], same[string])
}

func durationOf[T any](key, doc string, at func(*T) *time.Duration) field {
	return rows(key, durationKind, doc, at, as[time.Duration], same[time.Duration])
}

func nodeOf[T any](key, doc string, at func(*T) *models.Node) field {
	return rows(key, nodeKind, doc, at, as[models.Node], same[models.Node])
}

// choiceOf is an integer type with a name for each value, from 0.
func choiceOf[T any, E ~int](key, doc string, at func(*T) *E, names ...string) field {
	f := rows(key, choiceKind, doc, at, func(v any) E { return E(v.(int)) }, func(v E) any { return int(v) })
	f.names = names
	for i := range names {
		f.values = append(f.values, i)
	}
	return f
}

// eitherOf is a truth value with a name for false and one for true.
func eitherOf[T any](key, doc string, at func(*T) *bool, no, yes string) field {
	f := rows(key, choiceKind, doc, at, func(v any) bool { return v.(int) == 1 }, func(v bool) any {
		if v {
			return 1
		}
		return 0
	})
	f.names, f.values = []string{no, yes}, []int{0, 1}
	return f
}

// channelOf is the index of a channel, written by name.
func channelOf[T any](key, doc string, at func(*T) *int) field {
	return rows(key, channelKind, doc, at, as[int], same[int])
}

func listOf[T, E any](key, doc string, at func(*T) *[]E, fields ...field) list {
	return list{
		key: key, doc: doc, fields: fields,
		length: func(target any) int { return len(*at(target.(*T))) },
		item:   func(target any, i int) any { return &(*at(target.(*T)))[i] },
		resize: func(target any, n int) {
			var s []E
			if n > 0 {
				s = make([]E, n)
			}
			*at(target.(*T)) = s
		},
	}
}

// The rest of a row, in the order in which one says it.

func (f field) or(text string) field { f.def = text; return f }

func (f field) needed() field { f.essential = true; return f }

func (f field) orFrom(words string, compute func(b *models.Board, target any) any) field {
	f.computed, f.compute = words, compute
	return f
}

func (f field) from(min float64) field { f.min = min; return f }

func (f field) over(min float64) field { f.min, f.above = min, true; return f }

func (f field) to(max float64) field { f.max = max; return f }

// orInfinite allows +Inf in the words of the dimension, none included.
func (f field) orInfinite() field { f.infinite, f.none = true, true; return f }

// orOpen allows +Inf, but not the word none, which could be read as 0 Ω.
func (f field) orOpen() field { f.infinite = true; return f }

// orNone allows a capacitance of none.
func (f field) orNone() field { f.none = true; return f }

func (f field) usually(r string) field { f.usual = r; return f }

func (f field) meaning(values ...int) field { f.values = values; return f }

// written is the default in words for the reference.
func (f *field) written() string {
	switch {
	case f.essential:
		return "essential"
	case f.computed != "":
		return f.computed
	}
	return f.def
}

// nameOf returns the name of a choice's value.
func (f *field) nameOf(v int) (string, bool) {
	if i := slices.Index(f.values, v); i >= 0 {
		return f.names[i], true
	}
	return "", false
}
