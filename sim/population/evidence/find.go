package evidence

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"boilwright/models"
	"boilwright/sim/readings"
)

// All lists every observable of a board, by form and then by its arguments,
// the last one changing first.
func All(b *models.Board) []Observable {
	var out []Observable
	for i := range forms {
		f := &forms[i]
		lists := make([][]string, len(f.args))
		for j, a := range f.args {
			lists[j] = a.allowed(b)
		}
		about := channelsOf(b, f)
		var each func(args []string)
		each = func(args []string) {
			if j := len(args); j < len(lists) {
				for _, a := range lists[j] {
					each(append(slices.Clip(args), a))
				}
				return
			}
			out = append(out, f.observable(b, about, args))
		}
		each(nil)
	}
	return out
}

// Allowed lists, argument by argument of a form, what it may be on a board.
func Allowed(b *models.Board, name string) ([][]string, error) {
	f, err := findForm(name)
	if err != nil {
		return nil, err
	}
	out := make([][]string, len(f.args))
	for j, a := range f.args {
		out[j] = a.allowed(b)
	}
	return out, nil
}

// Find returns the observable of a form with its arguments on a board. The
// error says what was found and what was expected.
func Find(b *models.Board, name string, args ...string) (Observable, error) {
	f, err := findForm(name)
	if err != nil {
		return Observable{}, err
	}
	if len(args) != len(f.args) {
		return Observable{}, fmt.Errorf("%s: found %s, expected %s", name, count(len(args)), f.signature())
	}
	for j, a := range f.args {
		allowed := a.allowed(b)
		if slices.Contains(allowed, args[j]) {
			continue
		}
		return Observable{}, fmt.Errorf("%s: found %s %q, expected %s%s", name, a.name, args[j], oneOf(a, allowed), suggest(args[j], allowed))
	}
	return f.observable(b, channelsOf(b, f), slices.Clone(args)), nil
}

func count(n int) string {
	switch n {
	case 0:
		return "no arguments"
	case 1:
		return "1 argument"
	}
	return fmt.Sprintf("%d arguments", n)
}

// signature is the form with its arguments, as it is written.
func (f *form) signature() string {
	return fmt.Sprintf("%s(%s)", f.Name, strings.Join(f.documented().Args, ", "))
}

func findForm(name string) (*form, error) {
	i := slices.IndexFunc(forms, func(f form) bool { return f.Name == name })
	if i >= 0 {
		return &forms[i], nil
	}
	names := named(forms, func(f *form) string { return f.Name })
	return nil, fmt.Errorf("found observable %q, expected one of %s%s", name, strings.Join(names, ", "), suggest(name, names))
}

// oneOf tells what an argument may be.
func oneOf(a domain, allowed []string) string {
	switch {
	case a.name == minute.name:
		return fmt.Sprintf("a whole minute from 0 to %d", minutes)
	case len(allowed) == 0:
		return "a board that has one"
	case len(allowed) == 1:
		return allowed[0]
	}
	return "one of " + strings.Join(allowed, ", ")
}

// channelsOf tells which channel an argument of a form is about.
func channelsOf(b *models.Board, f *form) map[string]int {
	out := map[string]int{}
	if len(f.args) == 0 {
		return out
	}
	switch f.args[0].name {
	case points.name:
		for _, p := range readings.UnpluggedPoints(b) {
			out[p.Name] = p.Channel
		}
	case leads.name:
		for _, l := range readings.Leads(b) {
			out[l.Name] = l.Channel
		}
	case channels.name:
		for k := range b.Channels {
			out[b.Channels[k].Name] = k
		}
	}
	return out
}

// observable makes the observable of arguments that are allowed.
func (f *form) observable(b *models.Board, about map[string]int, args []string) Observable {
	o := Observable{Form: f.Name, Args: args, Channel: -1, Meter: -1, Kind: f.Kind, Unit: f.Unit, Live: f.live}
	o.Name = strings.Join(append([]string{f.Name}, args...), " ")
	if f.Kind == Word {
		o.Words = slices.Clone(indicators)
	}
	if len(args) > 0 {
		if k, ok := about[args[0]]; ok {
			o.Channel = k
		}
	}
	if f.from == measured {
		o.Meter = slices.Index(meters.allowed(b), args[2])
	}
	return o
}

// check reports what is wrong with an observable on a board.
func (o *Observable) check(b *models.Board) error {
	known, err := Find(b, o.Form, o.Args...)
	if err != nil {
		return err
	}
	if known.Name != o.Name || known.Channel != o.Channel || known.Meter != o.Meter {
		return errors.New(o.Name + ": found an observable of another board, expected one of the population's")
	}
	return nil
}
