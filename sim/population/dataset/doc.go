// Package dataset makes data files of populations: of each board what is wrong
// with it, what is observed on it, and what was drawn for its parts; as
// Parquet, comma-separated values or JSON lines.
//
// # A data set is a function of its file
//
// A [Definition] is read from a population file: the board, which boards are
// drawn around it, and what is kept of each. Row i follows from it, the
// program's version and i, and nothing else; so any range of indices can be
// computed anywhere. [Compute] works on one range, a shard, and [Open] puts
// parts together: the files that [Parts.Write] makes have the same bytes
// however many parts there were, whoever computed them, and however often they
// were interrupted.
//
// # Parts
//
// A part is a log that grows by blocks of boards. A block is told to be done
// when it has reached the disk. However a process ends, the same call goes on
// after the last whole block. What is damaged elsewhere than at the end, or is
// part of something else, is refused with a reason and left as it is. A lock
// keeps a second process away as long as the first one lives; where the file
// system has no locks, that a part has one writer is left to the caller.
//
//	file   = header block*
//	header = "bwpart\r\n" length:u32 text sum:u32      text is JSON, see Header
//	block  = "bwbl" first:u64 count:u32 length:u32 sum:u32 payload sum:u32
//
// Numbers are little-endian. A sum is the CRC-32C (Castagnoli polynomial, RFC
// 3720, 12.1) of what stands before it since the sum before: it finds every
// burst of damage of up to 32 bits, and misses other damage once in 2³². It is
// no protection against somebody who wants to deceive.
//
// # Values
//
// Nothing is lost by the format: a number that is beyond every range, an open
// path and a time that never comes are infinite, +Inf in Parquet, inf in
// comma-separated values and the text "inf" in JSON, which has no infinity.
// What does not exist, because a board has no solution, is null; an empty
// cell in comma-separated values. Numbers have all their digits.
//
// # What it does not know
//
// What the values mean, which package evidence does; how frequent a fault is
// in the world, as all rates are assumptions; and whether two versions of the
// program compute the same, for which reason parts of different ones are not
// put together. What counts as a version is left to the caller, who must name
// all that changes the last digits: the code, the compiler, the processor's
// architecture. Processors of one architecture are taken to compute alike;
// those so old that they lack fused multiplication and addition may not, as Go's
// exponential function uses it where it is there.
// Everything is simulated; a real board can differ.
package dataset
