package faults

import (
	"math"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// place returns an injection of f at full severity in a fitting place.
func place(f *Fault) Injection {
	if f.Scope == PerBoard {
		return New(f.Name, WholeBoard)
	}
	return New(f.Name, 1)
}

func TestCatalogue(t *testing.T) {
	pattern := regexp.MustCompile(`^[a-z]+(-[a-z]+)*$`)
	common := map[string]bool{}
	for _, k := range CommonKeys() {
		common[k.Name] = true
	}
	seen := map[string]bool{}
	for i := range catalogue {
		f := &catalogue[i]
		t.Run(f.Name, func(t *testing.T) {
			if !pattern.MatchString(f.Name) || seen[f.Name] || f.Name == boardWord {
				t.Errorf("found the name %q, expected one of its own in lower case with hyphens", f.Name)
			}
			seen[f.Name] = true
			documented(t, f)
			lookAlikes(t, f)
			for _, k := range f.Keys {
				key(t, f, k, pattern, common)
			}
			for _, o := range orientations {
				t.Run(o.String(), func(t *testing.T) { edits(t, f, o) })
			}
		})
	}
	for _, name := range []string{"triac-shorted", "triac-one-way", "triac-open", "opto-dead", "opto-shorted", "opto-one-way",
		"opto-half-wave", "gate-resistor-open", "element-open", "link-open"} {
		if !seen[name] {
			t.Errorf("found no %s", name)
		}
	}
}

// documented asks for every text and for the order of advice: unplugged tests
// before live ones, and a caution beside each.
func documented(t *testing.T, f *Fault) {
	for _, d := range []struct{ field, text string }{{"Title", f.Title}, {"What", f.What}, {"Physics", f.Physics}, {"Seen", f.Seen},
		{"Danger", f.Danger}, {"Severity", f.Severity}} {
		if strings.TrimSpace(d.text) != d.text || len(d.text) < 8 {
			t.Errorf("%s: found %q, expected a text", d.field, d.text)
		}
		if strings.Contains(d.text, "\n") {
			t.Errorf("%s: found a line break, expected one paragraph", d.field)
		}
	}
	if len(f.Separates) == 0 || f.Separates[0].Live {
		t.Error("Separates: expected an unplugged test first")
	}
	if !slices.IsSortedFunc(f.Separates, func(a, b Step) int {
		switch {
		case a.Live == b.Live:
			return 0
		case a.Live:
			return 1
		}
		return -1
	}) {
		t.Error("Separates: found an unplugged test after a live one")
	}
	for _, s := range f.Separates {
		if len(s.Do) < 20 {
			t.Errorf("Separates: found %q, expected a test", s.Do)
		}
	}
	if f.Graded == strings.HasPrefix(f.Severity, "none") {
		t.Errorf("Severity: found %q with Graded %v", f.Severity, f.Graded)
	}
	if f.edit == nil {
		t.Error("found no edit")
	}
}

// lookAlikes asks that a mistake works both ways.
func lookAlikes(t *testing.T, f *Fault) {
	if len(f.LookAlikes) == 0 {
		t.Error("LookAlikes: found none")
	}
	for i, name := range f.LookAlikes {
		g := find(name)
		switch {
		case g == nil:
			t.Errorf("LookAlikes: found %q, which is no fault", name)
		case g == f, slices.Contains(f.LookAlikes[:i], name):
			t.Errorf("LookAlikes: found %q again", name)
		case !slices.Contains(g.LookAlikes, f.Name):
			t.Errorf("LookAlikes: found %s, which does not name %s", name, f.Name)
		}
	}
}

func key(t *testing.T, f *Fault, k Key, pattern *regexp.Regexp, common map[string]bool) {
	if !pattern.MatchString(k.Name) || common[k.Name] {
		t.Errorf("found the key %q, expected a name of its own", k.Name)
	}
	if len(k.Doc) < 8 {
		t.Errorf("%s: found no doc", k.Name)
	}
	if !(k.Min < k.Max) {
		t.Errorf("%s: found the bounds %g to %g", k.Name, k.Min, k.Max)
	}
	if k.Own == "" && !k.takes(k.Default) {
		t.Errorf("%s: found the default %s, expected %s", k.Name, k.format(k.Default), k.expected())
	}
	ends := []float64{k.Min, k.Max}
	for _, v := range ends {
		j := place(f).With(k.Name, v)
		b := healthyBoard(models.LineSide, models.MT1Supply)
		got, err := Set{j}.Applied(b)
		if f.Name == "supply-low" || f.Name == "supply-high" {
			continue // the board's own bounds are nearer: TestSupplyBounds
		}
		if err != nil {
			t.Errorf("%s = %s: %v", k.Name, k.format(v), err)
			continue
		}
		valid(t, got)
		back, err := Parse(j.String(), nil)
		if err != nil || !reflect.DeepEqual(back, j) {
			t.Errorf("found %v from %q, expected %v: %v", back, j.String(), j, err)
		}
	}
	for _, v := range []float64{math.Inf(-1), math.Nextafter(k.Min, math.Inf(-1)), math.Nextafter(k.Max, math.Inf(1)), math.NaN()} {
		if err := place(f).With(k.Name, v).Check(nil); err == nil {
			t.Errorf("%s = %g: found no error, expected one outside %s", k.Name, v, k.expected())
		}
	}
	if k.Dimension.Example() == "" || (len(k.Choices) > 0 && k.Dimension != q.Number) {
		t.Errorf("%s: found the dimension %s", k.Name, k.Dimension)
	}
}

// edits asks for a valid and visible edit, on the copy only and nowhere else,
// which is nothing at severity 0 and follows the rule for a second one.
func edits(t *testing.T, f *Fault, o orientation) {
	healthy := healthyBoard(o.side, o.mt1)
	pristine := healthy.Clone()
	j := place(f)
	full, err := Set{j}.Applied(healthy)
	if err != nil {
		t.Fatal(err)
	}
	valid(t, full)
	if reflect.DeepEqual(full, pristine) {
		t.Error("found a board like the healthy one, expected a visible effect")
	}
	if !reflect.DeepEqual(healthy, pristine) {
		t.Error("found the healthy board changed by an edit of its copy")
	}
	if f.Scope == PerChannel {
		for _, ch := range []int{0, 2} {
			if !reflect.DeepEqual(full.Channels[ch], pristine.Channels[ch]) {
				t.Errorf("found channel %d changed, expected channel 2 only", ch+1)
			}
		}
	}
	for _, p := range full.Bridges[len(pristine.Bridges):] {
		if f.Scope == PerChannel && p.Channel != 1 {
			t.Errorf("found a path of channel %d, expected 2", p.Channel+1)
		}
	}

	j.Severity = 0
	none, err := Set{j}.Applied(healthy)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(none, pristine) {
		t.Error("found a difference at severity 0, expected the healthy board")
	}

	j.Severity = 0.5
	half, err := Set{j}.Applied(healthy)
	if f.Graded {
		if err != nil {
			t.Fatal(err)
		}
		valid(t, half)
		if reflect.DeepEqual(half, full) || reflect.DeepEqual(half, pristine) {
			t.Error("found half severity equal to none or all")
		}
		monotone(t, healthy, j)
	} else if err == nil {
		t.Error("found severity 0.5 taken, expected an error")
	}

	j.Severity = 1
	twice, err := Set{j, j}.Applied(healthy)
	if err != nil && f.Name != "supply-low" && f.Name != "supply-high" {
		t.Fatal(err)
	}
	if err == nil {
		if f.Again == Same != reflect.DeepEqual(twice, full) {
			t.Errorf("found a second injection with effect %v, expected the rule %v", !reflect.DeepEqual(twice, full), f.Again)
		}
		valid(t, twice)
	}
}

// monotone asks that every number that a fault changes goes one way as the
// severity rises.
func monotone(t *testing.T, healthy *models.Board, j Injection) {
	const steps = 16
	direction := map[string]float64{}
	var last map[string]float64
	for k := 1; k <= steps; k++ {
		j.Severity = float64(k) / steps
		b, err := Set{j}.Applied(healthy)
		if err != nil {
			t.Fatal(err)
		}
		now := numbers(b)
		for path, x := range now {
			if last == nil || x == last[path] {
				continue
			}
			d := math.Copysign(1, x-last[path])
			if direction[path] != 0 && direction[path] != d {
				t.Errorf("%s: found it turning at severity %g", path, j.Severity)
			}
			direction[path] = d
		}
		last = now
	}
	if len(direction) == 0 {
		t.Error("found nothing that follows the severity")
	}
}

func TestFindAndNames(t *testing.T) {
	names := Names()
	all := Catalogue()
	if len(names) != len(all) {
		t.Fatalf("found %d names of %d faults", len(names), len(all))
	}
	for i, n := range names {
		f, ok := Find(n)
		if !ok || f.Name != n || all[i].Name != n {
			t.Errorf("found %q under %q", f.Name, n)
		}
	}
	if _, ok := Find("triac"); ok {
		t.Error("found a fault under half a name")
	}
	all[0].Name = "changed"
	if Names()[0] == "changed" {
		t.Error("found the catalogue changed through a copy")
	}
	live, _ := Find("triac-shorted")
	dry, _ := Find("link-wrong-rating")
	if !live.Live() || dry.Live() {
		t.Error("found Live not telling whether a test needs the supply")
	}
}
