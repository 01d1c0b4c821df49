package command

import (
	"context"
	"math"
	"strings"
	"testing"

	q "boilwright/models/quantity"
	"boilwright/plots/lessons"
	"boilwright/sim/boardfile"
)

func packOf(t *testing.T, board string, seed uint64) (*class, *lessons.Pack) {
	t.Helper()
	f, err := boardfile.Embedded(board)
	if err != nil {
		t.Fatal(err)
	}
	c, err := newClass(f, seed)
	if err != nil {
		t.Fatal(err)
	}
	p, err := c.pack(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return c, p
}

// TestLessonNumbers compares the current and power of the first lesson with
// V/(R + Z) and its square (Ohm's law), on boards varied by several seeds.
func TestLessonNumbers(t *testing.T) {
	seen := map[string]bool{}
	for _, x := range []struct {
		board string
		seed  uint64
	}{{"dye-bench-230", 1}, {"dye-bench-230", 2}, {"neutral-side-230", 3}, {"dye-bench-120", 4}} {
		c, p := packOf(t, x.board, x.seed)
		if len(p.Lessons) < 5 {
			t.Errorf("%s, seed %d: found %d lessons, want most of 6", x.board, x.seed, len(p.Lessons))
		}
		first := p.Lessons[0]
		_, name, _ := strings.Cut(first.Text[0], "channel ")
		name, _, _ = strings.Cut(name, " ")
		k := c.file.Board.ChannelIndex(name)
		if k < 0 {
			t.Fatalf("found channel %q in %q", name, first.Text[0])
		}
		s := &c.file.Board.Supply
		r := c.file.Board.Channels[k].Element.ResistanceAt(25)
		want := float64(s.Voltage) / (r + float64(s.LineResistance+s.NeutralResistance))
		got, err := q.As[q.Ampere](first.Questions[0].Answer)
		if err != nil || math.Abs(float64(got)/want-1) > 0.015 {
			t.Errorf("%s, seed %d: found %v, error %v, want about %.2f A", x.board, x.seed, first.Questions[0].Answer, err, want)
		}
		power, err := q.As[q.Watt](first.Questions[1].Choices[first.Questions[1].Right])
		if err != nil || math.Abs(float64(power)/(want*want*r)-1) > 0.03 {
			t.Errorf("%s, seed %d: found %v, error %v, want about %.0f W", x.board, x.seed, power, err, want*want*r)
		}
		answer := first.Questions[0].Answer + first.Text[0]
		if seen[answer] {
			t.Errorf("seed %d: found the numbers of another seed again: %s", x.seed, answer)
		}
		seen[answer] = true
		if _, err := p.Files(); err != nil {
			t.Error(err)
		}
		for _, l := range p.Lessons {
			for i, x := range l.Questions {
				if len(x.Choices) == 1 || strings.Contains(x.Answer, "NaN") {
					t.Errorf("%s, question %d: found %+v", l.Name, i+1, x)
				}
			}
		}
	}
}

func TestShuffled(t *testing.T) {
	c := &class{seed: 5}
	for i := range 50 {
		choices, at := shuffled(c.random(uint64(i)), 4, "right", "a", "b", "right", "a", "c", "d", "e")
		if len(choices) != 4 || choices[at] != "right" || strings.Count(strings.Join(choices, " "), "right") != 1 {
			t.Fatalf("found %v with %d right", choices, at)
		}
	}
}
