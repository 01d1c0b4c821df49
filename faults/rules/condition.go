package rules

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common"
	"cel.dev/cel-go/common/ast"
	"cel.dev/cel-go/common/operators"
	"cel.dev/cel-go/common/types"

	"boilwright/sim/boardfile"
	"boilwright/sim/population/evidence"
)

// reference is an observable as a condition has it.
type reference struct {
	form     evidence.Form
	args     []string
	variable string // that stands for it
	at       common.Location
}

func (r *reference) text() string {
	return strings.Join(append([]string{r.form.Name}, r.args...), " ")
}

// condition is one that was read and checked.
type condition struct {
	ast        *cel.Ast
	references []reference
}

// fault is a mistake in a condition.
type fault struct {
	at              common.Location
	found, expected string
	word            string // that was perhaps meant to be one of near
	near            []string
}

// reading turns the text of a condition into one.
type reading struct {
	about      Scope
	whole      bool // whole numbers are left as they are
	factory    ast.ExprFactory
	info       *ast.SourceInfo
	references []reference
	faults     []fault
}

// readCondition reads, resolves and checks a condition. Whole numbers are taken
// as numbers like any other, as everything that is observed is; only where the
// condition makes no sense so they are integers, as CEL has them.
func readCondition(text string, about Scope) (*condition, []fault) {
	c, wrong := readAs(text, about, false)
	if len(wrong) > 0 {
		if d, bad := readAs(text, about, true); len(bad) == 0 {
			return d, nil
		}
	}
	return c, wrong
}

func readAs(text string, about Scope, whole bool) (*condition, []fault) {
	env, err := language()
	if err != nil { // a mistake in the program, which every test would meet
		return nil, []fault{{common.NoLocation, err.Error(), "an environment for conditions", "", nil}}
	}
	parsed, issues := env.Parse(text)
	if issues.Err() != nil {
		return nil, toldBy(issues)
	}
	r := &reading{about: about, whole: whole, factory: ast.NewExprFactory(), info: parsed.NativeRep().SourceInfo()}
	r.walk(parsed.NativeRep().Expr(), 0)
	if len(r.faults) > 0 {
		return nil, r.faults
	}
	checked, issues := env.Check(parsed)
	if issues.Err() != nil {
		return nil, toldBy(issues)
	}
	if t := checked.OutputType(); !t.IsExactType(cel.BoolType) {
		return nil, []fault{{common.NewLocation(1, 0), "a condition that is a " + cel.FormatCELType(t), "one that is true or false", "", nil}}
	}
	estimate, err := env.EstimateCost(checked, sizes{})
	if err != nil {
		return nil, []fault{{common.NewLocation(1, 0), err.Error(), "a condition whose cost can be told", "", nil}}
	}
	if estimate.Max > MaxCost {
		return nil, []fault{{common.NewLocation(1, 0), fmt.Sprintf("a cost of up to %d", estimate.Max), fmt.Sprintf("at most %d", MaxCost), "", nil}}
	}
	return &condition{checked, r.references}, nil
}

// toldBy turns what CEL tells into mistakes.
func toldBy(issues *cel.Issues) []fault {
	var out []fault
	for i, e := range issues.Errors() {
		if i == 8 {
			break
		}
		f := fault{at: e.Location, expected: "a condition in CEL"}
		message := strings.Join(strings.Fields(e.Message), " ")
		if r := []rune(message); len(r) > 300 {
			message = string(r[:300]) + "…"
		}
		name, undeclared := strings.CutPrefix(message, "undeclared reference to '")
		switch rest, overload := strings.CutPrefix(message, "found no matching overload for "); {
		case undeclared:
			f.word, _, _ = strings.Cut(name, "'")
			f.found, f.expected, f.near = quoted(f.word), "an observable, a constant or a function", knownNames()
		case overload:
			operation, operands, _ := strings.Cut(rest, " applied to ")
			f.found = strings.Trim(operation, "'") + " of " + strings.Trim(operands, "'")
			f.expected = "operands that it takes"
		default:
			f.found = strings.TrimPrefix(message, "Syntax error: ")
		}
		out = append(out, f)
	}
	return out
}

// knownNames are what a condition may name.
func knownNames() []string {
	var out []string
	for _, f := range evidence.Forms() {
		out = append(out, f.Name)
	}
	for _, c := range constants {
		out = append(out, c.Name)
	}
	return append(out, betweenName, nearName, "math.abs", "math.least", "math.greatest", "math.isInf")
}

func (r *reading) fail(id int64, found, expected string) {
	r.faults = append(r.faults, fault{r.info.GetStartLocation(id), found, expected, "", nil})
}

// walk resolves the observables of an expression, turns whole numbers into
// numbers, and refuses what is too large.
func (r *reading) walk(e ast.Expr, depth int) {
	if depth > 4*MaxDepth || len(r.faults) > 8 {
		if len(r.faults) == 0 {
			r.fail(e.ID(), "an expression too deep", fmt.Sprintf("at most %d within each other", MaxDepth))
		}
		return
	}
	switch e.Kind() {
	case ast.LiteralKind:
		if r.whole {
			return
		}
		switch v := e.AsLiteral().(type) {
		case types.Int:
			e.SetKindCase(r.factory.NewLiteral(e.ID(), types.Double(v)))
		case types.Uint:
			e.SetKindCase(r.factory.NewLiteral(e.ID(), types.Double(v)))
		}
	case ast.IdentKind:
		for _, c := range constants {
			if c.Channel && c.Name == e.AsIdent() && r.about == WholeBoard {
				r.fail(e.ID(), c.Name, `a constant of the board, or a rule about = "channel"`)
			}
		}
	case ast.CallKind:
		call := e.AsCall()
		if !call.IsMemberFunction() {
			forms := evidence.Forms()
			if i := slices.IndexFunc(forms, func(f evidence.Form) bool { return f.Name == call.FunctionName() }); i >= 0 {
				r.observe(e, forms[i], call.Args())
				return
			}
		} else {
			r.walk(call.Target(), depth+1)
		}
		for i, a := range call.Args() {
			if call.FunctionName() == operators.Index && i == 1 && a.Kind() == ast.LiteralKind {
				continue
			}
			r.walk(a, depth+1)
		}
	case ast.ListKind:
		list := e.AsList()
		if list.Size() > MaxList {
			r.fail(e.ID(), fmt.Sprintf("a list of %d elements", list.Size()), fmt.Sprintf("at most %d", MaxList))
			return
		}
		for _, x := range list.Elements() {
			r.walk(x, depth+1)
		}
	case ast.SelectKind:
		r.walk(e.AsSelect().Operand(), depth+1)
	case ast.ComprehensionKind:
		c := e.AsComprehension()
		for _, x := range []ast.Expr{c.IterRange(), c.AccuInit(), c.LoopCondition(), c.LoopStep(), c.Result()} {
			r.walk(x, depth+1)
		}
	default:
		r.fail(e.ID(), "a map or a message", "numbers, texts, truth values and lists of them")
	}
}

// observe replaces the call of an observable by its variable.
func (r *reading) observe(e ast.Expr, form evidence.Form, args []ast.Expr) {
	ref := reference{form: form, at: r.info.GetStartLocation(e.ID())}
	if column := ref.at.Column() - len(form.Name); column >= 0 { // CEL tells where the parenthesis is
		ref.at = common.NewLocation(ref.at.Line(), column)
	}
	for _, a := range args {
		text := ""
		if a.Kind() == ast.LiteralKind {
			switch v := a.AsLiteral().(type) {
			case types.String:
				text = string(v)
			case types.Int:
				text = strconv.FormatInt(int64(v), 10)
			case types.Double:
				text = strconv.FormatFloat(float64(v), 'f', -1, 64)
			}
		}
		if text == "" {
			r.fail(a.ID(), "an argument of "+form.Name+" that has to be worked out", `a text in quotes, or a number: `+written(form))
			return
		}
		ref.args = append(ref.args, text)
	}
	i := slices.IndexFunc(r.references, func(x reference) bool {
		return x.form.Name == form.Name && slices.Equal(x.args, ref.args)
	})
	if i < 0 {
		if i = len(r.references); i == MaxObservables {
			r.fail(e.ID(), "one more observable", fmt.Sprintf("at most %d different ones", MaxObservables))
			return
		}
		switch form.Kind {
		case evidence.Number:
			ref.variable = numberNames[i]
		case evidence.Whether:
			ref.variable = whetherNames[i]
		default:
			ref.variable = wordNames[i]
		}
		r.references = append(r.references, ref)
	}
	e.SetKindCase(r.factory.NewIdent(e.ID(), r.references[i].variable))
}

// written is how an observable of a form is written.
func written(f evidence.Form) string { return f.Name + "(" + strings.Join(f.Args, ", ") + ")" }

// condition reads the condition of a rule, and adds the rule to the program
// where nothing is wrong with what it is about.
func (c *compiler) condition(field string, w *boardfile.Written, r *Rule, ok bool) {
	tell := func(f fault) {
		e := w.Mistake(field, f.found, f.expected)
		if f.at.Line() > 0 {
			var exact bool
			if e.Line, e.Column, exact = w.At(f.at.Line(), f.at.Column()+1); !exact {
				e.Found += fmt.Sprintf(" (at %d:%d of the text)", f.at.Line(), f.at.Column()+1)
			}
		}
		c.fail(e.Meant(f.word, f.near))
	}
	cond, wrong := readCondition(w.Text, r.About)
	for _, f := range wrong {
		tell(f)
	}
	if cond == nil || !ok {
		return
	}
	wrong, err := c.program.add(*r, cond)
	for _, f := range wrong {
		tell(f)
	}
	if err != nil {
		c.fail(w.Mistake(field, err.Error(), "a condition that can be planned"))
	}
}
