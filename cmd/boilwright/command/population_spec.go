package command

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/population"
	"boilwright/sim/population/dataset"
	"boilwright/sim/readings"
)

// drawFlags are the flags of which boards are drawn.
type drawFlags struct {
	boards        uint64
	seed, from    uint64
	healthy, more quantityValue[q.Ratio]
	only          []string
	tolerances    []string
	workers       int
}

// add adds the flags to a command that draws so many boards by default.
func (o *drawFlags) add(cmd *cobra.Command, boards uint64) {
	o.healthy = quantityValue[q.Ratio]{value: 0.5, max: 1, typ: "RATIO"}
	o.more = quantityValue[q.Ratio]{value: 0.1, max: 0.99, typ: "RATIO"}
	f := cmd.Flags()
	f.Uint64VarP(&o.boards, "boards", "n", boards, "`NUMBER` of boards")
	f.Uint64Var(&o.seed, "seed", 1, "`NUMBER` that seeds the draw")
	f.Uint64Var(&o.from, "from", 0, "`INDEX` of the first board")
	f.Var(&o.healthy, "healthy", "`RATIO` of boards without a fault")
	f.Var(&o.more, "more", "probability, `RATIO`, that a board with a fault has one more, and so on")
	f.StringArrayVar(&o.only, "only", nil, "draw no other fault than `[CHANNEL:]FAULT`, on any channel where none is given; repeatable [all]")
	f.StringArrayVar(&o.tolerances, "tolerance", nil, "draw a parameter by another law, `NAME=LAW [LOW to HIGH]`, as \"population --explain\" prints it; repeatable")
	f.IntVar(&o.workers, "workers", 0, "`NUMBER` of boards that are worked on at once [one a core]")
	complete(cmd, "only", completeFault)
}

func (o *drawFlags) check() error {
	switch {
	case o.boards < 1 || o.boards > 1e9:
		return misuse("--boards: found %d, expected 1 to 1000000000", o.boards)
	case o.from > 1<<62:
		return misuse("--from: found %d, expected at most %d", o.from, uint64(1)<<62)
	case o.workers < 0 || o.workers > 1024:
		return misuse("--workers: found %d, expected 0 to 1024", o.workers)
	}
	return nil
}

// spec makes the spec of the flags.
func (o *drawFlags) spec(t *target) (population.Spec, error) {
	s := population.DefaultSpec(t.file.Board)
	s.Rates.Healthy, s.Rates.More = o.healthy.value, o.more.value
	if len(o.only) > 0 {
		kept := map[population.Place]bool{}
		for _, text := range o.only {
			places, err := dataset.Places(text, s.Rates.Faults, t.names)
			if err != nil {
				return s, misuse("--only: %w", err)
			}
			for _, p := range places {
				kept[p] = true
			}
		}
		s.Rates.Faults = slices.DeleteFunc(s.Rates.Faults, func(r population.Rate) bool { return !kept[r.Place] })
	}
	for _, text := range o.tolerances {
		if err := setTolerance(&s.Tolerances, text); err != nil {
			return s, err
		}
	}
	return s, nil
}

// setTolerance reads NAME=LAW [LOW to HIGH].
func setTolerance(t *population.Tolerances, text string) error {
	name, law, _ := strings.Cut(text, "=")
	p, ok := population.FindParameter(strings.TrimSpace(name))
	if !ok {
		return misuse("--tolerance %q: found parameter %q, expected one that --explain lists", text, name)
	}
	s, err := population.ParseSpread(law)
	if err != nil {
		return misuse("--tolerance %q: %w", text, err)
	}
	*p.Of(t) = s
	return nil
}

func leadNames(b *models.Board) []string {
	var names []string
	for _, l := range readings.Leads(b) {
		names = append(names, l.Name+"\t"+l.Title)
	}
	return names
}

func clampNames(b *models.Board) []string {
	var names []string
	for _, c := range b.Clamps {
		names = append(names, c.Name+"\t"+c.Detector.String())
	}
	return names
}
