package rules

import (
	"fmt"
	"strings"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/types"
)

// activation gives CEL's own machine the values of a frame.
type activation struct{ *frame }

var _ cel.Activation = activation{}

// Parent implements cel.Activation.
func (activation) Parent() cel.Activation { return nil }

// ResolveName implements cel.Activation.
func (a activation) ResolveName(name string) (any, bool) {
	switch name {
	case supplyName:
		return types.Double(a.plate.supply), true
	case setPoint:
		return types.Double(a.plate.setPoint), true
	case ratedWatts:
		return types.Double(a.plate.ratedWatts), true
	case channelName:
		return types.String(a.plate.channel), true
	}
	kind, i, ok := variable(name)
	if !ok || i >= len(a.slots) {
		return nil, false
	}
	switch kind {
	case 'n':
		return types.Double(a.value(i)), true
	case 't':
		return types.Bool(a.value(i) != 0), true
	}
	return types.String(a.word(i)), true
}

// variable reads the name of a variable that stands for an observable.
func variable(name string) (kind byte, i int, ok bool) {
	if len(name) != 4 || name[0] != '@' {
		return 0, 0, false
	}
	tens, ones := int(name[2])-'0', int(name[3])-'0'
	return name[1], 10*tens + ones, tens >= 0 && tens <= 9 && ones >= 0 && ones <= 9
}

// general evaluates a condition by CEL's own machine.
func general(p cel.Program, f *frame) verdict {
	v, _, err := p.Eval(activation{f})
	if err != nil {
		return unknown
	}
	b, ok := v.(types.Bool)
	switch {
	case !ok:
		return unknown
	case bool(b):
		return yes
	}
	return no
}

// problem tells why a condition can't be evaluated.
func problem(p cel.Program, f *frame) string {
	v, _, err := p.Eval(activation{f})
	if err == nil {
		return fmt.Sprintf("found %v, expected true or false", v)
	}
	return strings.Join(strings.Fields(err.Error()), " ")
}
