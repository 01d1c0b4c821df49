package circuit

import (
	"fmt"

	"boilwright/models"
)

// newControlSide assembles the control side of the unplugged board, with the
// control plugs pulled off: on the board each channel's R_LED with the LED of
// its opto, which blocks in reverse; on the controller's side the output and
// the base junction of each drive transistor, their emitters joined. Nothing
// leads from there to the mains side.
func newControlSide(b *models.Board, zero models.Node) (*netlist, error) {
	n := &netlist{zero: zero, earth: -1}
	for k := range b.Channels {
		d, o := &b.Channels[k].Drive, &b.Channels[k].Opto
		at := func(p models.Place) int { return n.node(models.At(p, k)) }
		name := func(s string) string { return fmt.Sprintf("%s%d", s, k+1) }
		// Every node is there, whatever is broken.
		plus, minus, anode := at(models.PlugPlus), at(models.PlugMinus), at(models.Anode)
		collector, emitter, base := at(models.Collector), at(models.Emitter), at(models.Base)
		n.resist(name("led-resistor"), plus, anode, float64(d.Resistance), k, models.NoPart)
		n.forward(name("led"), anode, minus, float64(o.Forward), float64(o.LEDSlope), k)
		if g := float64(d.OffConductance); g > 0 {
			n.resist(name("transistor"), collector, emitter, 1/g, k, models.NoPart)
		}
		if !d.Open {
			n.forward(name("base-junction"), base, emitter, float64(models.BaseThreshold), float64(models.BaseSlope), k)
		}
		if k > 0 {
			n.resist(name("control-common"), emitter, n.node(models.At(models.Emitter, 0)), controlCommon, -1, models.NoPart)
		}
	}
	if err := n.checkValues(0); err != nil {
		return nil, err
	}
	if len(n.valves) > maxValves {
		return nil, fmt.Errorf("found %d junctions on the control side, expected at most %d", len(n.valves), maxValves)
	}
	return n, nil
}

// controlCommon is the resistance in ohms of the common between two drive
// transistors: a conductor of the controller.
const controlCommon = 0.01

// forward adds a junction that conducts from a to b; one of infinite slope is
// open and adds nothing.
func (n *netlist) forward(name string, a, b int, volts, ohms float64, ch int) {
	if finite(ohms) {
		n.add(branch{name: name, kind: diode, a: a, b: b, ohms: ohms, volts: volts, oneWay: true, channel: ch})
	}
}

// ControlBranches lists the branches of the control side of b that a test on
// the unplugged board may have lifted.
func ControlBranches(b *models.Board) ([]string, error) {
	n, err := newControlSide(b, models.At(models.Emitter, 0))
	if err != nil {
		return nil, err
	}
	return names(n), nil
}
