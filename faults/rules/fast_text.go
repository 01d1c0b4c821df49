package rules

import (
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/types"
)

// text is nil for what is not known here.
func (b *builder) text(e ast.Expr) text {
	switch e.Kind() {
	case ast.LiteralKind:
		if v, ok := e.AsLiteral().(types.String); ok {
			return func(*frame) (string, bool) { return string(v), true }
		}
	case ast.IdentKind:
		if e.AsIdent() == channelName {
			return func(f *frame) (string, bool) { return f.plate.channel, true }
		}
		if kind, i, ok := variable(e.AsIdent()); ok && kind == 'w' {
			return func(f *frame) (string, bool) { return f.word(i), true }
		}
	}
	return nil
}

// among is a number or a text in a list that is written out.
func (b *builder) among(args []ast.Expr) truth {
	if args[1].Kind() != ast.ListKind || args[1].AsList().Size() == 0 {
		return nil
	}
	elements := args[1].AsList().Elements()
	switch x := args[0]; {
	case b.isNumber(x):
		return in(func(e ast.Expr) number {
			if o := b.number(e); o.kind != unfit {
				return o.of
			}
			return nil
		}, x, elements, b.isNumber)
	case b.isText(x):
		return in(b.text, x, elements, b.isText)
	}
	return nil
}

func in[T comparable, F ~func(*frame) (T, bool)](make func(ast.Expr) F, of ast.Expr, elements []ast.Expr, fits func(ast.Expr) bool) truth {
	x := make(of)
	var list []F
	for _, e := range elements {
		y := make(e)
		if y == nil || !fits(e) {
			return nil
		}
		list = append(list, y)
	}
	if x == nil {
		return nil
	}
	return func(f *frame) verdict {
		v, ok := x(f)
		found := false
		for _, y := range list {
			w, also := y(f)
			ok = ok && also
			found = found || v == w
		}
		if !ok {
			return unknown
		}
		return verdictOf(found)
	}
}
