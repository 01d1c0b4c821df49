package command

import (
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim/population"
	"boilwright/sim/readings"
)

// spec makes the spec of the flags.
func (o *populationOptions) spec(t *target) (population.Spec, error) {
	s := population.DefaultSpec(t.file.Board)
	s.Rates.Healthy, s.Rates.More = o.healthy.value, o.more.value
	if len(o.only) > 0 {
		kept := map[population.Place]bool{}
		for _, text := range o.only {
			places, err := onlyPlaces(text, s.Rates.Faults, t.names)
			if err != nil {
				return s, err
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

// onlyPlaces returns the places that a text of --only names.
func onlyPlaces(text string, rates []population.Rate, names []string) ([]population.Place, error) {
	var out []population.Place
	if !strings.Contains(text, ":") {
		for _, r := range rates {
			if r.Fault == text {
				out = append(out, r.Place)
			}
		}
		if out == nil {
			if _, ok := faults.Find(text); ok {
				return nil, misuse("--only: found %q, which this board cannot have", text)
			}
			_, err := faults.Parse("1:"+text, names) // for its message
			return nil, misuse("--only: %w", err)
		}
		return out, nil
	}
	j, err := faults.Parse(text, names)
	if err != nil {
		return nil, misuse("--only: %w", err)
	}
	if plain := faults.New(j.Fault, j.Channel); plain.Text(names) != j.Text(names) {
		return nil, misuse("--only: found keys in %q, expected a channel and a fault alone, as severity and keys are drawn", text)
	}
	p := population.Place{Fault: j.Fault, Channel: j.Channel}
	if !slices.ContainsFunc(rates, func(r population.Rate) bool { return r.Place == p }) {
		return nil, misuse("--only: found %q, which this board cannot have", text)
	}
	return []population.Place{p}, nil
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
