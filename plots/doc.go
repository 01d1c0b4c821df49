// Package plots draws figures: waveforms of a few supply cycles, temperatures
// of a run, small multiples of one test point, readings by meter, the circuit
// of a channel, two cases side by side, curves and bands of comparison, shares
// with their intervals and maps of confusion; and animations of a circuit in slow motion and of a machine over hours.
//
// Every figure is a [Sheet]: built once from plain data, checked while being
// built, then drawn on any canvas or encoded as PNG, SVG or PDF, with a text
// alternative and the data behind it. The same input gives the same bytes.
// Nothing here writes files.
//
// An [Animation] is drawn frame by frame on all cores, what stays drawn once,
// and written as GIF, as animated PNG, or as pictures or raw pixels one by one.
// Its frames hold the states that they are given; nothing is made up between.
//
// [Waveforms], [Temperatures], [Multiples] and [Readings] take times and
// values in SI units and °C, with names. [FromRecording] and [FromResult] make
// such input from a simulation; they are the only part that knows one.
//
// A figure must be readable without colour: lines differ in colour, dash,
// weight and marker, areas in pattern, and names stand at the lines. Labels
// are measured and placed so that none covers another. Style, sizes and
// palette are in one file, style.go.
//
// A [Language] has the words that figures write themselves, from files in the
// form of gettext; those of a disturbance sheet are in English.
//
// What the package does not know: how results come about, units other than
// those it is told, right-to-left or complex scripts (text is drawn glyph by
// glyph in Liberation Sans).
package plots
