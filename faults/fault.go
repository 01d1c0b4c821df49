package faults

import (
	"slices"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// Fault is one entry of the catalogue: what can go wrong, how it changes a
// board, and what a reader should know about it.
//
// The texts are general: they name no board's figures, because a reading
// depends on the board, the supply and the meter and has to be computed.
type Fault struct {
	Name  string // trade words in lower case with hyphens
	Part  Part
	Scope Scope
	Title string // a few words, for a heading

	What    string // what it is, one paragraph
	Physics string // what changes in the circuit or in the heat balance
	Seen    string // what it shows

	// LookAlikes names faults that a first look mistakes for this one.
	LookAlikes []string
	// Separates tells which tests keep them apart, unplugged ones first.
	Separates []Step
	// Danger is the caution that belongs beside a live test of this fault.
	Danger string

	// Graded tells that severities between 0 and 1 mean something; otherwise
	// only 0 (healthy) and 1 are taken.
	Graded bool
	// Severity is the law from the severity to what is edited.
	Severity string
	// Lasting tells that what has happened stays so until a part is replaced:
	// an intermittent course is refused.
	Lasting bool
	// Wets tells that it is a film, which takes the course of [Wetting].
	Wets bool
	// Again tells what a second injection of the same fault in the same place
	// does.
	Again Again

	Keys []Key

	// needs, where not nil, tells what a healthy board lacks for the fault.
	needs func(b *models.Board, ch int) error
	edit  func(b *models.Board, e edit) error
}

// Part groups faults by what has failed.
type Part string

// The groups, in the order of the catalogue.
const (
	TriacPart         Part = "triac"
	OptoPart          Part = "opto"
	GatePart          Part = "gate and snubber"
	DrivePart         Part = "drive"
	ContaminationPart Part = "contamination"
	LoadPart          Part = "load"
	BoilerPart        Part = "boiler"
	SupplyPart        Part = "supply"
)

// Scope tells what a fault belongs to.
type Scope int

// The two scopes.
const (
	PerChannel Scope = iota // one channel: written CHANNEL:FAULT
	PerBoard                // no channel: written board:FAULT
)

func (s Scope) String() string {
	if s == PerBoard {
		return "board"
	}
	return "channel"
}

// Again is what a second injection of the same fault in the same place does,
// both at full severity.
type Again int

// The rules for a second injection.
const (
	Same  Again = iota // nothing more
	Twice              // it acts again: a second path, a factor squared, an exchange back
)

// Step is one test that keeps a fault apart from its look-alikes.
type Step struct {
	Live bool   // needs the supply connected
	Do   string // what to do and what it tells
}

// Key is a setting of a fault, besides the severity.
type Key struct {
	Name      string
	Dimension q.Dimension
	// Default is the value where none is given; not used where Own is set.
	Default float64
	// Own, where not empty, names the value of the healthy part that stands
	// where none is given.
	Own string
	// Min and Max bound the value, both included.
	Min, Max float64
	// Choices, where not empty, are the words that the key takes; the
	// dimension is then none and the value is the chosen one's.
	Choices []Choice
	Doc     string
}

// Choice is a word that a key takes and the value it stands for.
type Choice struct {
	Word  string
	Value float64
}

// Catalogue returns all faults in order: by part, common ones first. The
// caller owns the slice, not what it points to.
func Catalogue() []Fault { return slices.Clone(catalogue) }

// Names lists the names of all faults in the order of the catalogue.
func Names() []string {
	names := make([]string, len(catalogue))
	for i := range catalogue {
		names[i] = catalogue[i].Name
	}
	return names
}

// Find returns the fault called name.
func Find(name string) (Fault, bool) {
	if f := find(name); f != nil {
		return *f, true
	}
	return Fault{}, false
}

func find(name string) *Fault {
	i := slices.IndexFunc(catalogue, func(f Fault) bool { return f.Name == name })
	if i < 0 {
		return nil
	}
	return &catalogue[i]
}

// Key returns the key called name.
func (f *Fault) Key(name string) (Key, bool) {
	i := slices.IndexFunc(f.Keys, func(k Key) bool { return k.Name == name })
	if i < 0 {
		return Key{}, false
	}
	return f.Keys[i], true
}

// Live reports whether one of the separating tests needs the supply
// connected.
func (f *Fault) Live() bool {
	return slices.ContainsFunc(f.Separates, func(s Step) bool { return s.Live })
}

// Caution is what every output that names a live test says beside it.
const Caution = "live tests only by someone competent and, where local rules ask for it, licensed; " +
	"on a supply behind a residual-current device, which does not protect between line and neutral; " +
	"with a meter of the right category, proved on a known source before and after; " +
	"one lead clipped on before power is applied. " +
	"Isolate, lock off and prove dead before touching: the board is live in standby, " +
	"capacitors keep a charge, and boilers are hot and under pressure. " +
	"This is a simulation and a real board can differ; local codes and licensed practice prevail"
