package command

import (
	"context"
	"fmt"
	"io"
	"sync"

	"github.com/spf13/cobra"

	"boilwright/sim"
)

// caveat tells, once a command, that a run on which its output rests followed
// classes of temperature where a triac was near firing by itself.
type caveat struct {
	once sync.Once
	w    io.Writer
}

type caveatKey struct{}

// withCaveat lets the runs of a command tell so on its standard error.
func withCaveat(cmd *cobra.Command) {
	ctx := cmd.Context()
	if ctx == nil {
		ctx = context.Background()
	}
	if _, ok := ctx.Value(caveatKey{}).(*caveat); !ok {
		cmd.SetContext(context.WithValue(ctx, caveatKey{}, &caveat{w: cmd.ErrOrStderr()}))
	}
}

// tellCaveat tells so if the result of a run asks for it.
func tellCaveat(ctx context.Context, r *sim.Result) {
	c, ok := ctx.Value(caveatKey{}).(*caveat)
	if !ok || !r.Stats.Approximate {
		return
	}
	c.once.Do(func() {
		fmt.Fprintln(c.w, wrapped("note: in a simulated run a triac came near firing by itself; from when on it does is good to a few kelvins of its junction there, and energies to some per cent. \"boilwright run\" solves every half-cycle from that moment on."))
	})
}

// withoutCaveat is for runs whose own output says so.
func withoutCaveat(ctx context.Context) context.Context {
	return context.WithValue(ctx, caveatKey{}, nil)
}
