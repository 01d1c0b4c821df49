package validate_test

import (
	"context"
	"slices"
	"testing"

	"boilwright/faults"
	"boilwright/faults/rules"
	"boilwright/faults/rules/validate"
	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
)

// A bench without a simulation, so that what is counted can be counted again by
// hand: each channel shows one number to each meter, a part of the supply that
// depends on the fault and the kind of meter.

// shares of the supply that a half-wave shows to a meter: closed forms, such
// as 1/2 of the average and 1/√2 of the rms value.
func share(d models.Detector) float64 {
	switch d {
	case models.RMSDirect:
		return 0.7071067812
	case models.RMSCoupled:
		return 0.5453050822
	case models.AverageFullWaveCoupled:
		return 0.5511019658
	}
	return 0.5
}

// bench observes by that, channel by channel and in each meter by meter.
type bench struct{ board *models.Board }

func (b bench) Observe(_ context.Context, m population.Member) (evidence.Record, error) {
	var r evidence.Record
	for k := range b.board.Channels {
		for i := range b.board.Meters {
			v := 1e-3
			for _, f := range validate.Truth(m.Faults, k) {
				switch f {
				case "opto-one-way", "triac-one-way":
					v = share(b.board.Meters[i].Detector)
				case "triac-shorted":
					v = 1
				}
			}
			r.Values = append(r.Values, v*float64(m.Board.Supply.Voltage))
		}
	}
	if slices.Contains(validate.Truth(m.Faults, faults.WholeBoard), "loose-neutral") {
		return evidence.Record{Problem: "a board that this bench cannot do"}, nil
	}
	return r, nil
}

// rule concludes where what a channel shows is a part of the nominal supply.
type rule struct {
	name      string
	low, high float64
	faults    []string
}

// judge applies rules to each channel.
type judge struct {
	board *models.Board
	rules []rule
	said  [][]*rules.Conclusion // by rule and channel
}

func newJudge(b *models.Board, rs ...rule) *judge {
	j := &judge{board: b, rules: rs}
	for _, r := range rs {
		var of []*rules.Conclusion
		for k := range b.Channels {
			of = append(of, &rules.Conclusion{Rule: r.name, Channel: k, Faults: r.faults})
		}
		j.said = append(j.said, of)
	}
	return j
}

func (j *judge) Needs() []evidence.Observable {
	var out []evidence.Observable
	for k := range j.board.Channels {
		for i := range j.board.Meters {
			out = append(out, evidence.Observable{Name: j.board.Channels[k].Name + " " + j.board.Meters[i].Name, Channel: k, Meter: i, Unit: "V"})
		}
	}
	return out
}

func (j *judge) InHand() bool { return true }

func (j *judge) Rules() []string {
	var out []string
	for _, r := range j.rules {
		out = append(out, r.name)
	}
	return out
}

func (j *judge) Judge(_ context.Context, dst []*rules.Conclusion, c *rules.Case) ([]*rules.Conclusion, error) {
	for i, r := range j.rules {
		for k := range j.board.Channels {
			x := c.Values[k*len(j.board.Meters)+c.Meter] / float64(j.board.Supply.Voltage)
			if x >= r.low && x < r.high {
				dst = append(dst, j.said[i][k])
			}
		}
	}
	return dst, nil
}

func (j *judge) claims() []validate.Claim {
	var out []validate.Claim
	for _, r := range j.rules {
		out = append(out, validate.Claim{Rule: r.name, Faults: r.faults})
	}
	return out
}

// some rules.
var (
	half   = rule{"half", 0.45, 0.53, []string{"opto-one-way"}}
	full   = rule{"full", 0.9, 2, []string{"triac-shorted", "opto-shorted"}}
	little = rule{"little", -1, 0.1, nil}
	three  = rule{"three", 3, 4, []string{"scale"}}
	doubt  = rule{"doubt", 0.5, 0.6, []string{"triac-shorted"}}
)

// job is a validation of these rules on so many rounds of boards.
func job(t testing.TB, rounds uint64, rs ...rule) *validate.Job {
	t.Helper()
	b := boardfile.Default()
	s := population.DefaultSpec(b)
	s.Rates.Faults = slices.DeleteFunc(s.Rates.Faults, func(r population.Rate) bool {
		return !slices.Contains([]string{"opto-one-way", "triac-one-way", "triac-shorted", "scale", "loose-neutral"}, r.Fault)
	})
	p, err := population.New(b, s, 7)
	if err != nil {
		t.Fatal(err)
	}
	d, err := validate.Balanced(p, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	j := newJudge(b, rs...)
	return &validate.Job{
		Source: validate.Source{Population: p, Spec: s, Seed: 7, Design: d, To: rounds * d.Round(), Examples: 3},
		Judge:  j, Claims: j.claims(), Observer: bench{b},
	}
}

func run(t testing.TB, j *validate.Job) *validate.Report {
	t.Helper()
	r, err := j.Run(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return r
}
