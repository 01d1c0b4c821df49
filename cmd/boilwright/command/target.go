package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
	"boilwright/sim/heat"
)

// stdinName is what errors call a board read from standard input.
const stdinName = "standard input"

// loadBoard reads the board that is named at the command line: an embedded
// one, a file, or standard input.
func loadBoard(cmd *cobra.Command, args []string) (*boardfile.File, error) {
	withCaveat(cmd)
	if len(args) == 0 {
		return boardfile.Embedded(boardfile.EmbeddedNames()[0])
	}
	name := args[0]
	switch {
	case name == "-":
		data, err := readInput(cmd.Context(), cmd.InOrStdin())
		if err != nil {
			return nil, fmt.Errorf("%s: %w", stdinName, err)
		}
		return boardfile.Parse(stdinName, data, os.ReadFile)
	case slices.Contains(boardfile.EmbeddedNames(), name):
		return boardfile.Embedded(name)
	case strings.ContainsAny(name, `/\.`):
		return boardfile.Load(name)
	}
	if _, err := os.Stat(name); err == nil {
		return boardfile.Load(name)
	}
	_, err := boardfile.Embedded(name)
	var e *boardfile.Error
	if errors.As(err, &e) {
		for _, x := range e.Entries {
			names, near, suggested := strings.Cut(x.Expected, "; ")
			x.Expected = names + ", or the path of a file"
			if suggested {
				x.Expected += "; " + near
			}
		}
	}
	return nil, err
}

// readInput reads a board's text from r. It does not wait for it longer than
// the user does.
func readInput(ctx context.Context, r io.Reader) ([]byte, error) {
	type answer struct {
		data []byte
		err  error
	}
	c := make(chan answer, 1)
	go func() {
		data, err := io.ReadAll(io.LimitReader(r, boardfile.MaxSize+1))
		c <- answer{data, err}
	}()
	select {
	case a := <-c:
		return a.data, a.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// solvable tells whether a board's circuit and heat can be set up at all.
func solvable(name string, b *models.Board) error {
	if _, err := circuit.New(b); err != nil {
		return wrongInput(fmt.Errorf("%s: circuit: %w", name, err))
	}
	if _, err := heat.New(b); err != nil {
		return wrongInput(fmt.Errorf("%s: %w", name, err))
	}
	return nil
}

// faultFlags are the flags of every command that takes faults.
type faultFlags struct {
	texts []string
	seed  uint64
}

func (f *faultFlags) add(cmd *cobra.Command, seeded bool) {
	cmd.Flags().StringArrayVarP(&f.texts, "fault", "f", nil, "put in a fault, `CHANNEL:FAULT[,key=value...]`, or board:FAULT; repeatable")
	complete(cmd, "fault", completeFault)
	if seeded {
		cmd.Flags().Uint64Var(&f.seed, "seed", 1, "`NUMBER` that seeds what is random, such as intermittent contacts")
	}
}

// target is a board with the faults that it is to have.
type target struct {
	file  *boardfile.File
	set   faults.Set
	names []string // of the channels
}

// load reads the board and checks the faults against it.
func (f *faultFlags) load(cmd *cobra.Command, args []string) (*target, error) {
	file, err := loadBoard(cmd, args)
	if err != nil {
		return nil, err
	}
	t := &target{file: file, names: channelNames(file.Board)}
	if t.set, err = faults.ParseSet(f.texts, t.names); err != nil {
		return nil, misused(err)
	}
	if err := t.set.Check(file.Board); err != nil {
		return nil, wrongInput(err)
	}
	return t, solvable(file.Name, file.Board)
}

// applied returns the board with all faults in it, whatever their onsets.
func (t *target) applied() (*models.Board, error) {
	b, err := t.set.Applied(t.file.Board)
	if err != nil {
		return nil, wrongInput(err)
	}
	if len(t.set) > 0 {
		err = solvable(t.file.Name+" with "+list(t.texts(), ""), b)
	}
	return b, err
}

// texts writes the faults as they can be given again.
func (t *target) texts() []string {
	texts := make([]string, len(t.set))
	for i, j := range t.set {
		texts[i] = j.Text(t.names)
	}
	return texts
}

// timed tells whether a fault has an onset or a course, which single readings
// leave out.
func (t *target) timed() bool {
	return slices.ContainsFunc(t.set, func(j faults.Injection) bool {
		return j.Onset != faults.Onset{} || j.Course != faults.Course{}
	})
}

// title is the heading of what is printed about a target.
func (t *target) title() string {
	s := t.file.Board.Name
	if texts := t.texts(); len(texts) > 0 {
		return s + ", with " + strings.Join(texts, ", ")
	}
	return s
}

func channelNames(b *models.Board) []string {
	names := make([]string, len(b.Channels))
	for i := range b.Channels {
		names[i] = b.Channels[i].Name
	}
	return names
}

// document is what machines are told of a target.
func (t *target) document() boardDocument {
	return boardDocument{Source: t.file.Name, Name: t.file.Board.Name, Note: t.file.Board.Note, Channels: t.names, Faults: t.texts()}
}
