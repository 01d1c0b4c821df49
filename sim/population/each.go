package population

import (
	"context"
	"fmt"
	"runtime"
	"sync"
)

// Workers sets how work is spread over cores. The zero value is all of them.
type Workers struct {
	// Count is how many pieces of work go on at once [one a core that Go may
	// use].
	Count int
	// Window is how many pieces may be begun and not yet delivered
	// [16·Count]; at least Count. It bounds the memory: one slow piece keeps
	// no more than so many results of its successors waiting.
	Window int
}

func (w Workers) filled() (Workers, error) {
	if w.Count < 0 || w.Window < 0 {
		return w, fmt.Errorf("found %d workers and a window of %d, expected 0 or more", w.Count, w.Window)
	}
	if w.Count == 0 {
		w.Count = max(1, runtime.GOMAXPROCS(0))
	}
	if w.Window == 0 {
		w.Window = 16 * w.Count
	}
	w.Window = max(w.Window, w.Count)
	return w, nil
}

// Each does the work of the indices from, from+1 … to−1 on several cores and
// gives the results to yield one after the other in the order of the indices,
// in the caller's goroutine. What yield is given does not depend on how many
// workers there are.
//
// The first error by index, of work or of yield, ends it and is returned;
// everything before it has been yielded and nothing after it is. Cancelling
// ctx ends it with the error of ctx after a result that is complete; work
// should heed the context that it is given, which ends with ctx and with
// Each. Each returns when no work goes on any more.
func Each[T any](ctx context.Context, from, to uint64, w Workers, work func(ctx context.Context, index uint64) (T, error), yield func(index uint64, value T) error) error {
	w, err := w.filled()
	if err != nil {
		return err
	}
	if from > to {
		return fmt.Errorf("found indices from %d to %d, expected the lower first", from, to)
	}
	ctx, cancel := context.WithCancel(ctx)
	// A piece is begun when it is put into jobs, and in order is its place in
	// the queue of those not yet delivered, which holds a window of them.
	type piece struct {
		index uint64
		value T
		err   error
		done  chan struct{} // takes one token, so that a piece can be used again
	}
	free := make(chan *piece, w.Window)
	for range w.Window {
		free <- &piece{done: make(chan struct{}, 1)}
	}
	jobs, inOrder := make(chan *piece, w.Window), make(chan *piece, w.Window)
	var wg sync.WaitGroup
	for range w.Count {
		wg.Go(func() {
			for p := range jobs {
				if p.err = ctx.Err(); p.err == nil {
					p.value, p.err = work(ctx, p.index)
				}
				p.done <- struct{}{}
			}
		})
	}
	wg.Go(func() {
		defer close(jobs)
		defer close(inOrder)
		for i := from; i < to; i++ {
			select {
			case p := <-free:
				p.index = i
				inOrder <- p
				jobs <- p
			case <-ctx.Done():
				return
			}
		}
	})
	defer wg.Wait()
	defer cancel()

	for p := range inOrder {
		select {
		case <-p.done:
		case <-ctx.Done():
			return ctx.Err()
		}
		if p.err == nil {
			p.err = yield(p.index, p.value)
		}
		if p.err != nil {
			return p.err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		var none T
		p.value = none // not kept until it is used again
		free <- p
	}
	return ctx.Err()
}
