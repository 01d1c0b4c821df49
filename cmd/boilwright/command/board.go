package command

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"boilwright/sim/boardfile"
)

func (a *app) board() *cobra.Command {
	cmd := &cobra.Command{
		Use: "board",

		DisableFlagsInUseLine: true,

		Short: "List, check, explain and show boards",
		Args:  cobra.ArbitraryArgs,
		RunE:  group,
	}
	cmd.AddCommand(a.boardList(), a.plate(), a.boardCheck(), a.boardExplain(), a.boardShow(), a.boardText("reference", "Print the reference of the board file in Markdown", boardfile.Reference),
		a.boardText("schema", "Print a JSON Schema of the board file, for editors", func(w io.Writer) error {
			_, err := fmt.Fprintf(w, "%s\n", trimNewlines(boardfile.Schema()))
			return err
		}))
	return cmd
}

func trimNewlines(b []byte) []byte {
	for len(b) > 0 && b[len(b)-1] == '\n' {
		b = b[:len(b)-1]
	}
	return b
}

// boardText is a command that prints one text.
func (a *app) boardText(use, short string, write func(io.Writer) error) *cobra.Command {
	return &cobra.Command{
		Use:               use,
		Short:             short,
		Args:              cobra.NoArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: a.do(func(cmd *cobra.Command, _ []string) error {
			return buffered(cmd.OutOrStdout(), write)
		}),
	}
}

func (a *app) boardList() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:               "list",
		Short:             "List the embedded boards, the default first",
		Args:              cobra.NoArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: a.do(func(cmd *cobra.Command, _ []string) error {
			d := &boardsDocument{Schema: schemaName("boards")}
			for _, n := range boardfile.EmbeddedNames() {
				f, err := boardfile.Embedded(n)
				if err != nil {
					return err
				}
				d.Boards = append(d.Boards, boardListDocument{n, f.Board.Name})
			}
			out := cmd.OutOrStdout()
			if asJSON {
				return writeJSON(out, d)
			}
			t := newTable(out, "", "name", "board")
			for _, b := range d.Boards {
				t.row(b.Name, b.Title)
			}
			if err := t.flush(); err != nil {
				return err
			}
			_, err := fmt.Fprintln(out, "\nall invented for demonstration")
			return err
		}),
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func (a *app) boardCheck() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check FILE…",
		Short: "Check board files and print everything that is wrong",
		Long: wrapped(`Check board files: their text, their values, and whether their circuit can be solved. Everything that is
wrong is printed to standard error, one line each: file:line:column: field: found X, expected Y. The exit code is 1
if anything is wrong.`),
		Args: cobra.MinimumNArgs(1),
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			d := &checkDocument{Schema: schemaName("check"), Files: []checkFileDocument{}}
			var all []error
			for _, name := range args {
				file, err := checkBoard(cmd, name)
				d.Files = append(d.Files, file)
				if err != nil {
					all = append(all, err)
				} else if !asJSON {
					fmt.Fprintf(cmd.OutOrStdout(), "%s: ok\n", name)
				}
			}
			if asJSON {
				if err := writeJSON(cmd.OutOrStdout(), d); err != nil {
					return err
				}
			}
			if len(all) > 0 {
				return wrongInput(errors.Join(all...))
			}
			return nil
		}),
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// checkBoard reads one board and sets its circuit up.
func checkBoard(cmd *cobra.Command, name string) (checkFileDocument, error) {
	d := checkFileDocument{Name: name, Errors: []mistakeDocument{}}
	f, err := loadBoard(cmd, []string{name})
	if err == nil {
		err = solvable(f.Name, f.Board)
	}
	var e *boardfile.Error
	switch {
	case errors.As(err, &e):
		for _, x := range e.Entries {
			d.Errors = append(d.Errors, mistakeDocument{x.File, x.Line, x.Column, x.Field, x.Found, x.Expected, x.Error()})
		}
	case err != nil:
		d.Errors = append(d.Errors, mistakeDocument{File: name, Message: err.Error()})
	}
	d.OK = err == nil
	return d, err
}

func (a *app) boardExplain() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:               "explain [BOARD]",
		Short:             "Print every value of a board and where it comes from",
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			f, err := loadBoard(cmd, args)
			if err != nil {
				return err
			}
			if !asJSON {
				return buffered(cmd.OutOrStdout(), func(w io.Writer) error { return boardfile.Explain(w, f) })
			}
			t := &target{file: f, names: channelNames(f.Board)}
			d := &valuesDocument{Schema: schemaName("values"), Board: t.document(), Values: []valueDocument{}}
			for _, o := range f.Origins {
				d.Values = append(d.Values, valueDocument{o.Path, o.Value, o.Written, o.Source.String(), o.File, o.Line, o.Column})
			}
			return writeJSON(cmd.OutOrStdout(), d)
		}),
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func (a *app) boardShow() *cobra.Command {
	var whole bool
	cmd := &cobra.Command{
		Use:   "show [BOARD]",
		Short: "Print a board as a file, to copy and edit",
		Long: wrapped(`Print a board as a file, to copy and edit: an embedded one as it was written, any other, or with --whole,
as one file without a base that reads back as the same board.`),
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			f, err := loadBoard(cmd, args)
			if err != nil {
				return err
			}
			text, embedded := boardfile.EmbeddedSource(f.Name)
			if whole || !embedded {
				text = boardfile.Marshal(f.Board)
			}
			_, err = cmd.OutOrStdout().Write(text)
			return err
		}),
	}
	cmd.Flags().BoolVar(&whole, "whole", false, "bases merged, comments left out")
	return cmd
}
