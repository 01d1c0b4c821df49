package readings

import (
	"fmt"

	"boilwright/models"
)

// Point is a test point: the pair of nodes on which a meter's leads go.
type Point struct {
	Name    string // as written at the command line
	Title   string
	Plus    models.Node // positive lead
	Minus   models.Node // negative lead
	Channel int         // −1 for none
	// Control is a point on the extra-low-voltage control side. Its nodes are
	// those of the unplugged board with the control plugs pulled off.
	Control bool
	// Live says that the supply's voltage is present there with the board
	// plugged in, whatever the controls do.
	Live bool
}

// LiveCaution belongs beside every test at a live point.
const LiveCaution = "live test: only by someone competent and, where local rules ask for it, licensed; on a supply protected by a " +
	"residual-current device (it does not protect between line and neutral); meter of the right category, proved before and after; " +
	"one lead clipped on before power; the board is live in standby"

// UnpluggedCaution belongs beside every test on the unplugged board.
const UnpluggedCaution = "unplug, lock off and prove dead first; let capacitors discharge; boilers stay hot and under pressure"

// Points lists the test points of a board: the supply's, then each channel's.
func Points(b *models.Board) []Point {
	at := models.At
	pts := []Point{
		{Name: "supply", Title: "line to neutral", Plus: at(models.Line, 0), Minus: at(models.Neutral, 0), Channel: -1, Live: true},
		{Name: "line-earth", Title: "line to protective earth", Plus: at(models.Line, 0), Minus: at(models.ProtectiveEarth, 0), Channel: -1, Live: true},
		{Name: "neutral-earth", Title: "neutral to protective earth", Plus: at(models.Neutral, 0), Minus: at(models.ProtectiveEarth, 0), Channel: -1, Live: true},
	}
	for k := range b.Channels {
		pts = append(pts, channelPoints(b, k)...)
	}
	return pts
}

func channelPoints(b *models.Board, k int) []Point {
	c := &b.Channels[k]
	at := func(p models.Place) models.Node { return models.At(p, k) }
	near, far := at(models.Line), at(models.Neutral)
	if b.Upstream != nil {
		near = at(models.Rail)
	}
	if c.Side == models.NeutralSide {
		near, far = far, near
	}
	mt1, mt2 := near, at(models.Output)
	if c.MT1 == models.MT1Load {
		mt1, mt2 = mt2, mt1
	}
	name := func(s string) string { return fmt.Sprintf("%s:%s", c.Name, s) }
	pts := []Point{
		{Name: name("output"), Title: "triac output across the load", Plus: at(models.Output), Minus: far},
		{Name: name("output-earth"), Title: "triac output to protective earth", Plus: at(models.Output), Minus: at(models.ProtectiveEarth)},
		{Name: name("triac"), Title: "across the triac, MT2 to MT1", Plus: mt2, Minus: mt1},
		{Name: name("gate"), Title: "gate to MT1", Plus: at(models.Gate), Minus: mt1},
		{Name: name("gate-resistor"), Title: "across the gate resistor", Plus: at(models.OptoOutput), Minus: at(models.Gate)},
		{Name: name("opto-output"), Title: "across the opto output", Plus: mt2, Minus: at(models.OptoOutput)},
		{Name: name("link"), Title: "across the thermal link", Plus: at(models.Wire), Minus: at(models.Load)},
		{Name: name("element"), Title: "across the element", Plus: at(models.Load), Minus: far},
	}
	if c.Thermostat.Fitted {
		pts = append(pts, Point{Name: name("thermostat"), Title: "across the thermostat", Plus: at(models.Wire), Minus: at(models.Contact)})
		for i := range pts {
			if pts[i].Name == name("link") {
				pts[i].Plus = at(models.Contact)
			}
		}
	}
	for i := range pts {
		pts[i].Channel, pts[i].Live = k, true
	}
	return append(pts,
		Point{Name: name("drive"), Title: "drive plug, pin to pin", Plus: at(models.PlugPlus), Minus: at(models.PlugMinus), Channel: k, Control: true},
		Point{Name: name("led"), Title: "across the LED of the opto", Plus: at(models.Anode), Minus: at(models.PlugMinus), Channel: k, Control: true})
}

// UnpluggedPoints lists the test points of the unplugged board with its
// control plugs pulled off: those of [Points], then those of the drive
// transistors on the controller's side of the plugs.
func UnpluggedPoints(b *models.Board) []Point {
	pts := Points(b)
	for k := range b.Channels {
		at := func(p models.Place) models.Node { return models.At(p, k) }
		name := func(s string) string { return fmt.Sprintf("%s:%s", b.Channels[k].Name, s) }
		pts = append(pts,
			Point{Name: name("transistor"), Title: "output of the drive transistor to its emitter", Plus: at(models.Collector), Minus: at(models.Emitter), Channel: k, Control: true},
			Point{Name: name("transistor-base"), Title: "base to emitter of the drive transistor", Plus: at(models.Base), Minus: at(models.Emitter), Channel: k, Control: true})
	}
	return pts
}

// FindPoint returns the test point of a name.
func FindPoint(b *models.Board, name string) (Point, error) { return find(Points(b), name) }

// FindUnpluggedPoint returns the test point of a name on the unplugged board.
func FindUnpluggedPoint(b *models.Board, name string) (Point, error) {
	return find(UnpluggedPoints(b), name)
}

func find(points []Point, name string) (Point, error) {
	var names []string
	for _, p := range points {
		if p.Name == name {
			return p, nil
		}
		names = append(names, p.Name)
	}
	return Point{}, fmt.Errorf("found test point %q, expected one of %v", name, names)
}
