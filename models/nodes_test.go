package models_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"boilwright/models"
)

// everyNode lists the nodes of a board of n channels.
func everyNode(n int) []models.Node {
	var nodes []models.Node
	for p := models.SupplyNeutral; p <= models.SnubberTap; p++ {
		if !p.PerChannel() {
			nodes = append(nodes, models.Node{Place: p})
			continue
		}
		for k := range n {
			nodes = append(nodes, models.Node{Place: p, Channel: k})
		}
	}
	return nodes
}

func TestNodeRoundTrip(t *testing.T) {
	seen := map[string]bool{}
	for _, nd := range everyNode(12) {
		s := nd.String()
		if seen[s] {
			t.Errorf("two nodes are written %q", s)
		}
		seen[s] = true
		if got, err := models.ParseNode(s, 12); err != nil || got != nd {
			t.Errorf("%+v is written %q, which reads as %+v, %v", nd, s, got, err)
		}
		// The last channel of the board is its own, the next is not.
		if _, err := models.ParseNode(s, nd.Channel); nd.Place.PerChannel() && err == nil {
			t.Errorf("%q reads as a node of a board of %d channels", s, nd.Channel)
		}
	}
	for text, want := range map[string]models.Node{
		"L": {Place: models.Line}, "N": {Place: models.Neutral}, "PE": {Place: models.ProtectiveEarth}, "source": {Place: models.Source},
		"supply-neutral": {}, "rail": {Place: models.Rail}, "out2": {Place: models.Output, Channel: 1}, "gate3": {Place: models.Gate, Channel: 2},
	} {
		if got, err := models.ParseNode(text, 3); err != nil || got != want {
			t.Errorf("%q reads as %+v, %v, want %+v", text, got, err, want)
		}
	}
}

func TestNodeAt(t *testing.T) {
	if got := models.At(models.Line, 2); got != (models.Node{Place: models.Line}) {
		t.Errorf("L of channel 3 is %+v, want one L for the board", got)
	}
	if got := models.At(models.Gate, 2); got != (models.Node{Place: models.Gate, Channel: 2}) {
		t.Errorf("gate of channel 3 is %+v", got)
	}
	for _, p := range []models.Place{-1, 99} {
		if got := (models.Node{Place: p}).String(); !strings.Contains(got, fmt.Sprint(int(p))) {
			t.Errorf("place %d is written %q, want its number", p, got)
		}
	}
}

// TestControlNodes: the nodes of the control side have names of their own,
// which no path of the mains side can be written with.
func TestControlNodes(t *testing.T) {
	for p := models.SupplyNeutral; p <= models.Base; p++ {
		nd := models.At(p, 1)
		_, err := models.ParseNode(nd.String(), 2)
		if control := p >= models.PlugPlus; p.Control() != control || (err != nil) != control {
			t.Errorf("%v: control side %v, reads with error %v", nd, p.Control(), err)
		}
		if listed := slices.Contains(models.NodeNames(), strings.Replace(nd.String(), "2", "K", 1)); listed == p.Control() {
			t.Errorf("%v: listed %v", nd, listed)
		}
	}
}

func TestParseNodeErrors(t *testing.T) {
	for _, c := range []struct{ text, wants string }{
		{"", `found node ""`}, {"out", "expected out1 to out3"}, {"out0", "expected out1 to out3"}, {"out4", "expected out1 to out3"},
		{"out99999999999999999999", "expected out1 to out3"}, {"OUT1", "expected one of"}, {"L1", "expected one of"}, {"PE2", "expected one of"},
		{"out-1", "expected one of"}, {" L", "expected one of"}, {"out1 ", "expected one of"}, {"out1x", "expected one of"}, {"3", "expected one of"},
	} {
		got, err := models.ParseNode(c.text, 3)
		if err == nil {
			t.Errorf("%q reads as %v, want an error", c.text, got)
			continue
		}
		if s := err.Error(); !strings.Contains(s, c.wants) || !strings.Contains(s, fmt.Sprintf("found node %q", c.text)) {
			t.Errorf("%q: error %q, want it to say what was found and %q", c.text, s, c.wants)
		}
	}
	// The error names every place there is.
	_, err := models.ParseNode("nowhere", 3)
	names := models.NodeNames()
	if len(names) != int(models.Contact)+1 {
		t.Errorf("%d names of nodes, want %d", len(names), int(models.Contact)+1)
	}
	for _, n := range names {
		if !strings.Contains(err.Error(), n) {
			t.Errorf("error %q, want it to name %s", err, n)
		}
	}
}

// FuzzParseNode: a text is refused with an error that quotes it, or it is a
// node of the board whose written name reads as that node again.
func FuzzParseNode(f *testing.F) {
	for _, nd := range everyNode(3) {
		f.Add(nd.String(), 3)
	}
	for _, s := range []string{"", "out", "out0", "out007", "L1", "out-1", "mid\x00", "gaté1", "out١", "snubber18446744073709551617"} {
		f.Add(s, 2)
	}
	f.Fuzz(func(t *testing.T, s string, channels int) {
		nd, err := models.ParseNode(s, channels)
		if err != nil {
			if !strings.Contains(err.Error(), fmt.Sprintf("%q", s)) {
				t.Errorf("error %q does not quote %q", err, s)
			}
			return
		}
		if nd.Channel < 0 || nd.Place.PerChannel() && nd.Channel >= channels {
			t.Errorf("%q reads as %+v on a board of %d channels", s, nd, channels)
		}
		if back, err := models.ParseNode(nd.String(), channels); err != nil || back != nd {
			t.Errorf("%q reads as %+v, written %q, which reads as %+v, %v", s, nd, nd, back, err)
		}
	})
}

// Nodes are written with the channel counted from 1.
func ExampleParseNode() {
	n, err := models.ParseNode("gate2", 3)
	fmt.Println(n, n.Channel, err)
	_, err = models.ParseNode("gate4", 3)
	fmt.Println(err)
	// Output:
	// gate2 1 <nil>
	// found node "gate4", expected gate1 to gate3
}
