package validate

import (
	"math"
	"slices"

	"boilwright/models"
	"boilwright/sim/population"
)

// scaleDraws is from how many boards it is learned how far parameters spread,
// and where the bands of the supply voltage lie.
const scaleDraws = 256

// Bands of the supply voltage: thirds of what is drawn.
var bandNames = []string{"low supply", "middle supply", "high supply"}

// severitySpread is the standard deviation of an even severity between 0.6 and
// 1, which is the default: what a severity's distance from 1 is told in.
var severitySpread = 0.4 / math.Sqrt(12)

// feature is one drawn parameter as it concerns a unit: of its own channel,
// its meter in hand, or of what there is once.
type feature struct {
	name string
	// parameter is its name in the tolerances; empty for the severity.
	parameter string
	// column of Member.Values by channel and meter; -1 for none.
	column func(channel, meter int) int
}

// ordinary knows how far what is drawn for a board lies from the board's own
// values.
type ordinary struct {
	columns  []population.Column
	scale    []float64 // standard deviation of each, of its logarithm where it is lognormal
	features []feature
	supply   int // column of the supply voltage; -1 where it is not drawn
	bounds   []float64
}

func newOrdinary(p *population.Population, b *models.Board) (*ordinary, error) {
	o := &ordinary{columns: p.Columns(), supply: -1}
	o.scale = make([]float64, len(o.columns))
	squares := make([]float64, len(o.columns))
	var volts []float64
	for i := range o.columns {
		if o.columns[i].Name == "supply.voltage" {
			o.supply = i
		}
		o.scale[i] = 1
	}
	for i := range uint64(scaleDraws) {
		m, err := p.Given(i)
		if err != nil {
			return nil, err
		}
		for k := range o.columns {
			d := o.deviation(k, m.Values[k])
			squares[k] += d * d
		}
		if o.supply >= 0 {
			volts = append(volts, m.Values[o.supply])
		}
	}
	for k, s := range squares {
		if s > 0 {
			o.scale[k] = math.Sqrt(s / scaleDraws)
		}
	}
	if o.supply >= 0 {
		slices.Sort(volts)
		o.bounds = []float64{volts[scaleDraws/3], volts[2*scaleDraws/3]}
	}
	o.findFeatures(b)
	return o, nil
}

// deviation is by how many of its standard deviations a drawn value lies from
// the board's own.
func (o *ordinary) deviation(column int, v float64) float64 {
	c := &o.columns[column]
	if c.Spread.Law == population.LogNormal && c.Nominal > 0 && v > 0 {
		return math.Log(v/c.Nominal) / o.scale[column]
	}
	return (v - c.Nominal) / o.scale[column]
}

// findFeatures makes one feature of what each channel, and each meter, has.
func (o *ordinary) findFeatures(b *models.Board) {
	type places struct {
		channel []int // column by channel
		meter   []int // column by meter
	}
	at := map[string]*places{}
	for i := range o.columns {
		c := &o.columns[i]
		x, ok := population.FindParameter(c.Parameter)
		shared := ok && (x.Scope == population.OfChannel || x.Scope == population.OfMeter)
		if !shared {
			o.features = append(o.features, feature{c.Name, c.Parameter, func(int, int) int { return i }})
			continue
		}
		y := at[c.Parameter]
		if y == nil {
			y = &places{filled(len(b.Channels)), filled(len(b.Meters))}
			at[c.Parameter] = y
			find := func(channel, _ int) int { return pick(y.channel, channel) }
			if x.Scope == population.OfMeter {
				find = func(_, meter int) int { return pick(y.meter, meter) }
			}
			o.features = append(o.features, feature{c.Parameter, c.Parameter, find})
		}
		if x.Scope == population.OfChannel {
			y.channel[c.Channel] = i
		} else if k := slices.IndexFunc(b.Meters, func(m models.Meter) bool { return m.Name == c.Place }); k >= 0 {
			y.meter[k] = i
		}
	}
}

func filled(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = -1
	}
	return out
}

func pick(columns []int, i int) int {
	if i < 0 || i >= len(columns) {
		return -1
	}
	return columns[i]
}

// value is what a feature has on a unit, in standard deviations from the
// board's own; NaN for none.
func (o *ordinary) value(f *feature, s *sample) float64 {
	if f.parameter == "" {
		return s.severity
	}
	c := f.column(s.channel, s.meter)
	if c < 0 {
		return math.NaN()
	}
	return o.deviation(c, s.values[c])
}

// distance is how far a board is from the ordinary one, as a channel of it
// sees it: the root of the mean square of the deviations of what is drawn for
// the board and that channel, and of the severity from 1 where one is given.
// Meters are left out. For the board as a whole all channels count.
func (o *ordinary) distance(values []float64, channel int, severity float64) float64 {
	sum, n := 0.0, 0
	for k := range o.columns {
		c := &o.columns[k]
		if c.Channel >= 0 && channel >= 0 && c.Channel != channel || c.Channel < 0 && c.Place != "" {
			continue
		}
		d := o.deviation(k, values[k])
		sum += d * d
		n++
	}
	if !math.IsNaN(severity) {
		d := (1 - severity) / severitySpread
		sum += d * d
		n++
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(sum / float64(n))
}

// band is the band of a board's supply voltage, 0 where it is not drawn.
func (o *ordinary) band(values []float64) int {
	if o.supply < 0 {
		return 0
	}
	k := 0
	for k < len(o.bounds) && values[o.supply] > o.bounds[k] {
		k++
	}
	return k
}
