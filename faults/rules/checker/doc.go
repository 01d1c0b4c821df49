// Package checker lets any program judge boards, so that rules in any language
// can be validated: it reads evidence as JSON lines and writes conclusions as
// JSON lines.
//
// # The lines
//
// The program is started without a shell. Everything is UTF-8, one JSON object
// a line, and every line from the program is answered to before the next comes:
// it must flush what it writes.
//
// First it reads a [Header]: the schema, what can be observed on the board, its
// channels, meters and plate, and the names of the faults. It answers with an
// [Answer]: the schema, the names of the observables that it wants (only these
// are simulated), the names of its rules where it has some, and whether each
// board is to come once with each meter in hand.
//
// Then it reads a [Question] for each case: an id, the meter in hand where it
// asked for that, and the values in the order of the observables that it
// wants. A number is a number, and "inf" where it is beyond every range, open
// or never; a whether is true or false; a word is a text. It answers with a
// [Verdict]: the same id and its conclusions, each with a rule, a channel
// (without one: the board as a whole) and faults of which one is meant (without
// any: healthy). A verdict with an error is a case that it can't judge.
//
//	{"id":1,"values":[115.2,true,"in band"]}
//	{"id":1,"conclusions":[{"rule":"half","channel":"dye","faults":["opto-one-way"]}]}
//
// The end of its input is the end of its work. The schema has a version; one
// that differs is refused.
//
// # What goes wrong
//
// A program that ends or takes longer than its time is started again, not more
// often than it may; a case on which this happens twice is given up and
// counted, see [Checker.Troubles]. A line that is no answer, too long or out of
// turn ends the work with an error that has its number. The program and what it
// has started in its process group are killed and waited for.
//
// The package does not know what a program does otherwise: it runs with all
// that the user may do, so start none that is not trusted.
package checker
