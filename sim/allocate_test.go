package sim

import (
	"slices"
	"testing"

	"boilwright/models"

	"pgregory.net/rapid"
)

func TestPattern(t *testing.T) {
	for _, c := range []struct {
		n, c   int
		spread bool
		want   string
	}{
		{8, 0, false, "--------"},
		{8, 3, false, "###-----"},
		{8, 8, false, "########"},
		{8, 0, true, "--------"},
		{8, 1, true, "-------#"},
		{8, 2, true, "---#---#"},
		{8, 3, true, "--#--#-#"},
		{8, 4, true, "-#-#-#-#"},
		{8, 7, true, "-#######"},
		{8, 8, true, "########"},
		{5, 2, true, "--#-#"},
		{1, 1, true, "#"},
	} {
		on := slices.Repeat([]bool{true}, c.n) // what was there must not matter
		pattern(on, c.c, c.spread)
		if found := marks(on); found != c.want {
			t.Errorf("%d of %d, spread %t: found %s, expected %s", c.c, c.n, c.spread, found, c.want)
		}
	}
}

func marks(on []bool) string {
	var s []byte
	for _, v := range on {
		if v {
			s = append(s, '#')
		} else {
			s = append(s, '-')
		}
	}
	return string(s)
}

func patterns(rows ...string) [][]bool {
	var out [][]bool
	for _, r := range rows {
		var on []bool
		for _, c := range r {
			on = append(on, c == '#')
		}
		out = append(out, on)
	}
	return out
}

func TestAllocate(t *testing.T) {
	for _, c := range []struct {
		name     string
		want     []string
		order    []int
		together int
		lose     bool
		got      []string
	}{
		{"no limit", []string{"####", "####", "####"}, []int{0, 1, 2}, 0, false, []string{"####", "####", "####"}},
		{"limit of all", []string{"####", "####"}, []int{0, 1}, 2, false, []string{"####", "####"}},
		{"the last in order waits, then takes what it is owed", []string{"##------", "##------", "##------"}, []int{0, 1, 2}, 2, false,
			[]string{"##------", "##------", "--##----"}},
		{"or loses it", []string{"##------", "##------", "##------"}, []int{0, 1, 2}, 2, true,
			[]string{"##------", "##------", "--------"}},
		{"order, not index, decides", []string{"##--", "##--"}, []int{1, 0}, 1, false, []string{"--##", "##--"}},
		{"one at a time, in turn", []string{"##----", "##----", "##----"}, []int{2, 0, 1}, 1, false,
			[]string{"--##--", "----##", "##----"}},
		{"owed cycles give way to the pattern of one served earlier", []string{"#---#-", "##----"}, []int{0, 1}, 1, false,
			[]string{"#---#-", "-##---"}},
		// Channel 2 is owed its first cycle and asks for the others itself;
		// the debt that is left when the window ends is forgotten.
		{"a debt that doesn't fit ends with the window", []string{"#---", "####"}, []int{0, 1}, 1, false, []string{"#---", "-###"}},
		{"an owed cycle comes before one served later", []string{"##--", "##--", "--##"}, []int{0, 1, 2}, 1, false,
			[]string{"##--", "--##", "----"}},
	} {
		want := patterns(c.want...)
		owed := slices.Repeat([]int{7}, len(want)) // left from the window before
		allocate(want, c.order, c.together, c.lose, owed)
		for k := range want {
			if found := marks(want[k]); found != c.got[k] {
				t.Errorf("%s, channel %d: found %s, expected %s", c.name, k+1, found, c.got[k])
			}
		}
	}
}

func TestByPriority(t *testing.T) {
	chans := make([]models.Channel, 4)
	for k, p := range []int{2, -1, 2, 0} {
		chans[k].Control.Priority = p
	}
	if found, want := byPriority(chans), []int{1, 3, 0, 2}; !slices.Equal(found, want) {
		t.Errorf("found order %v, expected %v: lower goes first, equals by place", found, want)
	}
}

func TestAllocateKeepsItsPromises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		channels := rapid.IntRange(1, 5).Draw(t, "channels")
		n := rapid.IntRange(1, 60).Draw(t, "cycles")
		together := rapid.IntRange(0, 6).Draw(t, "together")
		lose := rapid.Bool().Draw(t, "lose")
		order := rapid.Permutation(indices(channels)).Draw(t, "order")
		want := make([][]bool, channels)
		asked := make([]int, channels)
		before := make([][]bool, channels)
		for k := range want {
			want[k] = make([]bool, n)
			pattern(want[k], rapid.IntRange(0, n).Draw(t, "demand"), rapid.Bool().Draw(t, "spread"))
			asked[k] = trues(want[k])
			before[k] = slices.Clone(want[k])
		}
		allocate(want, order, together, lose, make([]int, channels))

		limit := together
		if limit == 0 {
			limit = channels
		}
		now := 0
		for j := range n {
			now = 0
			for k := range want {
				if want[k][j] {
					now++
				}
			}
			if now > limit {
				t.Fatalf("cycle %d: found %d channels together, expected at most %d", j, now, limit)
			}
		}
		for k := range want {
			if c := trues(want[k]); c > asked[k] {
				t.Fatalf("channel %d: found %d cycles, expected at most the %d it asked for", k, c, asked[k])
			}
		}
		// The first in order never waits.
		if !slices.Equal(want[order[0]], before[order[0]]) {
			t.Fatalf("first in order: found %s, expected its own pattern %s", marks(want[order[0]]), marks(before[order[0]]))
		}
		if lose {
			for k := range want {
				for j := range n {
					if want[k][j] && !before[k][j] {
						t.Fatalf("channel %d, cycle %d: found it on, expected refused cycles to be lost", k, j)
					}
				}
			}
			return
		}
		// A refused cycle is owed for the rest of the window: nobody who is
		// short stays out of the last cycle while there is room.
		for k := range want {
			if trues(want[k]) < asked[k] && !want[k][n-1] && now != limit {
				t.Fatalf("channel %d: found it out of the last cycle with %d of %d cycles granted, and %d channels on, expected %d", k, trues(want[k]), asked[k], now, limit)
			}
		}
	})
}

// What is asked for in one run from the start is conserved when one channel
// after another fits into the window.
func TestOwedCyclesAreConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 100).Draw(t, "cycles")
		channels := rapid.IntRange(2, 4).Draw(t, "channels")
		want := make([][]bool, channels)
		left := n
		var asked []int
		for k := range want {
			c := rapid.IntRange(0, left).Draw(t, "demand")
			left -= c
			asked = append(asked, c)
			want[k] = make([]bool, n)
			pattern(want[k], c, false)
		}
		allocate(want, rapid.Permutation(indices(channels)).Draw(t, "order"), 1, false, make([]int, channels))
		for k := range want {
			if c := trues(want[k]); c != asked[k] {
				t.Fatalf("channel %d: found %d cycles, expected all of the %d owed", k, c, asked[k])
			}
		}
	})
}

func indices(n int) []int {
	var out []int
	for i := range n {
		out = append(out, i)
	}
	return out
}

func TestSpreadPatternIsEven(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "cycles")
		c := rapid.IntRange(0, n).Draw(t, "on")
		on := make([]bool, n)
		pattern(on, c, true)
		if trues(on) != c {
			t.Fatalf("found %d cycles on, expected %d", trues(on), c)
		}
		if c == 0 {
			return
		}
		// Windows follow each other: distances between cycles that are on,
		// around the end, are the two whole numbers beside n/c.
		var at []int
		for j, v := range on {
			if v {
				at = append(at, j)
			}
		}
		for i := range at {
			d := at[(i+1)%c] - at[i]
			if i == c-1 {
				d += n
			}
			if d != n/c && d != (n+c-1)/c {
				t.Fatalf("%s: found a distance of %d, expected %d or %d", marks(on), d, n/c, (n+c-1)/c)
			}
		}
	})
}
