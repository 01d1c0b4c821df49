package infer_test

import (
	"context"
	"reflect"
	"testing"

	"boilwright/faults/infer"
)

// A trial is the same whenever it is made, on what has been simulated before
// too, and what is put in is found where its complaint alone tells the channel.
func TestEvaluate(t *testing.T) {
	w := bench(t)
	tr := infer.Trial{Cases: 2, Seed: 7, Most: 2}
	first, err := w.Evaluate(context.Background(), tr)
	if err != nil {
		t.Fatal(err)
	}
	again, err := w.Evaluate(context.Background(), tr)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(first, again) {
		t.Errorf("found %+v and %+v", first, again)
	}
	if len(first) != 2 {
		t.Fatalf("found %d cases, expected 2", len(first))
	}
	for _, c := range first {
		if c.Tests > 2 || c.Live > c.Tests || c.Truth == "" || c.Found == "" || !(c.P > 0 && c.P <= 1) {
			t.Errorf("found %+v", c)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if cases, err := w.Evaluate(ctx, tr); err != nil || len(cases) != 0 {
		t.Errorf("cancelled: found %d cases, %v", len(cases), err)
	}
	if s := w.Separate(ctx, 1); s != nil {
		t.Errorf("cancelled: found %d separabilities", len(s))
	}
}

// What is left out of the catalogue for a trial is in it again afterwards.
func TestLeftOut(t *testing.T) {
	w := bench(t)
	before := w.Hypotheses[1].Prior
	sum := 0.0
	for _, h := range w.Hypotheses {
		sum += h.Prior
	}
	if _, err := w.Evaluate(context.Background(), infer.Trial{Cases: 1, Seed: 3, Most: 1, LeftOut: true}); err != nil {
		t.Fatal(err)
	}
	after := 0.0
	for _, h := range w.Hypotheses {
		after += h.Prior
	}
	if w.Hypotheses[1].Prior != before || after != sum {
		t.Error("found other priors after the trial")
	}
}

// The bench sequence that is compared with is all live, and longer by four
// tests a channel.
func TestFixedSequence(t *testing.T) {
	w := bench(t)
	for n, channels := range map[int][]int{1: nil, 5: {1}, 9: {0, 2}} {
		live := 0
		for _, x := range w.FixedSequence(channels) {
			if err := w.CheckTest(&x); err != nil {
				t.Error(err)
			}
			if x.Risk().Live() {
				live++
			}
		}
		if live != n {
			t.Errorf("channels %v: found %d live tests, expected %d", channels, live, n)
		}
	}
}

// So much evidence that numbers run out is refused in a line.
func TestTooMuchEvidence(t *testing.T) {
	w := bench(t)
	e, err := w.Parse("reading", "dye:element, ohmmeter, 35 Ω")
	if err != nil {
		t.Fatal(err)
	}
	var es []infer.Evidence
	for range infer.MostEvidence + 1 {
		es = append(es, e...)
	}
	if _, err := w.Diagnose(es, nil); err == nil {
		t.Error("found nothing wrong")
	}
	if _, err := w.Diagnose(es[:infer.MostEvidence], nil); err != nil {
		t.Error(err)
	}
}
