package dataset

import (
	"fmt"
	"slices"
	"strings"

	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/population/evidence"
)

// anyArgument stands for every value of an argument.
const anyArgument = "*"

// mostObservables bounds how many columns of evidence a data set has.
const mostObservables = 10_000

// Observables returns what a text names on a board: the name of a form and its
// arguments, separated by spaces, as in
//
//	volts dye:output standby rms
//	volts * standby
//	volts
//
// A star stands for every value of an argument, and so does an argument that
// is left out at the end. The error says what was found and what was expected.
func Observables(b *models.Board, text string) ([]evidence.Observable, error) {
	words := strings.Fields(text)
	if len(words) == 0 {
		return nil, fmt.Errorf("found nothing, expected an observable such as %q", "volts * standby")
	}
	allowed, err := evidence.Allowed(b, words[0])
	if err != nil {
		return nil, err
	}
	args := make([]string, 0, len(allowed))
	for rest := words[1:]; len(rest) > 0; {
		var list []string
		if len(args) < len(allowed) {
			list = allowed[len(args)]
		}
		n := argument(rest, list)
		args, rest = append(args, strings.Join(rest[:n], " ")), rest[n:]
	}
	for len(args) < len(allowed) {
		args = append(args, anyArgument)
	}
	// An argument that is wrong is told by Find, with the first of what the
	// stars allow.
	one := slices.Clone(args)
	for j, list := range allowed {
		if one[j] == anyArgument {
			if len(list) == 0 {
				return nil, fmt.Errorf("found %q, which this board has none of", text)
			}
			one[j] = list[0]
		}
	}
	if _, err := evidence.Find(b, words[0], one...); err != nil {
		return nil, err
	}
	var out []evidence.Observable
	var each func(j int) error
	each = func(j int) error {
		for j < len(args) && args[j] != anyArgument {
			one[j] = args[j]
			j++
		}
		if j == len(args) {
			o, err := evidence.Find(b, words[0], one...)
			out = append(out, o)
			return err
		}
		for _, v := range allowed[j] {
			one[j] = v
			if err := each(j + 1); err != nil {
				return err
			}
		}
		return nil
	}
	return out, each(0)
}

// argument is how many of the words are the next argument: names may have
// spaces.
func argument(words, allowed []string) int {
	for n := len(words); n > 1; n-- {
		if slices.Contains(allowed, strings.Join(words[:n], " ")) {
			return n
		}
	}
	return 1
}

// observables returns what the statements name, each once, in the order in
// which it is named first.
func (w *mistakes) observables(list []boardfile.Statement, b *models.Board) []evidence.Observable {
	var out []evidence.Observable
	seen := map[string]bool{}
	for i := range list {
		some, err := Observables(b, list[i].Text)
		if err != nil {
			w.wrong(&list[i], err)
		}
		for _, o := range some {
			if !seen[o.Name] {
				seen[o.Name] = true
				out = append(out, o)
			}
		}
		if len(out) > mostObservables {
			w.wrong(&list[i], fmt.Errorf("found more than %d observables, expected no more", mostObservables))
			break
		}
	}
	return out
}
