// Package circuit knows how the parts of a board become a network, and solves
// it exactly: node voltages, branch currents, firing and extinction angles and
// energies, half-cycle by half-cycle.
//
// A board's parts are piecewise linear, so each combination of their discrete
// states is a linear network,
//
//	dx/dt = A·x + b·e + k,   y = C·x + d·e + h
//
// with x the capacitor voltages and inductor currents, e the source voltage and
// k, h from the thresholds. Its solution is a sum of modes, sinusoids and a
// constant, known for all time; a [Segment] is that sum between two switchings.
// The instants of switching are roots of functions linear in x and e, found on
// the exact solution to 5e-13 s. No sample grid is involved.
//
// All channels share line, neutral and source impedance: one channel's current
// moves the others' voltage. A meter is a [models.Bridge] like any other path.
//
// The package does not know faults, temperatures that change over time (they
// are set from outside, see [Solver.SetTemperatures]), files or looks.
//
// # Switching rules
//
// An opto turns on with its LED lit, below its inhibit voltage, if it will
// carry its latching current; it turns off below its holding current. A triac
// fires when the gate junction carries the trigger current of the quadrant: it
// latches if it will carry its latching current without its opto, else it
// conducts as long as the gate holds it and its current does not reverse. It
// turns off when its current falls below the holding current. Too fast a rise of voltage, or too much of it,
// latches it without its gate. Each rule demands a change only if the outcome
// is consistent; demands are met one at a time, in a fixed order, until none
// is left. Junctions and one-way paths are resolved first.
//
// Angles are in electrical degrees from the zero of the supply's fundamental
// that starts the half-cycle in which a triac fired.
//
// # At rest
//
// [NewMetered] makes a board ready for one meter after another. Where nothing
// switches, [Metered.Quiescent] solves it by phasors, and what a meter's load
// makes of it by the impedance at its leads: what the [Solver] comes to after
// its transients, at a hundredth of the work.
//
// # Unplugged
//
// [NewUnplugged] takes the same parts without the supply and passes a test
// instrument's direct current through them, so that parallel paths show. The
// control side is a network of its own there: LEDs behind their resistors, and
// drive transistors behind the control plugs, which are pulled off. Nothing
// joins it to the mains side; no film across the optos' insulation is modelled.
package circuit
