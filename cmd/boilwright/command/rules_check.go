package command

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults/rules"
	"boilwright/sim/boardfile"
)

func (a *app) rulesCheck() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check FILE [BOARD]",
		Short: "Check a rule file, and list its rules and what each needs",
		Long: wrapped(`Check a rule file against a board and list its rules, what each concludes and what each needs to know. Everything
that is wrong is printed to standard error, one line each: file:line:column: field: found X, expected Y. The exit code
is 1 if anything is wrong.`),
		Example: `  boilwright rules check my-rules.toml
  boilwright rules check ` + rules.StarterName + ` open-vat-230 --json`,
		Args: cobra.RangeArgs(1, 2),
		ValidArgsFunction: func(cmd *cobra.Command, args []string, text string) ([]string, cobra.ShellCompDirective) {
			if len(args) == 0 {
				return []string{rules.StarterName}, cobra.ShellCompDirectiveDefault
			}
			return completeBoard(cmd, args[1:], text)
		},
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			if len(args) == 2 && args[0] == "-" && args[1] == "-" {
				return misuse("found standard input twice, expected it for rules or board")
			}
			t, err := (&faultFlags{}).load(cmd, args[1:])
			if err != nil {
				return err
			}
			p, wrong := loadRules(cmd, args[0], t.file.Board)
			out := cmd.OutOrStdout()
			if asJSON {
				d, err := rulesDocumentOf(t, args[0], p, wrong)
				if err == nil {
					err = writeJSON(out, d)
				}
				if err != nil {
					return err
				}
			}
			switch {
			case wrong != nil:
				return wrong
			case asJSON:
				return nil
			}
			return buffered(out, func(w io.Writer) error { return printRules(w, t, args[0], p) })
		}),
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printRules(w io.Writer, t *target, name string, p *rules.Program) error {
	fmt.Fprintf(w, "%s: %d rules for %s\n", name, len(p.List), t.title())
	caution := ""
	for i := range p.List {
		r := &p.List[i]
		fmt.Fprintf(w, "\n%s\n", r.Name)
		tell := func(head, text string) {
			if text != "" {
				fmt.Fprintln(w, hanging("  "+head+strings.Repeat(" ", max(1, 11-len(head))), text))
			}
		}
		where := "the board"
		if r.About == rules.EachChannel {
			where = list(channelsOf(t, r), "no channel")
		}
		tell("about", where)
		tell("when", strings.Join(strings.Fields(r.When), " "))
		tell("concludes", list(r.Concludes, rules.Healthy))
		tell("needs", needsOf(r))
		tell("action", r.Action)
		tell("words", r.Words)
		tell("source", r.Source)
		if r.Live {
			caution = r.Caution()
			tell("caution", caution)
		}
	}
	text := fmt.Sprintf("%d observables to be simulated.", len(p.Needs()))
	if p.InHand() {
		text += " Some are read with the meter in hand: each board is judged once with each of " + list(meterNames(t), "") + "."
	}
	fmt.Fprintln(w)
	note(w, "%s", text)
	_, err := fmt.Fprintf(w, "\n%s\n", notice)
	return err
}

func meterNames(t *target) []string {
	var names []string
	for i := range t.file.Board.Meters {
		names = append(names, t.file.Board.Meters[i].Name)
	}
	return names
}

func channelsOf(t *target, r *rules.Rule) []string {
	names := []string{}
	for _, k := range r.Channels {
		if k >= 0 {
			names = append(names, t.names[k])
		}
	}
	return names
}

func needsOf(r *rules.Rule) string {
	text := list(r.Needs, "nothing")
	if r.InHand {
		text += " (with the meter in hand)"
	}
	return text
}

// The document of the command rules check.

type rulesDocument struct {
	Schema  string            `json:"schema" doc:"kind and version of this document"`
	Notice  string            `json:"notice" doc:"what to keep in mind"`
	File    string            `json:"file" doc:"that was read"`
	Board   boardDocument     `json:"board" doc:"that the rules are about"`
	OK      bool              `json:"ok" doc:"nothing is wrong"`
	Errors  []mistakeDocument `json:"errors" doc:"everything that is wrong, by position"`
	Rules   []ruleDocument    `json:"rules" doc:"in the order of the file; empty where anything is wrong"`
	Needs   []string          `json:"needs" doc:"observables that have to be simulated"`
	InHand  bool              `json:"in_hand" doc:"each board is judged once with each meter in hand"`
	Meters  []string          `json:"meters" doc:"of the board"`
	Caution string            `json:"caution" doc:"belongs beside every live test"`
}

type ruleDocument struct {
	Name      string   `json:"name" doc:"of the rule"`
	Line      int      `json:"line" doc:"where it begins, from 1"`
	When      string   `json:"when" doc:"condition in CEL"`
	About     string   `json:"about" doc:"channel or board"`
	Channels  []string `json:"channels" doc:"that it is tried on; empty for the board"`
	Concludes []string `json:"concludes" doc:"faults of which one is meant; empty for healthy"`
	Needs     []string `json:"needs" doc:"observables as the condition has them"`
	InHand    bool     `json:"in_hand" doc:"one of them is read with the meter in hand"`
	Live      bool     `json:"live" doc:"one of them takes a live test: the caution applies"`
	Caution   string   `json:"caution" doc:"belongs beside its live test; empty without one"`
	Action    string   `json:"action" doc:"what to do; empty for none"`
	Words     string   `json:"words" doc:"what to say; empty for none"`
	Source    string   `json:"source" doc:"where it comes from; empty for none"`
}

func rulesDocumentOf(t *target, name string, p *rules.Program, wrong error) (*rulesDocument, error) {
	d := &rulesDocument{Schema: schemaName("rules"), Notice: notice, File: name, Board: t.document(), OK: wrong == nil,
		Errors: []mistakeDocument{}, Rules: []ruleDocument{}, Needs: []string{}, Meters: append([]string{}, meterNames(t)...)}
	var e *boardfile.Error
	if errors.As(wrong, &e) {
		for _, x := range e.Entries {
			d.Errors = append(d.Errors, mistakeDocument{x.File, x.Line, x.Column, x.Field, x.Found, x.Expected, x.Error()})
		}
	} else if wrong != nil {
		return nil, wrong
	}
	if p == nil {
		return d, nil
	}
	for i := range p.List {
		r := &p.List[i]
		d.Rules = append(d.Rules, ruleDocument{
			Name: r.Name, Line: r.Line, When: r.When, About: r.About.String(), Channels: channelsOf(t, r), Concludes: append([]string{}, r.Concludes...),
			Needs: append([]string{}, r.Needs...), InHand: r.InHand, Live: r.Live, Caution: r.Caution(), Action: r.Action, Words: r.Words, Source: r.Source,
		})
		if r.Live {
			d.Caution = r.Caution()
		}
	}
	for _, o := range p.Needs() {
		d.Needs = append(d.Needs, o.Name)
	}
	slices.Sort(d.Needs)
	d.InHand = p.InHand()
	return d, nil
}
