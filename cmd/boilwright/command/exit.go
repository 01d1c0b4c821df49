package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"boilwright/faults"
	"boilwright/sim/boardfile"
)

// Exit codes.
const (
	Done       = 0
	WrongInput = 1 // a board file or what it says is wrong
	Misuse     = 2 // unknown command or flag, bad argument
	Failed     = 3 // the tool failed, or was interrupted
	Unmet      = 4 // a requirement that was stated is not met
)

// exitError is an error with the code that it ends the program with.
type exitError struct {
	code int
	err  error
}

func (e *exitError) Error() string { return e.err.Error() }
func (e *exitError) Unwrap() error { return e.err }

// misuse is an error in how the program was called.
func misuse(format string, args ...any) error {
	return &exitError{Misuse, fmt.Errorf(format, args...)}
}

// misused makes err an error in how the program was called.
func misused(err error) error { return &exitError{Misuse, err} }

// wrongInput makes err an error of what was read.
func wrongInput(err error) error { return &exitError{WrongInput, err} }

// unmet is a requirement that is not met.
func unmet(err error) error { return &exitError{Unmet, err} }

// errInterrupted tells that the user stopped the work; what was done has been
// kept.
var errInterrupted = errors.New("interrupted; what was done is kept")

// code is the exit code of an error. An error that comes before a command has
// begun is one of its flags and arguments.
func code(err error, begun bool) int {
	var e *exitError
	var b *boardfile.Error
	var f *faults.ParseError
	switch {
	case err == nil:
		return Done
	case errors.As(err, &e):
		return e.code
	case errors.As(err, &b):
		return WrongInput
	case errors.As(err, &f):
		return Misuse
	case !begun:
		return Misuse
	}
	return Failed
}

// report writes an error to w, one line each thing that is wrong.
func report(w io.Writer, err error, code int, path string) {
	if errors.Is(err, context.Canceled) {
		err = errInterrupted // without where the work stood
	}
	prefix := "boilwright: "
	if code == WrongInput {
		prefix = "" // the line begins with the file
	}
	for line := range strings.Lines(strings.TrimRight(err.Error(), "\n")) {
		if line = strings.TrimSpace(line); line != "" {
			fmt.Fprintln(w, prefix+line)
		}
	}
	if code == Misuse {
		fmt.Fprintf(w, "see %q\n", path+" --help")
	}
}
