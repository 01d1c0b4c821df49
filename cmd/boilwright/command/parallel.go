package command

import (
	"errors"
	"runtime"
	"sync"
)

// parallel does n pieces of work on all cores. Each writes to a place of its
// own, so that the result does not depend on their order. Errors are joined in
// the order of the pieces.
func parallel(n int, work func(i int) error) error {
	errs := make([]error, n)
	next := make(chan int)
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := range next {
				errs[i] = work(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
	return errors.Join(errs...)
}
