package command

import (
	"github.com/spf13/cobra"

	"boilwright/plots"
)

// figureWords prints the words of figures, to be translated.
func (a *app) figureWords() *cobra.Command {
	return &cobra.Command{
		Use:   "words [LANGUAGE]",
		Short: "Print the words of figures in a language, to be translated",
		Long: wrapped(`Print the file of words of a language, English where none is named. Copy it, translate what stands after
msgstr, and give the file's path to the flag --language of a figure or an animation. The form is that of gettext's PO
files, for which translators have editors; what is left empty stays English.`),
		Example: `  boilwright figure words > fr.po
  boilwright figure circuit --language ./fr.po`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeWords(plots.Languages()...),
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			code := "en"
			if len(args) > 0 {
				code = args[0]
			}
			data, err := plots.Words(code)
			if err != nil {
				return misused(err)
			}
			_, err = cmd.OutOrStdout().Write(data)
			return err
		}),
	}
}
