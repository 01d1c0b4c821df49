package evidence

import (
	"strconv"

	"boilwright/models"
	"boilwright/sim"
	"boilwright/sim/readings"
)

// domain is what one argument of a form may be on a board.
type domain struct {
	name    string
	allowed func(b *models.Board) []string
}

func named[T any](list []T, name func(*T) string) []string {
	out := make([]string, len(list))
	for i := range list {
		out[i] = name(&list[i])
	}
	return out
}

func pointName(p *readings.Point) string { return p.Name }

// minutes are the whole minutes of the hour of a run.
const minutes = 60

// Devices that trip.
const (
	fuse     = "fuse"
	residual = "residual-current-device"
)

func words(names ...string) func(*models.Board) []string {
	return func(*models.Board) []string { return names }
}

// The arguments.
var (
	points = domain{"point", func(b *models.Board) []string { return named(readings.Points(b), pointName) }}
	dead   = domain{"point", func(b *models.Board) []string { return named(readings.UnpluggedPoints(b), pointName) }}
	leads  = domain{"lead", func(b *models.Board) []string {
		return named(readings.Leads(b), func(l *readings.Lead) string { return l.Name })
	}}
	meters = domain{"meter", func(b *models.Board) []string {
		return named(b.Meters, func(m *models.Meter) string { return m.Name })
	}}
	clamps = domain{"clamp", func(b *models.Board) []string {
		return named(b.Clamps, func(m *models.Clamp) string { return m.Name })
	}}
	channels = domain{"channel", func(b *models.Board) []string {
		return named(b.Channels, func(c *models.Channel) string { return c.Name })
	}}
	states = domain{"state", words(readings.Standby.String(), readings.Heating.String(), readings.Holding.String())}
	steady = domain{"state", words(readings.Standby.String(), readings.Heating.String())}
	minute = domain{"minutes", func(*models.Board) []string {
		out := make([]string, minutes+1)
		for i := range out {
			out[i] = strconv.Itoa(i)
		}
		return out
	}}
	devices = domain{"device", func(b *models.Board) []string {
		var out []string
		if b.Protection.Fuse.Fitted {
			out = append(out, fuse)
		}
		if b.Protection.Residual.Fitted {
			out = append(out, residual)
		}
		return out
	}}
)

// source is the simulation that a form is taken from.
type source int

const (
	measured  source = iota // a meter on the board with its supply
	clamped                 // a clamp round a lead
	powered                 // powers of a board in a steady state
	unplugged               // an instrument on the unplugged board
	probed                  // the resistance of a probe
	heated                  // an hour from cold
	idled                   // two hours in standby
)

// form is a Form with what it takes.
type form struct {
	Form
	args []domain
	from source
	// of makes the value of a run of channel k; of a form that is heated.
	of   func(c *course, k int) float64
	live bool
}

// indicators are the words of the indicator, by sim.Indicator.
var indicators = []string{sim.IndicatorOff.String(), sim.Heating.String(), sim.InBand.String(), sim.Drifted.String(), sim.OverTemp.String()}

// cold says which run a form is taken from.
const cold = ", in the hour after a cold start with the controls on and without draws"

var forms = []form{
	{Form: Form{Name: "volts", Unit: "V", Doc: "what a voltmeter of the board shows at a test point of the cold board with its supply on; +Inf beyond its ranges; in holding with every drive in bursts, the first whole-cycle position of the bursts"}, args: []domain{points, states, meters}, from: measured, live: true},
	{Form: Form{Name: "amps", Unit: "A", Doc: "what a clamp ammeter of the board shows round a lead of the cold board with its supply on; +Inf beyond its ranges"}, args: []domain{leads, states, clamps}, from: clamped, live: true},
	{Form: Form{Name: "plug_watts", Unit: "W", Doc: "the power that the energy monitor in the supply lead shows on the cold board"}, args: []domain{steady}, from: powered},
	{Form: Form{Name: "plug_amps", Unit: "A", Doc: "the current that the energy monitor in the supply lead shows on the cold board"}, args: []domain{steady}, from: powered},
	{Form: Form{Name: "warms", Doc: "the power that an element takes on the cold board, as a share of what it takes at the rated voltage"}, args: []domain{channels, steady}, from: powered},
	{Form: Form{Name: "tripped", Kind: Whether, Doc: "whether a protective device of the supply trips on the cold board, in standby or heating: the fuse on its conventional fusing current, the residual-current device on the current in protective earth"}, args: []domain{devices}, from: powered},
	{Form: Form{Name: "ohms", Unit: "Ω", Doc: "what an ohmmeter shows at a test point of the unplugged board, control plugs off; +Inf where it reads open"}, args: []domain{dead}, from: unplugged},
	{Form: Form{Name: "diode_volts", Unit: "V", Doc: "what a diode test shows at a test point of the unplugged board, control plugs off; +Inf where it reads open"}, args: []domain{dead}, from: unplugged},
	{Form: Form{Name: "diode_volts_reversed", Unit: "V", Doc: "the diode test with its leads the other way round"}, args: []domain{dead}, from: unplugged},
	{Form: Form{Name: "insulation", Unit: "Ω", Doc: "the insulation resistance at 500 V from line and neutral joined to protective earth, unplugged; +Inf where no current flows"}, from: unplugged},
	{Form: Form{Name: "probe_ohms", Unit: "Ω", Doc: "the resistance of a channel's temperature probe at room temperature, unplugged; +Inf where it is open"}, args: []domain{channels}, from: probed},
	{Form: Form{Name: "temperature", Unit: "°C", Doc: "the temperature that the controller shows, so many whole minutes after the start" + cold}, args: []domain{channels, minute}, from: heated},
	{Form: Form{Name: "warm_up", Unit: "min", Doc: "the time until a channel is in band" + cold + "; +Inf where it never is"}, args: []domain{channels}, from: heated, of: (*course).warmUp},
	{Form: Form{Name: "peak", Unit: "°C", Doc: "the highest temperature that the controller shows" + cold}, args: []domain{channels}, from: heated, of: (*course).peak},
	{Form: Form{Name: "final", Unit: "°C", Doc: "the temperature that the controller shows at the end" + cold}, args: []domain{channels}, from: heated, of: (*course).final},
	{Form: Form{Name: "slope", Unit: "K/min", Doc: "the rise of the shown temperature from the first minute to the third" + cold}, args: []domain{channels}, from: heated, of: (*course).slope},
	{Form: Form{Name: "overshoot", Unit: "K", Doc: "how far the highest shown temperature is above the set point" + cold + "; 0 where it is not"}, args: []domain{channels}, from: heated, of: (*course).overshoot},
	{Form: Form{Name: "indicator", Kind: Word, Doc: "what the indicator of a channel shows at the end" + cold}, args: []domain{channels}, from: heated, of: (*course).indicator},
	{Form: Form{Name: "lid_rise", Unit: "K", Doc: "how far the lid is above the room after two hours in standby"}, from: idled},
}

// documented returns the form as it is documented.
func (f *form) documented() Form {
	out := f.Form
	for _, a := range f.args {
		out.Args = append(out.Args, a.name)
	}
	return out
}

// Forms lists the forms in the order of the documentation.
func Forms() []Form {
	out := make([]Form, len(forms))
	for i := range forms {
		out[i] = forms[i].documented()
	}
	return out
}
