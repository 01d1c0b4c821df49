//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package dataset

import (
	"errors"
	"os"
	"syscall"
)

// lock keeps other processes from the part until it is closed, by whatever.
func lock(f *os.File) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return ErrBusy
	}
	return nil // a file system without locks
}
