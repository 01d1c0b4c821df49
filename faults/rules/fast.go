package rules

import (
	"math"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"
	"cel.dev/cel-go/common/types"
)

// frame is what a condition is evaluated on.
type frame struct {
	values []float64  // of the case
	words  [][]string // by values
	slots  []int32    // places of the condition's observables in values
	plate  *plate
}

func (f *frame) value(i int) float64 { return f.values[f.slots[i]] }

// word is the text of an observable that is a word; empty for a value that is
// none of its words.
func (f *frame) word(i int) string {
	words, v := f.words[f.slots[i]], f.value(i)
	if v >= 0 && v < float64(len(words)) {
		return words[int(v)]
	}
	return ""
}

// verdict is what a condition comes to.
type verdict int8

const (
	no verdict = iota
	yes
	unknown // an error
)

func verdictOf(b bool) verdict {
	if b {
		return yes
	}
	return no
}

// The parts of conditions that need none of CEL's own values: each gives the
// same as CEL's own machine. A number or a text that is not ok is an error.
type (
	truth  func(f *frame) verdict
	number func(f *frame) (x float64, ok bool)
	text   func(f *frame) (s string, ok bool)
)

// builder makes functions of a checked condition.
type builder struct {
	*ast.AST
	plate *plate
}

// build returns the function of a condition for one channel; nil where it has
// parts that only CEL's own machine evaluates.
func build(a *ast.AST, p *plate) truth { return (&builder{a, p}).truth(a.Expr()) }

func (b *builder) isNumber(e ast.Expr) bool { return b.GetType(e.ID()).IsExactType(cel.DoubleType) }
func (b *builder) isText(e ast.Expr) bool   { return b.GetType(e.ID()).IsExactType(cel.StringType) }
func (b *builder) isTruth(e ast.Expr) bool  { return b.GetType(e.ID()).IsExactType(cel.BoolType) }

// truth is nil for what is not known here.
func (b *builder) truth(e ast.Expr) truth {
	switch e.Kind() {
	case ast.LiteralKind:
		if v, ok := e.AsLiteral().(types.Bool); ok {
			x := verdictOf(bool(v))
			return func(*frame) verdict { return x }
		}
	case ast.IdentKind:
		if kind, i, ok := variable(e.AsIdent()); ok && kind == 't' {
			return func(f *frame) verdict { return verdictOf(f.value(i) != 0) }
		}
	case ast.CallKind:
		return b.call(e.AsCall())
	}
	return nil
}

func (b *builder) call(c ast.CallExpr) truth {
	args := c.Args()
	switch name := c.FunctionName(); name {
	case operators.LogicalAnd, operators.LogicalOr:
		return b.logical(name, args)
	case operators.LogicalNot:
		if x := b.truth(args[0]); x != nil {
			return func(f *frame) verdict {
				if v := x(f); v != unknown {
					return 1 - v
				}
				return unknown
			}
		}
	case operators.Conditional:
		if cond, x, y := b.truth(args[0]), b.truth(args[1]), b.truth(args[2]); cond != nil && x != nil && y != nil {
			return func(f *frame) verdict {
				switch cond(f) {
				case yes:
					return x(f)
				case no:
					return y(f)
				}
				return unknown
			}
		}
	case operators.Equals, operators.NotEquals:
		return b.equality(name == operators.Equals, args)
	case operators.Less, operators.LessEquals, operators.Greater, operators.GreaterEquals:
		return b.order(name, args)
	case operators.In:
		return b.among(args)
	case betweenName:
		return b.three(args, between)
	case nearName:
		return b.three(args, near)
	case "math.isInf":
		if x := b.number(args[0]); x.kind != unfit {
			return func(f *frame) verdict {
				v, ok := x.of(f)
				if !ok {
					return unknown
				}
				return verdictOf(math.IsInf(v, 0))
			}
		}
	}
	return nil
}

// logical is a conjunction or disjunction: an operand that decides it makes an
// error of the other of no account, whichever comes first.
func (b *builder) logical(name string, args []ast.Expr) truth {
	decides := no
	if name == operators.LogicalOr {
		decides = yes
	}
	var x truth
	for i, a := range args {
		y := b.truth(a)
		if y == nil {
			return nil
		}
		if i == 0 {
			x = y
			continue
		}
		left := x
		x = func(f *frame) verdict {
			v := left(f)
			if v == decides {
				return v
			}
			w := y(f)
			if w == decides || v != unknown {
				return w
			}
			return unknown
		}
	}
	return x
}

func (b *builder) order(name string, args []ast.Expr) truth {
	l, r := args[0], args[1]
	if !b.isNumber(l) || !b.isNumber(r) {
		return nil
	}
	if name == operators.Greater || name == operators.GreaterEquals {
		l, r = r, l
	}
	orEqual := name == operators.LessEquals || name == operators.GreaterEquals
	x, y := b.number(l), b.number(r)
	switch {
	case x.kind == unfit || y.kind == unfit:
		return nil
	case x.kind == reads && y.kind == constant:
		limit, slot := y.x, x.slot
		return func(f *frame) verdict {
			v := f.values[f.slots[slot]]
			return verdictOf(v < limit || orEqual && v == limit)
		}
	case y.kind == reads && x.kind == constant:
		limit, slot := x.x, y.slot
		return func(f *frame) verdict {
			v := f.values[f.slots[slot]]
			return verdictOf(limit < v || orEqual && v == limit)
		}
	}
	return func(f *frame) verdict {
		v, ok := x.of(f)
		w, also := y.of(f)
		if !ok || !also {
			return unknown
		}
		return verdictOf(v < w || orEqual && v == w)
	}
}

func (b *builder) equality(equal bool, args []ast.Expr) truth {
	same := func(x bool) verdict { return verdictOf(x == equal) }
	switch l, r := args[0], args[1]; {
	case b.isNumber(l) && b.isNumber(r):
		if x, y := b.number(l), b.number(r); x.kind != unfit && y.kind != unfit {
			return func(f *frame) verdict {
				v, ok := x.of(f)
				w, also := y.of(f)
				if !ok || !also {
					return unknown
				}
				return same(v == w)
			}
		}
	case b.isText(l) && b.isText(r):
		if x, y := b.text(l), b.text(r); x != nil && y != nil {
			return func(f *frame) verdict {
				v, ok := x(f)
				w, also := y(f)
				if !ok || !also {
					return unknown
				}
				return same(v == w)
			}
		}
	case b.isTruth(l) && b.isTruth(r):
		if x, y := b.truth(l), b.truth(r); x != nil && y != nil {
			return func(f *frame) verdict {
				v, w := x(f), y(f)
				if v == unknown || w == unknown {
					return unknown
				}
				return same(v == w)
			}
		}
	}
	return nil
}

func (b *builder) three(args []ast.Expr, of func(x, y, z float64) bool) truth {
	x, y, z := b.number(args[0]), b.number(args[1]), b.number(args[2])
	if x.kind == unfit || y.kind == unfit || z.kind == unfit {
		return nil
	}
	return func(f *frame) verdict {
		u, ok := x.of(f)
		v, also := y.of(f)
		w, too := z.of(f)
		if !ok || !also || !too {
			return unknown
		}
		return verdictOf(of(u, v, w))
	}
}
