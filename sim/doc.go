// Package sim knows how a board's circuit and its heat move together in time:
// control windows, probes and controllers, the energies of half-cycles, the
// thermal links, the supply's protection, and what became of each channel.
//
// [Run] goes through a board hour by hour. The circuit's exact solution
// (package circuit) is found once for each distinct half-cycle and its energies
// drive the exact heat solution (package heat); with [Options].Full every
// half-cycle is solved. The long run is never a second, simpler model.
//
// It does not know what a fault is: a board changes while it runs through an
// [Editor]. It knows no files and no looks.
//
// # A control window
//
// At the start of each window of N half-cycles the probes are read through
// their converters, the indicators are set, and each controller asks for whole
// cycles; a limit on channels conducting together refuses some, by priority.
// Equal cycles form pieces of constant power. The heat solution finds the
// temperatures in the middle of the window and with them the power of each
// piece, then advances exactly. A thermal link that reaches its temperature
// ends a window early; it opens at the next zero of its current.
//
// A residual-current device trips when the current in the earth conductor has
// been at its threshold for its break time; the supply fuse melts on the
// integral of i², less what it gives off. Either ends the supply for good.
package sim
