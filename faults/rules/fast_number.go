package rules

import (
	"math"

	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"
	"cel.dev/cel-go/common/types"
)

// operand is a number of a condition: a value of the case, a constant, or what
// is worked out from them.
type operand struct {
	kind operandKind
	slot int     // of a reading
	x    float64 // of a constant
	f    number
}

type operandKind uint8

const (
	unfit    operandKind = iota // not known here
	reads                       // a value of the case
	constant                    // the same on every board
	works                       // worked out
)

func (o *operand) of(f *frame) (x float64, ok bool) {
	switch o.kind {
	case reads:
		return f.values[f.slots[o.slot]], true
	case constant:
		return o.x, true
	}
	return o.f(f)
}

// worked makes an operand of a function of others; where all of these are
// constants it is one too.
func worked(f number, of ...operand) operand {
	fixed := true
	for i := range of {
		if of[i].kind == unfit {
			return operand{}
		}
		fixed = fixed && of[i].kind == constant
	}
	if fixed {
		if x, ok := f(nil); ok {
			return operand{kind: constant, x: x}
		}
	}
	return operand{kind: works, f: f}
}

// number is unfit for what is not known here.
func (b *builder) number(e ast.Expr) operand {
	if !b.isNumber(e) {
		return operand{}
	}
	switch e.Kind() {
	case ast.LiteralKind:
		if v, ok := e.AsLiteral().(types.Double); ok {
			return operand{kind: constant, x: float64(v)}
		}
	case ast.IdentKind:
		switch e.AsIdent() {
		case supplyName:
			return operand{kind: constant, x: b.plate.supply}
		case setPoint:
			return operand{kind: constant, x: b.plate.setPoint}
		case ratedWatts:
			return operand{kind: constant, x: b.plate.ratedWatts}
		}
		if kind, i, ok := variable(e.AsIdent()); ok && kind == 'n' {
			return operand{kind: reads, slot: i}
		}
	case ast.CallKind:
		return b.arithmetic(e.AsCall())
	}
	return operand{}
}

func (b *builder) arithmetic(c ast.CallExpr) operand {
	args := c.Args()
	switch name := c.FunctionName(); name {
	case operators.Add:
		return b.two(args, func(x, y float64) float64 { return x + y })
	case operators.Subtract:
		return b.two(args, func(x, y float64) float64 { return x - y })
	case operators.Multiply:
		return b.two(args, func(x, y float64) float64 { return x * y })
	case operators.Divide:
		return b.two(args, func(x, y float64) float64 { return x / y })
	case operators.Negate:
		return b.one(args, func(x float64) float64 { return -x })
	case "math.abs":
		return b.one(args, math.Abs)
	case "math.@min":
		return b.extreme(args, func(x, y float64) bool { return x > y })
	case "math.@max":
		return b.extreme(args, func(x, y float64) bool { return x < y })
	case operators.Conditional:
		cond, x, y := b.truth(args[0]), b.number(args[1]), b.number(args[2])
		if cond == nil || x.kind == unfit || y.kind == unfit {
			return operand{}
		}
		return operand{kind: works, f: func(f *frame) (float64, bool) {
			switch cond(f) {
			case yes:
				return x.of(f)
			case no:
				return y.of(f)
			}
			return 0, false
		}}
	}
	return operand{}
}

func (b *builder) one(args []ast.Expr, of func(float64) float64) operand {
	x := b.number(args[0])
	return worked(func(f *frame) (float64, bool) {
		v, ok := x.of(f)
		return of(v), ok
	}, x)
}

func (b *builder) two(args []ast.Expr, of func(x, y float64) float64) operand {
	x, y := b.number(args[0]), b.number(args[1])
	return worked(func(f *frame) (float64, bool) {
		v, ok := x.of(f)
		w, also := y.of(f)
		return of(v, w), ok && also
	}, x, y)
}

// extreme is the least or greatest of numbers, or of the elements of a list
// that is written out; worse reports whether its second argument takes the
// place of the first.
func (b *builder) extreme(args []ast.Expr, worse func(x, y float64) bool) operand {
	if len(args) == 1 && args[0].Kind() == ast.ListKind {
		args = args[0].AsList().Elements()
	}
	var list []operand
	for _, a := range args {
		list = append(list, b.number(a))
	}
	if len(list) == 0 {
		return operand{}
	}
	return worked(func(f *frame) (float64, bool) {
		best, ok := list[0].of(f)
		for i := range list[1:] {
			v, also := list[1+i].of(f)
			ok = ok && also && best == best && v == v
			if worse(best, v) {
				best = v
			}
		}
		return best, ok
	}, list...)
}
