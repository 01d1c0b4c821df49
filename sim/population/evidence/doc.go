// Package evidence is what can be observed on the boards of a population: the
// readings of meters, the unplugged tests, the energy monitor, the temperatures
// over time and what follows from them, all as numbers in a fixed order, so
// that rules can be judged by them and files can hold them.
//
// [Forms] lists the observables by form, such as volts(point, state, meter);
// [Find] and [All] name those of one board, and a [Plan] observes them on the
// members of a population, simulating no more than they take.
//
// # What it knows
//
// All of it is about one board: a member with its faults as they are when
// everything has happened, as [population.Member.Faulty] returns it, in a room
// at its ambient temperature and cold at the start. Instruments show what they
// display, each with the member's own calibration. The controller is heeded:
// a channel that is not enabled, or whose probe the controller takes for warm
// enough, is not driven while the others are.
//
// # What it does not know
//
// Who looks: nothing is misread, and no lead is put on the wrong terminal. How
// a fault comes about while the machine runs, which [population.RunJob] tells.
// What a reading would be on a warm board, or with part of the wiring taken
// off. An ohmmeter, a diode test and an insulation tester are ideal, as their
// errors are not among what is drawn. What is observed is simulated; a real
// board can differ.
package evidence
