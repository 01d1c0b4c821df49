package command

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"boilwright/faults/rules"
	"boilwright/models"
)

func (a *app) rules() *cobra.Command {
	cmd := &cobra.Command{
		Use: "rules",

		DisableFlagsInUseLine: true,

		Short: "Try rules of diagnosis against boards whose faults are known",
		Long: wrapped(`Try rules of diagnosis, of a technician, an app or a firmware, against boards whose faults are known. A rule
file is a TOML file with a table [[rule]] for each rule:`) + `

  name       a name of its own
  when       a condition in CEL, the Common Expression Language
  about      "channel" (tried on every channel; the default) or "board"
  concludes  a list of faults of which one is meant, or "healthy"
  channel    the one channel that it is tried on
  action     what to do
  words      what to say
  source     where it comes from

` + wrapped(`What a condition may ask for is listed by "boilwright rules observables". In a rule about a channel a test point
without a channel is one of that channel, and a channel that is left out is that channel. A voltage without a meter is
read with the meter in hand: rules are tried with each. Numbers need no decimal point. "boilwright rules starter" prints
the trade's rules of thumb, to copy and edit; "`+rules.StarterName+`" as the FILE is these.`),
		Args: cobra.ArbitraryArgs,
		RunE: group,
	}
	cmd.AddCommand(a.rulesCheck(), a.rulesObservables(), a.rulesStarter(), a.rulesLines(), a.rulesValidate(), a.rulesCompare(), a.rulesExplain())
	return cmd
}

// loadRules reads a rule file: a path, "-" for standard input, or the rules of
// thumb by their name.
func loadRules(cmd *cobra.Command, name string, b *models.Board) (*rules.Program, error) {
	if name == "-" {
		data, err := readInput(cmd.Context(), cmd.InOrStdin())
		if err != nil {
			return nil, fmt.Errorf("%s: %w", stdinName, err)
		}
		return rules.Parse(stdinName, data, b)
	}
	if _, err := os.Stat(name); err != nil && name == rules.StarterName {
		return rules.Starter(b)
	}
	return rules.Load(name, b)
}

func (a *app) rulesStarter() *cobra.Command {
	return &cobra.Command{
		Use:   "starter",
		Short: "Print the trade's rules of thumb as a rule file, to copy and edit",
		Long: wrapped(`Print the trade's rules of thumb as a rule file, to copy and edit. Each is common practice and has no source:
where they hold, and where they don't, is for a validation to find out.`),
		Args:              cobra.NoArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: a.do(func(cmd *cobra.Command, _ []string) error {
			return buffered(cmd.OutOrStdout(), func(w io.Writer) error {
				_, err := w.Write(rules.StarterText())
				return err
			})
		}),
	}
}
