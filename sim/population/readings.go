package population

import (
	"fmt"
	"math"
	"slices"

	"boilwright/models"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// ReadingsJob is what is measured on each member. The zero value is every
// meter at every test point in standby.
type ReadingsJob struct {
	States []readings.State // [standby]; of standby, heating and holding
	Points []string         // names of test points [all]
	Meters []string         // names of meters of the board [all]
	// Leads and Clamps are the names of leads, and of the clamp ammeters that
	// go round them [all]; none without leads.
	Leads, Clamps []string
	// Monitor also reads the energy monitor in the supply lead, in standby and
	// heating.
	Monitor bool
	// Exact leaves the calibration errors of the meters out.
	Exact bool
}

// Measured is what meters show on one member.
type Measured struct {
	Member Member
	// Values are by state, test point and meter, as displayed by the member's
	// own meters; Plan.Index tells where which is.
	Values []readings.Value
	// Currents are by state, lead and clamp; Plan.CurrentIndex tells where
	// which is.
	Currents []readings.Value
	Monitor  []MonitorValue // by state, if asked for
	// Problem tells why there are no values: the circuit of the board with its
	// faults has no solution. Empty where there are.
	Problem string
}

// ReadingsPlan is a [ReadingsJob] made ready for a population.
type ReadingsPlan struct {
	States []readings.State
	Points []readings.Point
	Meters []models.Meter
	Leads  []readings.Lead
	Clamps []models.Clamp
	// Monitor tells that the energy monitor is read.
	Monitor bool

	meters, clamps []int // of Board.Meters and Board.Clamps
	exact          bool
}

// Readings makes a job ready. The error tells of a name that the board does
// not have.
func (p *Population) Readings(job ReadingsJob) (*ReadingsPlan, error) {
	r := &ReadingsPlan{States: job.States, Monitor: job.Monitor, exact: job.Exact}
	if len(r.States) == 0 {
		r.States = []readings.State{readings.Standby}
	}
	for _, s := range r.States {
		if s < readings.Standby || s > readings.Holding {
			return nil, fmt.Errorf("found state %v, expected standby, heating or holding", s)
		}
		if s == readings.Holding && job.Monitor {
			return nil, fmt.Errorf("found state %v with the energy monitor, expected standby or heating", s)
		}
	}
	r.Points = readings.Points(p.board)
	if len(job.Points) > 0 {
		r.Points = nil
		for _, name := range job.Points {
			at, err := readings.FindPoint(p.board, name)
			if err != nil {
				return nil, err
			}
			r.Points = append(r.Points, at)
		}
	}
	var err error
	if r.meters, err = named("meter", len(p.board.Meters), func(i int) string { return p.board.Meters[i].Name }, job.Meters); err != nil {
		return nil, err
	}
	for _, name := range job.Leads {
		l, err := readings.FindLead(p.board, name)
		if err != nil {
			return nil, err
		}
		r.Leads = append(r.Leads, l)
	}
	if r.clamps, err = named("clamp", len(p.board.Clamps), func(i int) string { return p.board.Clamps[i].Name }, job.Clamps); err != nil {
		return nil, err
	}
	for _, i := range r.clamps {
		r.Clamps = append(r.Clamps, p.board.Clamps[i])
	}
	if len(r.meters) == 0 {
		return nil, fmt.Errorf("found no meters, expected at least one")
	}
	for _, i := range r.meters {
		r.Meters = append(r.Meters, p.board.Meters[i])
	}
	return r, nil
}

// named returns the indices of instruments with the given names, all of them
// where none is given.
func named(what string, n int, name func(i int) string, names []string) ([]int, error) {
	var known []string
	for i := range n {
		known = append(known, name(i))
	}
	var out []int
	for _, s := range names {
		i := slices.Index(known, s)
		if i < 0 {
			return nil, fmt.Errorf("found %s %q, expected one of %v", what, s, known)
		}
		out = append(out, i)
	}
	if len(names) == 0 {
		for i := range n {
			out = append(out, i)
		}
	}
	return out, nil
}

// Index is where Measured.Values has the state, point and meter of the plan
// with the given indices.
func (r *ReadingsPlan) Index(state, point, meter int) int {
	return (state*len(r.Points)+point)*len(r.Meters) + meter
}

// CurrentIndex is where Measured.Currents has the state, lead and clamp of the
// plan with the given indices.
func (r *ReadingsPlan) CurrentIndex(state, lead, clamp int) int {
	return (state*len(r.Leads)+lead)*len(r.Clamps) + clamp
}

// Measure takes the readings of a member. All of it is at room temperature,
// as on a board that has just been plugged in, and faults are as they are when
// everything has happened. A board without a solution is no error but the
// Problem of the result, so that it ends no population.
func (r *ReadingsPlan) Measure(m Member) Measured {
	out := Measured{Member: m}
	b, err := m.Faulty()
	if err != nil {
		out.Problem = err.Error()
		return out
	}
	c := readings.Conditions{Temps: circuit.Uniform(len(b.Channels), float64(b.Ambient))}
	for _, c.State = range r.States {
		if err := r.measure(&out, b, c); err != nil {
			return Measured{Member: m, Problem: fmt.Sprintf("%v: %v", c.State, err)}
		}
	}
	return out
}

// measure takes the readings in one state of a board with its faults.
func (r *ReadingsPlan) measure(out *Measured, b *models.Board, c readings.Conditions) error {
	m := &out.Member
	x, err := readings.NewBench(b, c)
	if err != nil {
		return err
	}
	for _, at := range r.Points {
		row, err := x.At(at, r.Meters)
		if err != nil {
			return err
		}
		for k := range row {
			if !r.exact {
				row[k] = m.Calibrations[r.meters[k]].Apply(&r.Meters[k], row[k])
			}
			if math.IsNaN(row[k].Shown) {
				return fmt.Errorf("test point %s: found no number, expected one", at.Name)
			}
		}
		out.Values = append(out.Values, row...)
	}
	for _, l := range r.Leads {
		row, err := x.Around(l, r.Clamps)
		if err != nil {
			return err
		}
		for k := range row {
			if !r.exact {
				row[k] = m.Clamps[r.clamps[k]].ApplyClamp(&r.Clamps[k], row[k])
			}
		}
		out.Currents = append(out.Currents, row...)
	}
	if !r.Monitor {
		return nil
	}
	gain := m.MonitorGain
	if r.exact {
		gain = 0
	}
	v, err := monitor(b, c, gain)
	out.Monitor = append(out.Monitor, v)
	return err
}
