// Package population draws many boards around one: each with parts within
// their tolerances, on its own supply, in its own room, with meters of their
// own calibration, and with faults at given rates, whose ground truth it
// keeps.
//
// # A member is a function of its index
//
// Member i of a population follows from the board, the spec, the seed and i.
// Every parameter in every place, and everything else that is drawn, has a
// generator of its own, seeded from those and from its name. So any range of
// indices can be computed anywhere and in any order, parts of a population can
// be put together, and a parameter that is added or given another law shifts
// no other draw. With [Population.Given] the same boards are drawn with faults
// that the caller names: how one fault shows on boards of all tolerances.
//
// # What is drawn
//
// [Parameters] lists each parameter with its default [Spread] and where that
// comes from. Most defaults are assumptions; a few bounds are from standards.
// Parameters are independent of each other, except that
//
//   - the latching current of triac and opto is drawn as what it is above the
//     holding current, and stays above it;
//   - one factor is on all supply impedances, and one on I_GT of all quadrants;
//   - what starts at room temperature follows the room;
//   - both pressures of a relief valve, and both temperatures of a thermostat,
//     move together.
//
// A part that is not fitted, or that is open or infinite on the board, stays
// so. Values stay within what a board file may hold.
//
// # What it does not know
//
// How frequent a fault is in the world: [DefaultRates] are no statistics. Nor
// how parts of one batch are alike, how they age, or which fault brings
// another. What it says about a population is about boards drawn as said, not
// about any that have been made.
package population
