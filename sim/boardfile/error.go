package boardfile

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Error is everything that is wrong with a board, sorted by position.
type Error struct{ Entries []*Entry }

// Entry is one mistake.
type Entry struct {
	File         string // as it was named; empty for a board that came from no file
	Line, Column int    // from 1, in characters; 0 where there is no position
	Field        string // "channel.dye.triac.holding-current", lists from 1: "supply.harmonic[2].order"
	Found        string
	Expected     string
	Err          error // the cause, where there is one
}

// Error gives one line per mistake.
func (e *Error) Error() string {
	lines := make([]string, len(e.Entries))
	for i, x := range e.Entries {
		lines[i] = x.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap returns the entries.
func (e *Error) Unwrap() []error {
	errs := make([]error, len(e.Entries))
	for i, x := range e.Entries {
		errs[i] = x
	}
	return errs
}

// Error gives file:line:column: field: found X, expected Y, without what is
// not known.
func (e *Entry) Error() string {
	var b strings.Builder
	if e.File != "" {
		b.WriteString(e.File + ":")
		if e.Line > 0 {
			fmt.Fprintf(&b, "%d:%d:", e.Line, e.Column)
		}
		b.WriteString(" ")
	}
	if e.Field != "" {
		b.WriteString(e.Field + ": ")
	}
	fmt.Fprintf(&b, "found %s, expected %s", e.Found, e.Expected)
	return b.String()
}

// Unwrap returns the cause.
func (e *Entry) Unwrap() error { return e.Err }

// errorOf sorts the entries, files in the given order, drops repetitions and
// returns nil when none is left.
func errorOf(entries []*Entry, files []string) error {
	if len(entries) == 0 {
		return nil
	}
	slices.SortStableFunc(entries, func(a, b *Entry) int {
		return cmp.Or(
			cmp.Compare(slices.Index(files, a.File), slices.Index(files, b.File)),
			cmp.Compare(a.Line, b.Line),
			cmp.Compare(a.Column, b.Column),
		)
	})
	entries = slices.CompactFunc(entries, func(a, b *Entry) bool {
		return a.Line > 0 && a.File == b.File && a.Line == b.Line && a.Column == b.Column &&
			a.Found == b.Found && a.Expected == b.Expected
	})
	return &Error{entries}
}

// quote quotes a text for a message, shortened.
func quote(s string) string {
	const most = 48
	r := []rune(s)
	if len(r) > most {
		s = string(r[:most]) + "…"
	}
	return fmt.Sprintf("%q", s)
}
