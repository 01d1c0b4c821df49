package heat

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"boilwright/models"
	"boilwright/models/water"
)

// vessel is what the solution needs of one channel, in SI.
type vessel struct {
	open     bool
	feed     bool
	pressure float64 // ambient, or of the relief valve, Pa
	boiling  float64 // saturation there, °C
	reseat   float64 // saturation at the reseating pressure; −Inf when open
	latent   float64 // J to evaporate 1 kg there, with the feed's warming
	hBoiling float64 // H at boiling, J/kg
	hInlet   float64 // H of the cold supply, J/kg
	wetted   float64 // m_min, kg
	floor    float64 // kg
	start    float64 // mass at the start, kg

	wet, dry float64 // G_ew/s and G_es0, W/K

	link  float64 // T_f, °C
	melts bool    // the link is there to be watched

	// The thermostat on the shell; where it cannot move it is not watched.
	moves         bool
	opens, closes float64 // °C
	stays         bool    // stuck open

	draws []models.Draw
	first int // index of its first draw among all
}

// parameters is a board as the solution sees it.
type parameters struct {
	vessels  []vessel
	capacity []float64 // by node, J/K; of water per kg·K left 0
	air      []float64 // conductance to the room by node, W/K
	chains   []chain   // with ew and es at their largest
	bridge   float64   // lid to pocket, W/K
	edges    []edge    // all other conductances
	ambient  float64   // °C
	begin    []float64 // temperature at the start by node, °C
	upstream float64   // T_f of the upstream link, °C
	melts    bool      // it is there to be watched
	fitted   bool      // there is an upstream link
	draws    int
}

// read takes a board apart, or says all that is wrong with it.
func read(b *models.Board) (*parameters, error) {
	n := len(b.Channels)
	c := &checker{}
	if n == 0 {
		return nil, errors.New("heat: board: found no channels, expected at least 1")
	}
	lid, pocket, up := kinds*n+lidNode, kinds*n+pocketNode, kinds*n+upstreamNode
	nodes := kinds*n + single
	take := cut(make([]float64, 3*nodes))
	p := &parameters{
		vessels:  make([]vessel, n),
		chains:   make([]chain, n),
		capacity: take(nodes), air: take(nodes), begin: take(nodes),
		ambient: c.temperature("ambient", float64(b.Ambient)),
	}
	c.at = "lid: "
	p.capacity[lid] = c.positive("capacity", float64(b.Lid.Capacity), "J/K")
	p.air[lid] = c.conductance("to air", float64(b.Lid.ToAir))
	p.begin[lid] = c.temperature("start", float64(b.Lid.Start))
	p.bridge = c.conductance("to pocket", float64(b.Lid.ToPocket))
	c.at = "pocket: "
	p.capacity[pocket] = c.positive("capacity", float64(b.Pocket.Capacity), "J/K")
	p.air[pocket] = c.conductance("to air", float64(b.Pocket.ToAir))
	p.begin[pocket] = c.temperature("start", float64(b.Pocket.Start))

	join := func(a, b int, g float64) {
		if g > 0 {
			p.edges = append(p.edges, edge{a, b, g})
		}
	}
	for i := range n {
		ch := &b.Channels[i]
		bo := &ch.Boiler
		c.at = "channel " + strconv.Quote(ch.Name) + ": "
		v := &p.vessels[i]
		*v = c.vessel(b, i)
		v.first = p.draws
		p.draws += len(v.draws)
		node := func(kind int) int { return kind*n + i }
		p.capacity[node(elementNode)] = c.positive("element capacity", float64(ch.Element.Capacity), "J/K")
		p.capacity[node(shellNode)] = c.positive("shell capacity", float64(bo.ShellCapacity), "J/K")
		p.capacity[node(probeNode)] = c.positive("probe capacity", float64(ch.Probe.Capacity), "J/K")
		p.capacity[node(linkNode)] = c.positive("link capacity", float64(ch.Link.Capacity), "J/K")
		p.air[node(shellNode)] = c.conductance("shell to air", float64(bo.ShellToAir))
		for kind := range kinds {
			p.begin[node(kind)] = float64(bo.Start)
		}
		p.chains[i] = chain{
			ew: v.wet, es: v.dry,
			ws: c.conductance("water to shell", float64(bo.WaterToShell)),
			wp: c.conductance("probe to water", float64(ch.Probe.ToWater)),
			sl: c.conductance("link to shell", float64(ch.Link.ToShell)),
			sk: c.conductance("shell to lid", float64(bo.ShellToLid)),
		}
	}
	for k, q := range b.Couplings {
		c.at = fmt.Sprintf("coupling %d: ", k+1)
		g := c.conductance("conductance", float64(q.Conductance))
		if q.A < 0 || q.A >= n || q.B < 0 || q.B >= n || q.A == q.B {
			c.add("channels", fmt.Sprintf("%d and %d", q.A+1, q.B+1), fmt.Sprintf("two different ones of 1 to %d", n))
			continue
		}
		join(shellNode*n+q.A, shellNode*n+q.B, g)
	}
	p.capacity[up] = 1 // a node apart from everything
	if u := b.Upstream; u != nil {
		c.at = "upstream link: "
		p.fitted = true
		p.capacity[up] = c.positive("capacity", float64(u.Capacity), "J/K")
		p.upstream, p.melts = float64(u.Functions), !u.Open
		g := c.conductance("to shell", float64(u.ToShell)) / float64(n)
		for i := range n {
			join(shellNode*n+i, up, g)
			p.begin[up] += float64(b.Channels[i].Boiler.Start) / float64(n)
		}
		if p.melts && math.IsNaN(p.upstream) {
			c.add("functions", "NaN", "a temperature")
		}
	}
	c.at = "heat network: "
	if len(c.errs) == 0 { // otherwise what follows may not be there
		if rate := p.fastest(); rate > maxRate {
			c.add("shortest time constant", fmt.Sprintf("%.3g s", 1/rate), fmt.Sprintf("at least %g s: a capacity is too small or a conductance or flow too large", 1/maxRate))
		}
	}
	if err := errors.Join(c.errs...); err != nil {
		return nil, err
	}
	return p, nil
}

// maxRate bounds the work of a window: at it, one second takes some 10 ms.
const maxRate = 1e4 // 1/s

// fastest returns a bound of the rates in 1/s, with water at its lowest.
func (p *parameters) fastest() float64 {
	n := len(p.vessels)
	net := newNetwork(n)
	copy(net.chains, p.chains)
	copy(net.sink, p.air)
	net.bridge, net.edges = p.bridge, p.edges
	for i, c := range p.capacity {
		net.inverse[i] = 1 / c
	}
	for i := range p.vessels {
		v := &p.vessels[i]
		w := waterNode*n + i
		net.inverse[w] = 1 / (4180 * min(v.start, v.floor))
		for _, d := range v.draws {
			net.sink[w] += 2 * 4180 * float64(d.Flow)
			if !d.Steam && d.Refill >= 0 {
				net.sink[waterNode*n+d.Refill] += 4180 * float64(d.Flow)
			}
		}
	}
	net.measure()
	return net.rate
}

// vessel reads channel i.
func (c *checker) vessel(b *models.Board, i int) vessel {
	ch := &b.Channels[i]
	bo := &ch.Boiler
	v := vessel{
		open: bo.Open, feed: bo.Feed, reseat: math.Inf(-1),
		wetted: c.conduct("wetted", float64(bo.Wetted), "kg"),
		floor:  c.positive("floor", float64(bo.Floor), "kg"),
		start:  c.positive("water", float64(bo.Water), "kg"),
		wet:    c.conductance("element to water", float64(bo.ElementToWater)) / c.positive("scale", float64(bo.Scale), ""),
		dry:    c.conductance("element to shell", float64(bo.ElementToShell)),
		link:   float64(ch.Link.Functions), melts: !ch.Link.Open,
		draws: slices.Clone(bo.Draws),
	}
	if th := &ch.Thermostat; th.Fitted {
		v.moves, v.stays = th.Stuck == models.Free, th.Stuck == models.StayOpen
		v.opens, v.closes = float64(th.Opens), float64(th.Closes)
		if !(v.closes < v.opens) {
			c.add("thermostat closes", fmt.Sprintf("%g °C", v.closes), fmt.Sprintf("less than %g °C, at which it opens", v.opens))
		}
	}
	if v.melts && math.IsNaN(v.link) {
		c.add("link functions", "NaN", "a temperature")
	}
	v.pressure = float64(bo.Relief)
	name := "relief"
	if v.open {
		v.pressure, name = float64(b.AmbientPressure), "ambient pressure"
	}
	var err error
	if v.boiling, err = water.SaturationTemperature(v.pressure); err != nil || v.boiling > water.MaxFastCelsius {
		top, _ := water.SaturationPressure(water.MaxFastCelsius)
		c.add(name, fmt.Sprintf("%g Pa", v.pressure), fmt.Sprintf("612 Pa to %.0f Pa", math.Floor(top)))
		v.boiling = water.MaxFastCelsius
	}
	if !v.open {
		p := float64(bo.Reseat)
		if v.reseat, err = water.SaturationTemperature(p); err != nil || p > v.pressure {
			c.add("reseat", fmt.Sprintf("%g Pa", p), fmt.Sprintf("612 Pa to the relief pressure %g Pa", v.pressure))
		}
	}
	c.temperature("start", float64(bo.Start))
	inlet := c.temperature("inlet", float64(bo.Inlet))
	if inlet >= v.boiling {
		c.add("inlet", fmt.Sprintf("%g °C", inlet), fmt.Sprintf("less than the boiling point %.2f °C", v.boiling))
	}
	v.hInlet, v.hBoiling = water.H(inlet), water.H(v.boiling)
	v.latent = water.Hfg(v.boiling)
	if v.feed {
		v.latent += v.hBoiling - v.hInlet
	}
	for k, d := range v.draws {
		c.conduct("draw "+strconv.Itoa(k+1)+": flow", float64(d.Flow), "kg/s")
		if !d.Steam && (d.Refill < -1 || d.Refill >= len(b.Channels) || d.Refill == i) {
			c.add(fmt.Sprintf("draw %d: refill", k+1), fmt.Sprintf("channel %d", d.Refill+1),
				fmt.Sprintf("the cold supply (0) or another one of 1 to %d", len(b.Channels)))
		}
	}
	return v
}

// checker collects what is wrong with a board.
type checker struct {
	at   string
	errs []error
}

func (c *checker) add(field, found, expected string) {
	c.errs = append(c.errs, fmt.Errorf("heat: %s%s: found %s, expected %s", c.at, field, found, expected))
}

func (c *checker) positive(field string, v float64, unit string) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		c.add(field, measured(v, unit), "a finite value above 0")
		return 1
	}
	return v
}

func (c *checker) conduct(field string, v float64, unit string) float64 {
	if !(v >= 0) || math.IsInf(v, 0) {
		c.add(field, measured(v, unit), "a finite value of 0 or more")
		return 0
	}
	return v
}

func (c *checker) conductance(field string, v float64) float64 { return c.conduct(field, v, "W/K") }

func (c *checker) temperature(field string, v float64) float64 {
	if !(v >= -100 && v <= 1000) {
		c.add(field, measured(v, "°C"), "-100 °C to 1000 °C")
		return 20
	}
	return v
}

func measured(v float64, unit string) string {
	if unit == "" {
		return fmt.Sprintf("%g", v)
	}
	return fmt.Sprintf("%g %s", v, unit)
}
