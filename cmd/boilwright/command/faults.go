package command

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults"
	q "boilwright/models/quantity"
)

func (a *app) faults() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "faults [NAME]",
		Short: "List the faults of the catalogue, or describe one",
		Long:  "List the faults of the catalogue, or describe one: what it is, what changes in the circuit, what it shows, its look-alikes and what separates them, its keys.",
		Args:  cobra.MaximumNArgs(1),
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			var words []string
			if len(args) == 0 {
				for _, f := range faults.Catalogue() {
					words = append(words, f.Name+"\t"+f.Title)
				}
			}
			return words, wordEnds
		},
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			shown := faults.Catalogue()
			if len(args) > 0 {
				f, ok := faults.Find(args[0])
				if !ok {
					return unknownFault(args[0])
				}
				shown = []faults.Fault{f}
			}
			out := cmd.OutOrStdout()
			switch {
			case asJSON:
				return writeJSON(out, faultsDocumentOf(shown))
			case len(args) > 0:
				return describeFault(out, &shown[0])
			}
			return listFaults(out, shown)
		}),
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// unknownFault is the error of a name that the catalogue lacks, with the
// suggestion of the parser of faults.
func unknownFault(name string) error {
	expected := "a fault of the catalogue"
	var e *faults.ParseError
	if _, err := faults.Parse("1:"+strings.ReplaceAll(name, ",", " "), nil); errors.As(err, &e) {
		expected = e.Expected
	}
	return misuse("fault: found %q, expected %s", name, expected)
}

func listFaults(w io.Writer, shown []faults.Fault) error {
	part := faults.Part("")
	var t *table
	for _, f := range shown {
		if f.Part != part {
			if t != nil {
				if err := t.flush(); err != nil {
					return err
				}
				fmt.Fprintln(w)
			}
			part = f.Part
			fmt.Fprintln(w, part)
			t = newTable(w, "  ")
		}
		place := "CHANNEL:"
		if f.Scope == faults.PerBoard {
			place = "board:"
		}
		var keys []string
		for _, k := range f.Keys {
			keys = append(keys, k.Name)
		}
		t.row(place+f.Name, f.Title, list(keys, "no keys"))
	}
	if t != nil {
		if err := t.flush(); err != nil {
			return err
		}
	}
	fmt.Fprintln(w, "\ncascades: one fault brings about the next")
	for _, c := range faults.Cascades() {
		fmt.Fprintf(w, "  %s: %s\n", c.Name, c.Title)
		fmt.Fprintln(w, indented("    ", c.What))
		for _, text := range c.Texts("CHANNEL") {
			fmt.Fprintf(w, "      --fault %q\n", text)
		}
	}
	_, err := fmt.Fprintf(w, "\n%d faults; \"boilwright faults NAME\" describes one\n", len(shown))
	return err
}

func describeFault(w io.Writer, f *faults.Fault) error {
	fmt.Fprintf(w, "%s: %s (%s)\n", f.Name, f.Title, f.Part)
	section := func(head, text string) {
		if text != "" {
			fmt.Fprintf(w, "\n%s\n%s\n", head, indented("  ", text))
		}
	}
	section("what it is", f.What)
	section("what changes", f.Physics)
	section("what it shows", f.Seen)
	section("looks like", list(f.LookAlikes, ""))
	fmt.Fprintln(w, "\nwhat separates them")
	for i, s := range f.Separates {
		kind := "unplugged"
		if s.Live {
			kind = "live"
		}
		fmt.Fprintln(w, hanging(fmt.Sprintf("  %d. ", i+1), kind+": "+s.Do))
		if s.Live {
			fmt.Fprintln(w, indented("     ", "Caution: "+f.Danger+" "+faults.Caution+"."))
		}
	}
	severity := f.Severity
	if !f.Graded {
		severity += "; takes 0 (healthy) and 1 only"
	}
	if f.Lasting {
		severity += "; stays until a part is replaced, so it is never intermittent"
	}
	section("severity", severity)
	fmt.Fprintln(w, "\nkeys")
	if len(f.Keys) > 0 {
		t := newTable(w, "  ", "key", "default", "takes", "meaning")
		for _, k := range f.Keys {
			d := keyDocumentOf(&k)
			takes := d.Least + " to " + d.Greatest
			if len(d.Choices) > 0 {
				takes = strings.Join(d.Choices, " or ")
			}
			t.row(d.Name, d.Default, takes, d.Doc)
		}
		if err := t.flush(); err != nil {
			return err
		}
		fmt.Fprintln(w)
	}
	if f.Wets {
		fmt.Fprintln(w, "  those of a film that wets and dries")
		t := newTable(w, "  ", "key", "example", "meaning")
		for _, k := range faults.WettingKeys() {
			t.row(k.Name, k.Example, k.Doc)
		}
		if err := t.flush(); err != nil {
			return err
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintln(w, "  and those of every fault")
	t := newTable(w, "  ", "key", "example", "meaning")
	for _, k := range faults.CommonKeys() {
		t.row(k.Name, k.Example, k.Doc)
	}
	if err := t.flush(); err != nil {
		return err
	}
	if !f.Live() {
		section("caution", f.Danger+" "+faults.Caution+".")
	}
	return nil
}

// hanging is running text whose first line begins with head and the others
// under it.
func hanging(head, text string) string {
	indent := strings.Repeat(" ", len(head))
	return head + strings.TrimPrefix(indented(indent, text), indent)
}

func faultsDocumentOf(shown []faults.Fault) *faultsDocument {
	d := &faultsDocument{Schema: schemaName("faults"), Caution: faults.Caution, Faults: []faultDocument{}, Keys: []commonKeyDocument{}}
	for i := range shown {
		f := &shown[i]
		x := faultDocument{
			Name: f.Name, Part: string(f.Part), Scope: f.Scope.String(), Title: f.Title, What: f.What, Physics: f.Physics, Seen: f.Seen,
			LookAlikes: append([]string{}, f.LookAlikes...), Separates: []stepDocument{}, Danger: f.Danger,
			Graded: f.Graded, Severity: f.Severity, Lasting: f.Lasting, Wets: f.Wets, Keys: []keyDocument{},
		}
		for _, s := range f.Separates {
			x.Separates = append(x.Separates, stepDocument{s.Live, s.Do})
		}
		for j := range f.Keys {
			x.Keys = append(x.Keys, keyDocumentOf(&f.Keys[j]))
		}
		d.Faults = append(d.Faults, x)
	}
	for _, k := range faults.CommonKeys() {
		d.Keys = append(d.Keys, commonKeyDocument(k))
	}
	for _, k := range faults.WettingKeys() {
		d.Wetting = append(d.Wetting, commonKeyDocument(k))
	}
	for _, c := range faults.Cascades() {
		d.Cascades = append(d.Cascades, cascadeDocument{c.Name, c.Title, c.What, c.Texts("CHANNEL")})
	}
	return d
}

func keyDocumentOf(k *faults.Key) keyDocument {
	d := keyDocument{Name: k.Name, Dimension: k.Dimension.String(), Doc: k.Doc, Choices: []string{}, Default: k.Own}
	if len(k.Choices) > 0 {
		d.Dimension = "word"
		for _, c := range k.Choices {
			d.Choices = append(d.Choices, c.Word)
			if k.Own == "" && c.Value == k.Default {
				d.Default = c.Word
			}
		}
		return d
	}
	if k.Own == "" {
		d.Default = q.Format(k.Dimension, k.Default)
	}
	d.Least, d.Greatest = q.Format(k.Dimension, k.Min), q.Format(k.Dimension, k.Max)
	return d
}
