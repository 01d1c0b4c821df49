package command

import (
	"context"
	"errors"

	"boilwright/sim/population"
)

// parallel does n pieces of work on all cores. Each writes to a place of its
// own, so that the result does not depend on their order. Errors are joined in
// the order of the pieces.
func parallel(n int, work func(i int) error) error {
	var errs []error
	err := population.Each(context.Background(), 0, uint64(max(0, n)), population.Workers{},
		func(_ context.Context, i uint64) (error, error) { return work(int(i)), nil },
		func(_ uint64, err error) error {
			errs = append(errs, err)
			return nil
		})
	return errors.Join(append(errs, err)...)
}
