// Package validate finds out where rules hold: it draws boards with known
// faults, lets a judge draw conclusions from what is observed on them, and
// counts.
//
// # Units
//
// What is counted is a unit: one channel of one board as it is judged with one
// meter in hand; for rules about the whole board, one board with one meter in
// hand. The truth of a unit is the faults that were put into that channel, or
// into the board and no channel. Without one of its own a channel is healthy,
// whatever is wrong elsewhere. A conclusion that names several faults is right
// where one of them is there, one that names none where none is.
//
// For one rule a unit is a hit, a false alarm, a miss or quiet:
//
//	            right if it applied   wrong if it applied
//	applied     hit (TP)              false alarm (FP)
//	did not     miss (FN)             quiet (TN)
//
//	sensitivity                TP / (TP + FN)
//	specificity                TN / (TN + FP)
//	positive predictive value  TP / (TP + FP)
//	negative predictive value  TN / (TN + FN)
//
// Each has its 95 % score interval, see [Share.Interval].
//
// # Why a rule fails
//
// By meter in hand, by channel, by band of the supply voltage and by fault the
// same is counted. Among units with the same truth, [Rank] compares what was
// drawn for those that were judged rightly and wrongly, and redraws some of the
// latter with one parameter at the board's own value. [Example] is the most
// ordinary board on which a rule fails.
//
// # What it does not know
//
// How frequent faults are in the world: predictive values and all that is
// pooled over faults hold at the rates of the population only. The units of one
// board are not independent of each other, as neither are its channels nor the
// meters in hand: intervals that pool them are too narrow, those of one meter
// and one channel are not. Parameters are compared one at a time.
//
// What comes out follows from board, spec, seed, indices and judge alone,
// whatever the number of workers. Its size does not depend on how many boards
// there are.
package validate
