package rules

import (
	"math"
	"slices"
	"sync"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/cost"
	"cel.dev/cel-go/common/env"
	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/common/types/ref"
	"cel.dev/cel-go/ext"
)

// Bounds of a condition. One that is beyond them is refused when it is read.
const (
	MaxCondition   = 4096   // characters
	MaxDepth       = 48     // parentheses, calls and lists within each other
	MaxList        = 64     // elements of a list
	MaxObservables = 64     // different ones
	MaxCost        = 20_000 // of one evaluation, in the units of CEL's cost model
	maxNodes       = 3000   // of the expression
)

// The constants of a condition.
const (
	supplyName  = "supply"
	setPoint    = "set_point"
	ratedWatts  = "rated_watts"
	channelName = "channel"
)

// Constant is a name that stands for a value of the board's plate.
type Constant struct {
	Name, Unit, Doc string
	// Channel tells that only rules about a channel have it.
	Channel bool
}

// Constants lists the constants of a condition.
func Constants() []Constant { return slices.Clone(constants) }

var constants = []Constant{
	{supplyName, "V", "the nominal voltage of the supply", false},
	{setPoint, "°C", "the set point of the channel", true},
	{ratedWatts, "W", "what the element takes, cold, at the nominal voltage of the supply", true},
	{channelName, "", "the name of the channel, a text", true},
}

// Function is what a condition may call besides observables and what CEL has.
type Function struct{ Name, Doc string }

// Functions lists them. The mathematical ones are those of an extension of
// CEL.
func Functions() []Function { return slices.Clone(functions) }

var functions = []Function{
	{"between(x, low, high)", "whether x is from low to high, both included"},
	{"near(x, value, part)", "whether x is at most part × |value| away from value"},
	{"math.abs(x)", "the value without its sign"},
	{"math.least(x, y, …)", "the least"},
	{"math.greatest(x, y, …)", "the greatest"},
	{"math.isInf(x)", "whether x is beyond every range, open or never"},
}

const (
	betweenName = "between"
	nearName    = "near"
)

// What is no number is in no order, as in IEEE 754 and in CEL: such a
// comparison is false.

func between(x, low, high float64) bool { return x >= low && x <= high }

func near(x, value, part float64) bool {
	return x == value || math.Abs(x-value) <= part*math.Abs(value)
}

func ternary(f func(x, y, z float64) bool) cel.OverloadOpt {
	return cel.FunctionBinding(func(args ...ref.Val) ref.Val {
		var v [3]float64
		for i := range v {
			x, ok := args[i].(types.Double)
			if !ok {
				return types.MaybeNoSuchOverloadErr(args[i])
			}
			v[i] = float64(x)
		}
		return types.Bool(f(v[0], v[1], v[2]))
	})
}

// left are the functions of CEL that conditions do without: patterns, whose
// work grows with what they are, and times of day, which nothing here has.
var left = []string{
	"matches", "timestamp", "duration", "getFullYear", "getMonth", "getDayOfYear", "getDayOfMonth", "getDate", "getDayOfWeek",
	"getHours", "getMinutes", "getSeconds", "getMilliseconds", "bytes", "dyn", "type",
}

// Names of the variables that observables stand as, by the type of what they
// are. No condition can have them by itself.
var (
	numberNames, whetherNames, wordNames = variableNames('n'), variableNames('t'), variableNames('w')
)

func variableNames(letter byte) (names [MaxObservables]string) {
	for i := range names {
		names[i] = string([]byte{'@', letter, byte('0' + i/10), byte('0' + i%10)})
	}
	return names
}

// language is the environment of all conditions. It knows no board.
var language = sync.OnceValues(func() (*cel.Env, error) {
	subset := env.NewLibrarySubset()
	subset.IncludeMacros = []string{"all", "exists", "exists_one"}
	for _, name := range left {
		subset.ExcludeFunctions = append(subset.ExcludeFunctions, env.NewFunction(name))
	}
	three := []*cel.Type{cel.DoubleType, cel.DoubleType, cel.DoubleType}
	options := []cel.EnvOption{
		cel.StdLib(cel.StdLibSubset(subset)),
		ext.Math(),
		cel.CrossTypeNumericComparisons(true),
		cel.ParserExpressionSizeLimit(MaxCondition),
		cel.ParserRecursionLimit(MaxDepth),
		cel.ParserErrorRecoveryLimit(4),
		cel.ExpressionNodeLimit(maxNodes),
		cel.ASTValidators(cel.ValidateComprehensionNestingLimit(2)),
		cel.Function(betweenName, cel.Overload("between_double_double_double", three, cel.BoolType, ternary(between))),
		cel.Function(nearName, cel.Overload("near_double_double_double", three, cel.BoolType, ternary(near))),
		cel.Variable(supplyName, cel.DoubleType),
		cel.Variable(setPoint, cel.DoubleType),
		cel.Variable(ratedWatts, cel.DoubleType),
		cel.Variable(channelName, cel.StringType),
	}
	for i := range MaxObservables {
		options = append(options, cel.Variable(numberNames[i], cel.DoubleType), cel.Variable(whetherNames[i], cel.BoolType), cel.Variable(wordNames[i], cel.StringType))
	}
	return cel.NewCustomEnv(options...)
})

// sizes bounds what is not known of a condition's values: the texts are names.
type sizes struct{}

var _ cost.Estimator = sizes{}

func (sizes) EstimateSize(n cost.AstNode) *cost.SizeEstimate {
	if len(n.Path()) == 1 && n.Type() == cel.StringType {
		return &cost.SizeEstimate{Min: 0, Max: 100}
	}
	return nil
}

func (sizes) EstimateCallCost(string, string, *cost.AstNode, []cost.AstNode) *cost.CallEstimate {
	return nil
}
