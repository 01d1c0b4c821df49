package command

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults/rules"
	"boilwright/sim/population/evidence"
	"boilwright/sim/readings"
)

func (a *app) rulesObservables() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "observables [BOARD]",
		Short: "List what a rule's condition may ask for",
		Long: wrapped(`List what a rule's condition may ask for on a board: observables, what their arguments may be, constants and
functions. An argument is a text in quotes, or a number. Besides there is what CEL has: && || ! ?: comparisons,
arithmetic, in, lists, and all, exists and exists_one over lists. A comparison with what is no number is false.`),
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			t, err := (&faultFlags{}).load(cmd, args)
			if err != nil {
				return err
			}
			d, err := observablesDocumentOf(t)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(cmd.OutOrStdout(), d)
			}
			return buffered(cmd.OutOrStdout(), func(w io.Writer) error { return printObservables(w, t, d) })
		}),
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printObservables(w io.Writer, t *target, d *observablesDocument) error {
	fmt.Fprintf(w, "%s\n", t.title())
	domains := map[string][]string{}
	var order []string
	for i := range d.Forms {
		f := &d.Forms[i]
		what := f.Kind
		if f.Kind == evidence.Number.String() {
			if what = "in " + f.Unit; f.Unit == "" {
				what = "a ratio"
			}
		}
		names := make([]string, len(f.Arguments))
		for j, a := range f.Arguments {
			names[j] = a.Name
			key := a.Name + "\t" + strings.Join(a.Values, ", ")
			if _, seen := domains[key]; !seen {
				order = append(order, key)
			}
			domains[key] = append(domains[key], f.Name)
		}
		fmt.Fprintf(w, "\n%s(%s), %s\n%s\n", f.Name, strings.Join(names, ", "), what, indented("  ", f.Doc+"."))
		if len(f.Words) > 0 {
			fmt.Fprintln(w, indented("  ", "One of: "+strings.Join(f.Words, ", ")+"."))
		}
		if f.Live {
			fmt.Fprintln(w, indented("  ", "Caution: "+readings.LiveCaution+"."))
		}
	}
	fmt.Fprintln(w, "\narguments")
	for _, key := range order {
		name, values, _ := strings.Cut(key, "\t")
		if name == "minutes" {
			values = "whole minutes, " + strings.SplitN(values, ",", 2)[0] + " to " + values[strings.LastIndexByte(values, ' ')+1:]
		}
		if values == "" {
			values = "none on this board"
		}
		fmt.Fprintln(w, hanging("  ", fmt.Sprintf("%s of %s: %s", name, strings.Join(domains[key], ", "), values)))
	}
	fmt.Fprintln(w, "\nconstants")
	tab := newTable(w, "  ")
	for _, c := range d.Constants {
		what := c.Doc
		if c.Channel {
			what += "; only in rules about a channel"
		}
		tab.row(c.Name, c.Unit, what)
	}
	if err := tab.flush(); err != nil {
		return err
	}
	fmt.Fprintln(w, "\nfunctions")
	tab = newTable(w, "  ")
	for _, f := range d.Functions {
		tab.row(f.Name, f.Doc)
	}
	if err := tab.flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "\n%s\n", notice)
	return err
}

// The document of the command rules observables.

type observablesDocument struct {
	Schema    string             `json:"schema" doc:"kind and version of this document"`
	Notice    string             `json:"notice" doc:"what to keep in mind"`
	Caution   string             `json:"caution" doc:"belongs beside every live test"`
	Board     boardDocument      `json:"board" doc:"whose they are"`
	Forms     []formDocument     `json:"forms" doc:"families of observables"`
	Constants []constantDocument `json:"constants" doc:"that stand for values of the board's plate"`
	Functions []functionDocument `json:"functions" doc:"that conditions may call, besides what CEL has"`
}

type formDocument struct {
	Name      string             `json:"name" doc:"that a condition calls"`
	Arguments []argumentDocument `json:"arguments" doc:"in order"`
	Kind      string             `json:"kind" doc:"number, whether or word"`
	Unit      string             `json:"unit" doc:"of a number; empty for a ratio"`
	Words     []string           `json:"words" doc:"of a word"`
	Live      bool               `json:"live" doc:"takes a meter on a board that has its supply: the caution applies"`
	Doc       string             `json:"doc" doc:"what it is"`
}

type argumentDocument struct {
	Name   string   `json:"name" doc:"what it is"`
	Values []string `json:"values" doc:"what it may be on this board"`
}

type constantDocument struct {
	Name    string `json:"name" doc:"as written"`
	Unit    string `json:"unit" doc:"empty for a text"`
	Channel bool   `json:"channel" doc:"only in rules about a channel"`
	Doc     string `json:"doc" doc:"what it is"`
}

type functionDocument struct {
	Name string `json:"name" doc:"with its arguments"`
	Doc  string `json:"doc" doc:"what it is"`
}

func observablesDocumentOf(t *target) (*observablesDocument, error) {
	d := &observablesDocument{Schema: schemaName("observables"), Notice: notice, Caution: readings.LiveCaution, Board: t.document(), Forms: []formDocument{}}
	first := map[string]*evidence.Observable{}
	all := evidence.All(t.file.Board)
	for i := range all {
		if first[all[i].Form] == nil {
			first[all[i].Form] = &all[i]
		}
	}
	for _, f := range evidence.Forms() {
		x := formDocument{Name: f.Name, Arguments: []argumentDocument{}, Kind: f.Kind.String(), Unit: f.Unit, Words: []string{}, Doc: f.Doc}
		allowed, err := evidence.Allowed(t.file.Board, f.Name)
		if err != nil {
			return nil, err
		}
		for j, name := range f.Args {
			x.Arguments = append(x.Arguments, argumentDocument{name, append([]string{}, allowed[j]...)})
		}
		if o := first[f.Name]; o != nil {
			x.Words, x.Live = append(x.Words, o.Words...), o.Live
		}
		d.Forms = append(d.Forms, x)
	}
	for _, c := range rules.Constants() {
		d.Constants = append(d.Constants, constantDocument{c.Name, c.Unit, c.Channel, c.Doc})
	}
	for _, f := range rules.Functions() {
		d.Functions = append(d.Functions, functionDocument(f))
	}
	return d, nil
}
