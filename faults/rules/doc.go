// Package rules judges boards by rules that people or machines have for what
// evidence means.
//
// A [Judge] draws conclusions from evidence. A [Program] is one, compiled from
// a rule file by [Load] or [Parse]; package checker has another, which asks an
// external program.
//
// # Rules
//
// A rule has a condition in CEL, the Common Expression Language, and what it
// concludes: faults of which one is meant, or that the channel or the board is
// healthy. A condition calls observables, such as volts("output", "standby"),
// by the forms of package evidence, and names constants of the plate
// ([Constants]). In a rule about a channel a test point without a channel is
// one of that channel, and a channel that is left out is that channel. A
// voltmeter that is left out is the meter in hand, a clamp that is left out the
// board's only one. Everything is resolved and type-checked when a file is read,
// and every mistake is told with its place.
//
// A whole number is a number like any other: where a condition makes sense
// with numbers alone, 1 / 2 is a half. What is beyond every range, open or never
// is infinite. What is no number is in no order: such a comparison is false, as
// in IEEE 754 and in CEL.
//
// A condition has no side effects, ends, and is bounded in size, depth and cost
// ([MaxCondition], [MaxDepth], [MaxList], [MaxCost]). Patterns, maps and times
// of day are left out of the language. An error while a condition is evaluated,
// as an index beyond a list, means that the rule does not apply there;
// [Program.Troubles] counts them. As CEL has it, an operand that decides && or
// || makes an error of the other of no account.
//
// What most conditions are made of is evaluated without CEL's own machine, with
// the same result; the rest by that machine.
//
// # What it does not know
//
// How evidence comes about, and whether a rule is right: package validate finds
// out on boards whose faults are known. All of these boards are simulated; a
// real one can differ.
package rules
