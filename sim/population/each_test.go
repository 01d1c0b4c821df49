package population_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"boilwright/sim/population"
)

// Results come in the order of the indices, however long each takes, for any
// number of workers and any window, and no more are under way than the window.
func TestEachOrder(t *testing.T) {
	for _, w := range []population.Workers{{Count: 1}, {Count: 2}, {Count: 7}, {Count: 7, Window: 7}, {Count: 3, Window: 40}, {}} {
		for _, r := range [][2]uint64{{0, 300}, {17, 18}, {5, 5}} {
			t.Run(fmt.Sprintf("workers=%d/window=%d/from=%d/to=%d", w.Count, w.Window, r[0], r[1]), func(t *testing.T) {
				synctest.Test(t, func(t *testing.T) { eachOrder(t, w, r[0], r[1]) })
			})
		}
	}
}

func eachOrder(t *testing.T, w population.Workers, from, to uint64) {
	window := int64(w.Window)
	if window == 0 && w.Count > 0 {
		window = 16 * int64(w.Count)
	}
	var begun, yielded, most, busy, busiest atomic.Int64
	raise := func(to *atomic.Int64, v int64) {
		for old := to.Load(); v > old && !to.CompareAndSwap(old, v); old = to.Load() {
		}
	}
	next := from
	err := population.Each(t.Context(), from, to, w, func(_ context.Context, i uint64) (uint64, error) {
		raise(&most, begun.Add(1)-yielded.Load())
		raise(&busiest, busy.Add(1))
		defer busy.Add(-1)
		time.Sleep(time.Duration(rand.New(rand.NewPCG(1, i)).IntN(1000)) * time.Millisecond) // of the bubble's clock
		if i%50 == 0 {
			time.Sleep(time.Minute)
		}
		return i * i, nil
	}, func(i uint64, v uint64) error {
		if i != next || v != i*i {
			t.Errorf("found %d with %d, expected %d with its square", i, v, next)
		}
		next++
		yielded.Add(1)
		return nil
	})
	if err != nil || next != to {
		t.Errorf("ended at %d with %v, expected %d", next, err, to)
	}
	if window > 0 && most.Load() > window {
		t.Errorf("found %d under way at once, expected at most the window of %d", most.Load(), window)
	}
	if w.Count > 0 && busiest.Load() > int64(w.Count) || to-from > 100 && w.Count > 1 && busiest.Load() < int64(w.Count) {
		t.Errorf("found %d at work at once, expected %d", busiest.Load(), w.Count)
	}
}

// The first error by index wins, whichever comes first in time.
func TestEachFirstError(t *testing.T) {
	late, early, sink := errors.New("index 40"), errors.New("index 60"), errors.New("yield")
	for _, count := range []int{1, 2, 7} {
		synctest.Test(t, func(t *testing.T) {
			work := func(_ context.Context, i uint64) (int, error) {
				switch i {
				case 40:
					time.Sleep(time.Hour)
					return 0, late
				case 60:
					return 0, early
				}
				return int(i), nil
			}
			seen := 0
			err := population.Each(t.Context(), 0, 100, population.Workers{Count: count, Window: 64}, work, func(i uint64, v int) error {
				seen++
				return nil
			})
			if !errors.Is(err, late) || seen != 40 {
				t.Errorf("%d workers: %v after %d results, expected %v after 40", count, err, seen, late)
			}
			err = population.Each(t.Context(), 0, 100, population.Workers{Count: count}, work, func(i uint64, v int) error {
				if i == 30 {
					return sink
				}
				return nil
			})
			if !errors.Is(err, sink) {
				t.Errorf("%d workers: %v, expected %v", count, err, sink)
			}
		})
	}
}

// Cancelling ends it, keeps what was delivered in order, and leaves no
// goroutine behind: the bubble would not end with one.
func TestEachCancel(t *testing.T) {
	for _, count := range []int{1, 2, 7} {
		synctest.Test(t, func(t *testing.T) {
			ctx, cancel := context.WithCancel(t.Context())
			var got []uint64
			err := population.Each(ctx, 0, 1000, population.Workers{Count: count}, func(ctx context.Context, i uint64) (uint64, error) {
				if i == 100 { // waits until it is told to end
					<-ctx.Done()
					return 0, ctx.Err()
				}
				return i, nil
			}, func(i uint64, v uint64) error {
				got = append(got, v)
				if i == 99 {
					cancel()
				}
				return nil
			})
			if !errors.Is(err, context.Canceled) || len(got) != 100 || !slices.IsSorted(got) {
				t.Errorf("%d workers: %v after %d results, expected a cancellation after 100", count, err, len(got))
			}
		})
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	err := population.Each(ctx, 0, 10, population.Workers{}, func(context.Context, uint64) (int, error) { return 0, nil }, func(uint64, int) error { return nil })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("begun when cancelled: %v", err)
	}
}

// Wrong arguments are told.
func TestEachArguments(t *testing.T) {
	none := func(context.Context, uint64) (int, error) { return 0, nil }
	for _, w := range []population.Workers{{Count: -1}, {Window: -1}} {
		if err := population.Each(t.Context(), 0, 1, w, none, func(uint64, int) error { return nil }); err == nil {
			t.Errorf("%+v: expected an error", w)
		}
	}
	if err := population.Each(t.Context(), 2, 1, population.Workers{}, none, func(uint64, int) error { return nil }); err == nil {
		t.Error("from 2 to 1: expected an error")
	}
}

// What has been delivered is let go: 2000 results of 64 KiB never hold more than
// a window of them.
func TestEachMemory(t *testing.T) {
	const size, window = 64 << 10, 16
	heap := func() uint64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	before, most := heap(), uint64(0)
	err := population.Each(t.Context(), 0, 2000, population.Workers{Count: 2, Window: window}, func(_ context.Context, i uint64) ([]byte, error) {
		return make([]byte, size), nil
	}, func(i uint64, v []byte) error {
		if i%100 == 99 {
			most = max(most, heap())
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	// One more that a worker has just made, and the test's own.
	if limit := before + (window+3)*size + 1<<20; most > limit {
		t.Errorf("found %d bytes on the heap, expected at most %d", most, limit)
	}
}
