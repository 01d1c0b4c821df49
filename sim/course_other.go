//go:build !amd64

package sim

func carry(c *course, on *going, l *leakage) (stale int) { return carryPlain(c, on, l) }

func addLedger(to, from *ledger) { addLedgerPlain(to, from) }
