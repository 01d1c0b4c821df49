package evidence

// Kind tells what the values of an observable are.
type Kind int

// The kinds.
const (
	// Number is a value in the unit of the observable: +Inf where a reading is
	// beyond every range, where a path is open, and for a time that never
	// comes.
	Number Kind = iota
	// Whether is 0 for no and 1 for yes.
	Whether
	// Word is an index into Observable.Words.
	Word
)

var kindNames = [...]string{"number", "whether", "word"}

func (k Kind) String() string { return kindNames[k] }

// Observable is one thing that can be observed on a board.
type Observable struct {
	// Name is its form and arguments, "volts dye:output standby rms": what a
	// column of data is called.
	Name string
	Form string   // "volts"
	Args []string // "dye:output", "standby", "rms"
	// Channel is the channel that it is about, from 0; -1 for the whole board.
	Channel int
	// Meter is the meter that it is read with, an index in Board.Meters; -1
	// where none is.
	Meter int
	Kind  Kind
	Words []string // of a Word
	Unit  string   // of a Number: "V", "A", "W", "Ω", "°C", "min"; empty for a ratio
	// Live tells that it takes a meter on a board that has its supply.
	Live bool
}

// Form is a family of observables: one for each of the arguments that a board
// allows.
type Form struct {
	Name string
	Args []string // what the arguments are: "point", "state", "meter"
	Kind Kind
	Unit string
	Doc  string
}

// Record is what was observed on one board.
type Record struct {
	// Values are by the observables of the plan.
	Values []float64
	// Problem tells why there are no values: the board with its faults has no
	// solution. Empty where there are.
	Problem string
}
