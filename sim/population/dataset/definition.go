package dataset

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
	"boilwright/sim/readings"
)

// Definition is what a data set is: what its population file says, found to be
// right. It is never changed and may be used by several goroutines.
type Definition struct {
	File        string // the population file, as it was named
	Program     string // version of the program
	Board       *boardfile.File
	Population  *population.Population
	Seed        uint64
	Boards      uint64
	Observables []evidence.Observable
	Parameters  bool             // whether what was drawn is kept
	Waveforms   []readings.State // of which waveforms are kept

	spec    population.Spec
	columns []population.Column
	names   []string // of the channels
	forms   map[string]string
	observe func(ctx context.Context, m population.Member) (evidence.Record, error)
}

// Load reads the population file at path. Version is the program's: what it
// computes is taken to be the same only for the same version. The error tells
// every mistake of the file, or of its board, each with its place.
func Load(path, version string) (*Definition, error) {
	f, err := boardfile.LoadPopulation(path)
	return define(f, err, version)
}

// Parse is Load for the bytes of a file that is called name.
func Parse(name string, data []byte, version string) (*Definition, error) {
	f, err := boardfile.ParsePopulation(name, data)
	return define(f, err, version)
}

// define makes the definition of a file that was read with the error err.
func define(f *boardfile.Population, err error, version string) (*Definition, error) {
	if f == nil {
		return nil, err
	}
	board, boardErr := f.LoadBoard()
	if boardErr != nil {
		return nil, errors.Join(err, boardErr)
	}
	b := board.Board
	d := &Definition{File: f.File, Program: version, Board: board, Seed: f.Seed, Boards: f.Boards, Parameters: f.Parameters, forms: map[string]string{}}
	for k := range b.Channels {
		d.names = append(d.names, b.Channels[k].Name)
	}
	for _, form := range evidence.Forms() {
		d.forms[form.Name] = form.Doc
	}
	w := &mistakes{err: err}
	d.spec = w.spec(f, b, d.names)
	d.Observables = w.observables(f.Observe, b)
	d.Waveforms = w.states(f.Waveforms)
	if err := w.joined(); err != nil {
		return nil, err
	}
	if d.Population, err = population.New(b, d.spec, d.Seed); err != nil {
		return nil, fmt.Errorf("%s: %w", f.File, err)
	}
	d.columns = d.Population.Columns()
	plan, err := evidence.NewPlan(d.Population, d.Observables)
	if err != nil {
		return nil, fmt.Errorf("%s: observe: %w", f.File, err)
	}
	d.observe = plan.Observe
	return d, nil
}

// mistakes gathers what is wrong with a population file.
type mistakes struct {
	err  error // of reading it
	list []placed
}

type placed struct {
	line, column int
	err          error
}

func (w *mistakes) wrong(s *boardfile.Statement, err error) {
	w.list = append(w.list, placed{s.Line, s.Column, s.Wrong(err)})
}

// joined is all of them in the order of their places.
func (w *mistakes) joined() error {
	var e *boardfile.Error
	if errors.As(w.err, &e) {
		for _, x := range e.Entries {
			w.list = append(w.list, placed{x.Line, x.Column, x})
		}
	} else if w.err != nil {
		w.list = append(w.list, placed{err: w.err})
	}
	slices.SortStableFunc(w.list, func(a, b placed) int { return cmp.Or(a.line-b.line, a.column-b.column) })
	var errs []error
	for _, p := range w.list {
		errs = append(errs, p.err)
	}
	return errors.Join(errs...)
}

// spec makes the spec of the boards that are drawn. A weight without a channel
// is shared evenly by the places of the fault, as the default of 1 is.
func (w *mistakes) spec(f *boardfile.Population, b *models.Board, names []string) population.Spec {
	s := population.DefaultSpec(b)
	s.Rates.Healthy, s.Rates.More = q.Ratio(f.Healthy), q.Ratio(f.More)
	for i := range f.Weights {
		x := &f.Weights[i]
		places, err := Places(x.Name, s.Rates.Faults, names)
		if err != nil {
			w.wrong(&x.Statement, err)
		}
		for j := range s.Rates.Faults {
			if slices.Contains(places, s.Rates.Faults[j].Place) {
				s.Rates.Faults[j].Weight = x.Value / float64(len(places))
			}
		}
	}
	kept := map[population.Place]bool{}
	for i := range f.Only {
		places, err := Places(f.Only[i].Text, s.Rates.Faults, names)
		if err != nil {
			w.wrong(&f.Only[i], err)
		}
		for _, p := range places {
			kept[p] = true
		}
	}
	if len(f.Only) > 0 {
		s.Rates.Faults = slices.DeleteFunc(s.Rates.Faults, func(r population.Rate) bool { return !kept[r.Place] })
	}
	for i := range f.Tolerances {
		x := &f.Tolerances[i]
		p, ok := population.FindParameter(x.Name)
		if !ok {
			w.wrong(&x.Statement, fmt.Errorf("found parameter %q, expected one that can be drawn", x.Name))
			continue
		}
		spread, err := population.ParseSpread(x.Text)
		if err != nil {
			w.wrong(&x.Statement, err)
			continue
		}
		*p.Of(&s.Tolerances) = spread
	}
	return s
}

// Places returns the places that [CHANNEL:]FAULT names, of those that have
// rates; names are those of the channels. The error says what was found and
// what was expected.
func Places(text string, rates []population.Rate, names []string) ([]population.Place, error) {
	lacks := fmt.Errorf("found %q, which this board cannot have", text)
	if !strings.Contains(text, ":") {
		var out []population.Place
		for _, r := range rates {
			if r.Fault == text {
				out = append(out, r.Place)
			}
		}
		if out != nil {
			return out, nil
		}
		if _, ok := faults.Find(text); ok {
			return nil, lacks
		}
		_, err := faults.Parse("1:"+text, names) // for its message
		return nil, err
	}
	j, err := faults.Parse(text, names)
	if err != nil {
		return nil, err
	}
	p := population.Place{Fault: j.Fault, Channel: j.Channel}
	if faults.New(j.Fault, j.Channel).Text(names) != j.Text(names) {
		return nil, fmt.Errorf("found keys in %q, expected a channel and a fault alone, as severity and keys are drawn", text)
	}
	if !slices.ContainsFunc(rates, func(r population.Rate) bool { return r.Place == p }) {
		return nil, lacks
	}
	return []population.Place{p}, nil
}

func (w *mistakes) states(list []boardfile.Statement) []readings.State {
	var out []readings.State
	for i := range list {
		s, err := readings.ParseState(list[i].Text)
		switch {
		case err != nil || s == readings.UnpluggedState:
			w.wrong(&list[i], fmt.Errorf("found state %q, expected standby, heating or holding", list[i].Text))
		case slices.Contains(out, s):
			w.wrong(&list[i], fmt.Errorf("found state %q twice, expected it once", s))
		default:
			out = append(out, s)
		}
	}
	return out
}

// identity is everything that the rows follow from.
type identity struct {
	Program     string
	Board       string
	Seed        uint64
	Boards      uint64
	Spec        population.Spec
	Observables []evidence.Observable
	Parameters  bool
	Waveforms   []readings.State
}

// Fingerprint is the SHA-256 of everything that the rows follow from, in
// hexadecimal: of the board as it was resolved and of what the population file
// says, not of how it is written, and of the program's version.
func (d *Definition) Fingerprint() string {
	text, err := json.Marshal(identity{d.Program, string(boardfile.Marshal(d.Board.Board)), d.Seed, d.Boards, d.spec, d.Observables, d.Parameters, d.Waveforms})
	if err != nil { // a bound that is not finite, which no definition has
		panic("dataset: " + err.Error())
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// Shard is a part of a data set: number K of N, from 1.
type Shard struct{ K, N uint64 }

// MostShards is into how many parts a data set may be divided.
const MostShards = 100_000

// Whole is the whole data set as one shard.
var Whole = Shard{1, 1}

func (s Shard) String() string { return fmt.Sprintf("%d/%d", s.K, s.N) }

// ParseShard reads "3/16".
func ParseShard(text string) (Shard, error) {
	var s Shard
	if n, err := fmt.Sscanf(text, "%d/%d", &s.K, &s.N); err != nil || n != 2 || s.String() != text || s.K < 1 || s.K > s.N || s.N > MostShards {
		return Shard{}, fmt.Errorf("found %q, expected a part of a whole such as 3/16, of at most %d", text, MostShards)
	}
	return s, nil
}

// Range is the indices of a shard, from the first to below the second. The
// shards of a data set are alike in size, up to one board.
func (d *Definition) Range(s Shard) (from, to uint64) {
	return d.Boards * (s.K - 1) / s.N, d.Boards * s.K / s.N
}
