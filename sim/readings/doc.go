// Package readings knows what meters show on a board: which test points there
// are, how a meter's input loads the circuit, what its detector makes of the
// waveform, and what its display shows; clamp ammeters round its leads; the
// plug-in energy monitor and its table of channel combinations; and tests on
// the unplugged board, its control side included.
//
// Every reading is computed on the same network as everything else, with the
// meter in it. It does not know faults, and it draws no conclusions.
//
// Working on a live board can kill. A test point says whether it is live and
// carries the caution that belongs beside it.
package readings
