package sim

import "golang.org/x/sys/cpu"

// wide tells that the processor has registers of four numbers, and what turns
// lanes in them.
var wide = cpu.X86.HasAVX2

// carry takes what is going on through a window: see carryPlain.
func carry(c *course, on *going, l *leakage) (stale int) {
	if wide {
		return carryWide(c, on, l)
	}
	return carryPlain(c, on, l)
}

// carryWide is carryPlain in registers of four numbers; sums are formed in the same
// order. It trusts that there are as many stages in the course as are going.
//
//go:noescape
func carryWide(c *course, on *going, l *leakage) (stale int)

// addLedger adds a ledger to another.
func addLedger(to, from *ledger) {
	if wide {
		addLedgerWide(to, from)
		return
	}
	addLedgerPlain(to, from)
}

// addLedgerWide is addLedgerPlain in registers of four numbers.
//
//go:noescape
func addLedgerWide(to, from *ledger)
