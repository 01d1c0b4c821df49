// Package infer goes from what was seen on a board to what may be wrong with
// it, and to the next test: the simulator run backwards.
//
// # Method
//
// A [Hypothesis] is a set of faults put into the board. A [Bench] draws a few
// boards from the tolerances of the parts, puts each hypothesis into each of
// them, and simulates what each [Test] would show. For a hypothesis h, a draw
// m, and a piece of evidence e the likelihood is
//
//	L(e | h, m) = (1 − ε)·k((y(e) − y(x_hm))/s_hm) + ε·u(e)
//
// with x_hm what the simulator shows, y the scale of the test (logarithmic in
// ohms, nearly so in volts), k the normal density, s_hm from the meter's
// accuracy, a stated error of the model and the spread between the draws, and
// u a broad density over all that the test can show, which lets a reading be
// a mistake. Evidence is scored together on each draw, as all readings were
// taken on one board:
//
//	P(h | E) ∝ P(h)·1/M·Σ_m Π_e L(e | h, m)
//
// A meter of which only the kind is known, or nothing, is one more unknown:
// the product is summed over the meters that it may be. "Something not in the
// catalogue" is a hypothesis of its own, under which each reading is either
// what a healthy board shows or anything at all.
//
// The next test is the one with the greatest expected information about the
// action, of the safest kind that gains enough (after Heckerman, Breese and
// Rommelse, Decision-theoretic troubleshooting, Communications of the ACM 38
// (1995) 49; Breese and Heckerman, Decision-theoretic troubleshooting: a
// framework for repair and experiment, UAI 1996). It stops when what remains
// unknown would not change the action.
//
// # What it does not know
//
// Prior weights are assumptions, see [Priors]. Faults that are not in the
// catalogue are only told by not fitting. Intermittent faults are taken at
// their full severity, films as wet as they get. How a part looks is
// simulated only where the simulator computes why it would (a gate resistor
// far above its rating); the rest are assumptions in the same file.
//
// It knows no flags, files or drawing.
package infer
