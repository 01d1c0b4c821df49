package infer_test

import (
	"bytes"
	"strings"
	"testing"

	"boilwright/faults"
	"boilwright/faults/infer"
	"boilwright/models"
	"boilwright/sim/boardfile"
)

// Every number of the default priors says where it comes from, and all are
// assumptions.
func TestDefaultPriors(t *testing.T) {
	p := infer.DefaultPriors()
	if len(p.Sources) != 1 || p.Sources[0] != "assumption" {
		t.Errorf("found sources %v, expected assumption alone", p.Sources)
	}
	for _, f := range faults.Catalogue() {
		if !(p.Weight(f.Name) > 0) {
			t.Errorf("%s: found weight %g, expected more than 0", f.Name, p.Weight(f.Name))
		}
	}
}

func TestReadPriors(t *testing.T) {
	_, err := infer.ReadPriors("my.csv", strings.NewReader("kind,name,fault,value,source\nfault,triac-shortd,,8,seen\nfault,triac-open,,-1,seen\nfault,opto-open,,1,\nother,,,1,seen\nnonsense\nsight,aura,none,0.1,seen\n"))
	if err == nil {
		t.Fatal("found nothing wrong")
	}
	for _, want := range []string{`my.csv:2: name: found "triac-shortd"`, `my.csv:3: value: found "-1"`, "my.csv:4: source", "my.csv:5: value", "my.csv:6: line", `my.csv:7: name: found "aura"`, "found no line healthy", "found no line pair"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("expected %q in:\n%v", want, err)
		}
	}
	if _, err := infer.ReadPriors("a", bytes.NewReader(infer.PriorsText())); err != nil {
		t.Error(err)
	}
}

// Every fault of the catalogue that a board can have is a hypothesis on each
// channel, priors sum to one with what is not in the catalogue, and each says
// what to do.
func TestEnumerate(t *testing.T) {
	p := infer.DefaultPriors()
	b := boardfile.Default()
	hs := infer.Enumerate(b, p)
	names := map[string]bool{}
	sum := p.Other
	for _, h := range hs {
		names[h.Name] = true
		sum += h.Prior
		if h.Action.Do == "" || strings.HasSuffix(h.Action.Do, ": ") {
			t.Errorf("%s: found no action", h.Name)
		}
		if _, err := h.Set.Applied(b); err != nil {
			t.Errorf("%s: %v", h.Name, err)
		}
	}
	if sum < 1-1e-9 || sum > 1+1e-9 {
		t.Errorf("found priors that sum to %g", sum)
	}
	for _, f := range faults.Catalogue() {
		for ch := range b.Channels {
			name := b.Channels[ch].Name + ":" + f.Name
			if f.Scope == faults.PerBoard {
				ch, name = faults.WholeBoard, "board:"+f.Name
			}
			if faults.New(f.Name, ch).Check(b) == nil && !names[name] {
				t.Errorf("%s: found no hypothesis", name)
			}
		}
	}
	for _, pair := range []string{"dye:triac-shorted + dye:link-open", "dye:triac-open + dye:gate-resistor-open", "dye:triac-shorted + dye:opto-shorted"} {
		if !names[pair] {
			t.Errorf("%s: found no hypothesis", pair)
		}
	}
	// A board without what a fault needs does not have it.
	b = b.Clone()
	b.Channels[0].Snubber = models.Snubber{}
	for _, h := range infer.Enumerate(b, p) {
		if h.Name == "soak:snubber-capacitor-open" {
			t.Errorf("found %s on a channel without one", h.Name)
		}
	}
}
