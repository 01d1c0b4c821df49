package faults

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// WholeBoard is the channel of an injection that belongs to no channel.
const WholeBoard = -1

// Injection is one fault put into one place of a board: which, where, how
// far, from when on, and how it goes on. [New] makes one at full severity
// from the start and for good.
type Injection struct {
	Fault   string // a name of the catalogue
	Channel int    // from 0; WholeBoard for a fault of the board
	// Severity is 0 (exactly healthy) to 1 (the full fault); what lies
	// between is the fault's own law, see Fault.Severity.
	Severity float64
	// Settings are the keys that are not left at their defaults, in the order
	// of the catalogue.
	Settings []Setting
	Onset    Onset
	Course   Course
}

// Setting gives a key of a fault a value in the SI unit of the key's
// dimension; of a key with choices, the value of the chosen one.
type Setting struct {
	Key   string
	Value float64
}

// New returns a fault at full severity, from the start and for good. Channels
// count from 0; for a fault of the board give WholeBoard.
func New(fault string, channel int) Injection {
	return Injection{Fault: fault, Channel: channel, Severity: 1}
}

// With returns a copy of the injection in which key has the value, in the SI
// unit of its dimension.
func (j Injection) With(key string, value float64) Injection {
	j.Settings = slices.Clone(j.Settings)
	i := slices.IndexFunc(j.Settings, func(s Setting) bool { return s.Key == key })
	if i < 0 {
		j.Settings = append(j.Settings, Setting{key, value})
	} else {
		j.Settings[i].Value = value
	}
	if f := find(j.Fault); f != nil {
		sortSettings(f, j.Settings)
	}
	return j
}

// sortSettings puts settings in the order of the catalogue, unknown keys last.
func sortSettings(f *Fault, s []Setting) {
	rank := func(key string) int {
		if i := slices.IndexFunc(f.Keys, func(k Key) bool { return k.Name == key }); i >= 0 {
			return i
		}
		return len(f.Keys)
	}
	slices.SortStableFunc(s, func(a, b Setting) int { return rank(a.Key) - rank(b.Key) })
}

// Check reports everything that is wrong with the injection for the board b:
// an unknown fault or channel, a value out of bounds, a course that the fault
// cannot take, a part that the board lacks. A nil board leaves out what only
// a board can tell. The errors are joined, each a [*FieldError].
func (j Injection) Check(b *models.Board) error {
	f := find(j.Fault)
	if f == nil {
		return &FieldError{"fault", strconv.Quote(j.Fault), "a name of the catalogue" + didYouMean(j.Fault, Names())}
	}
	var errs []error
	bad := func(field, found, expected string) { errs = append(errs, &FieldError{field, found, expected}) }

	onBoard := f.Scope == PerBoard
	switch {
	case onBoard && j.Channel != WholeBoard:
		bad("channel", strconv.Itoa(j.Channel+1), "board, as "+f.Name+" belongs to no channel")
	case !onBoard && j.Channel < 0:
		bad("channel", "board", "a channel, as "+f.Name+" belongs to one")
	case !onBoard && b != nil && j.Channel >= len(b.Channels):
		bad("channel", strconv.Itoa(j.Channel+1), fmt.Sprintf("1 to %d", len(b.Channels)))
	case b != nil && f.needs != nil:
		if err := f.needs(b, j.Channel); err != nil {
			errs = append(errs, err)
		}
	}
	if !(j.Severity >= 0 && j.Severity <= 1) {
		bad("severity", q.Format(q.Number, j.Severity), "0 to 1")
	} else if !f.Graded && j.Severity != 0 && j.Severity != 1 {
		bad("severity", q.Format(q.Number, j.Severity), "0 or 1, as "+f.Name+" has no degrees")
	}
	errs = append(errs, checkSettings(f, j.Settings)...)
	errs = append(errs, j.Onset.check(f, j.Channel, b)...)
	errs = append(errs, j.Course.check(f, j.Severity, j.Onset, b)...)
	return errors.Join(errs...)
}

func checkSettings(f *Fault, settings []Setting) []error {
	var errs []error
	for i, s := range settings {
		k, ok := f.Key(s.Key)
		if !ok {
			names := keyNames(f)
			expected := "no keys of its own for " + f.Name
			if len(names) > 0 {
				expected = "one of " + strings.Join(names, ", ") + didYouMean(s.Key, names)
			}
			errs = append(errs, &FieldError{"key", strconv.Quote(s.Key), expected})
			continue
		}
		if slices.ContainsFunc(settings[:i], func(t Setting) bool { return t.Key == s.Key }) {
			errs = append(errs, &FieldError{s.Key, "the key twice", "it once"})
		}
		if !k.takes(s.Value) {
			errs = append(errs, &FieldError{s.Key, k.format(s.Value), k.expected()})
		}
	}
	return errs
}

func keyNames(f *Fault) []string {
	names := make([]string, len(f.Keys))
	for i, k := range f.Keys {
		names[i] = k.Name
	}
	return names
}

// takes reports whether v is a value of the key.
func (k *Key) takes(v float64) bool {
	if len(k.Choices) > 0 {
		return slices.ContainsFunc(k.Choices, func(c Choice) bool { return c.Value == v })
	}
	return v >= k.Min && v <= k.Max && !math.IsNaN(v)
}

// expected describes the values that the key takes.
func (k *Key) expected() string {
	if len(k.Choices) > 0 {
		return strings.Join(k.words(), " or ")
	}
	return fmt.Sprintf("%s to %s", q.Format(k.Dimension, k.Min), q.Format(k.Dimension, k.Max))
}

func (k *Key) words() []string {
	words := make([]string, len(k.Choices))
	for i, c := range k.Choices {
		words[i] = c.Word
	}
	return words
}

// format writes a value of the key.
func (k *Key) format(v float64) string {
	for _, c := range k.Choices {
		if c.Value == v {
			return c.Word
		}
	}
	return q.Format(k.Dimension, v)
}

// place writes where and what, "2:triac-open" or "board:loose-neutral".
func (j Injection) place() string { return written(j.Channel, nil) + ":" + j.Fault }

// apply makes the edit at the given severity.
func (j *Injection) apply(b *models.Board, severity float64) error {
	if severity == 0 {
		return nil
	}
	f := find(j.Fault)
	err := f.edit(b, edit{fault: f, channel: j.Channel, severity: severity, settings: j.Settings})
	if err != nil {
		return fmt.Errorf("%s: %w", j.place(), err)
	}
	return nil
}

// FieldError tells which part of an injection is wrong.
type FieldError struct {
	Field    string // "severity", "channel", "resistance"
	Found    string
	Expected string
}

func (e *FieldError) Error() string {
	return fmt.Sprintf("%s: found %s, expected %s", e.Field, e.Found, e.Expected)
}
