// Package faults knows what can go wrong with a board: a catalogue of faults,
// each an edit of a [models.Board] with a severity, and injections of them
// with an onset and a course. Several may act at once.
//
// It does not know how a circuit is solved, how time moves, or what a meter
// reads. An edit uses the board's own parameters and nothing else: resistances
// of parts, flags such as an open main path, extra paths between named nodes.
// Nothing that computes a board can tell a faulty one from a healthy one but
// by its values, and both take the same way.
//
// # Severity
//
// A severity of 0 is the healthy board, bit for bit; 1 is the full fault, with
// the values of its keys. Between, a graded fault has the law that its
// Severity text tells, mostly one of these (s the severity):
//
//	added path      R(s) = (1 GΩ)^(1 − s) · R^s, no path at s = 0
//	factor          value · factor^s
//	toward a value  healthy + s·(full − healthy)
//
// The first makes the leak current grow by equal factors for equal steps: a
// short of 20 mΩ is a leak of about 4.5 kΩ at half severity. A broken wire has
// no degrees, and only 0 and 1 are taken for it. The laws are conventions of
// this package for sweeping from healthy to failed; how fast a real part goes
// from one to the other is not in them.
//
// # Onset and course
//
// An [Onset] comes at a time, when a place reaches a temperature, when a gate
// resistor reaches a power, after a number of half-cycles with the drive on,
// or when several of these are met; it can require them to last and can be
// delayed. Once come it stays. A [Course] is for good, intermittent with dwell
// times, growing, or ended by a repair.
//
// One fault can cause another: a temperature or power that the first brings
// about is the onset of the second. The chain from a triac that will not
// conduct to a gate resistor that burns is
//
//	dye:triac-open
//	dye:gate-resistor-open,gate-power-above=2 W,hold=20 s
//
// [Cascades] lists the known chains, as sets to be put in at once.
//
// # Wet films
//
// A film of fixed resistance is the plain case. With the key dries it has a
// wetness, which follows a leak, a drip and the dew point:
//
//	dye:film-opto,dries=30 min,leak=100 %,steam=steam,exponent=2
//
// The equation, its symbols and what is convention in it are with [Wetting].
// In a run such a film is a severity that moves, in steps.
//
// # Running a set
//
// A [Set] is never changed. [Set.Start] makes a [Run], which holds what has
// set in; a simulation asks [Run.Version] at each step and, when the version
// has changed, [Run.Edit] on a fresh clone of the healthy board. The only
// randomness is that of random dwell times, one stream per injection from the
// seed given to Start.
//
// # Polarity
//
// Polarities are those of the part: positive is MT2 above MT1. Which half-wave
// of the supply that is follows from the conductor that the triac sits in and
// from which way round it is.
//
// # What is not here
//
// How likely a fault is, and how its likelihood depends on another, is not
// modelled. The wetness of a film is one number that follows one boiler's
// pressure and the temperature of the board pocket: where water runs, how it
// is carried away, and what it leaves behind are not in it.
//
// The texts of the catalogue are for teaching and for ordering tests. They are
// general, name no figures of a board, and put unplugged tests first; beside
// every live test belongs [Caution] and the fault's own Danger. A real board
// can differ, and local codes and licensed practice prevail.
package faults
