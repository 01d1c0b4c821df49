package command

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"
)

// progress shows on a terminal how far long work has come.
type progress struct {
	w    io.Writer // nil where nothing is shown
	what string
	last int
}

// newProgress shows on the command's standard error if that is a terminal, and
// nothing anywhere else.
func newProgress(cmd *cobra.Command, what string) *progress {
	p := &progress{what: what, last: -1}
	if f, ok := cmd.ErrOrStderr().(*os.File); ok {
		if info, err := f.Stat(); err == nil && info.Mode()&os.ModeCharDevice != 0 {
			p.w = f
		}
	}
	return p
}

// show tells how much of the total is done; it is what a simulation calls.
func (p *progress) show(done, total time.Duration) {
	if p.w == nil || total <= 0 {
		return
	}
	if percent := int(100 * done / total); percent != p.last {
		p.last = percent
		fmt.Fprintf(p.w, "\r%s: %d %%", p.what, percent)
	}
}

// end wipes the line.
func (p *progress) end() {
	if p.w != nil && p.last >= 0 {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
