package command

import (
	"fmt"
	"runtime"

	"github.com/spf13/cobra"
)

func (a *app) version() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:               "version",
		Short:             "Print the version",
		Args:              cobra.NoArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: a.do(func(cmd *cobra.Command, _ []string) error {
			if asJSON {
				return writeJSON(cmd.OutOrStdout(), &versionDocument{
					Schema: schemaName("version"), Version: Version, Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH,
				})
			}
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "boilwright %s (%s %s/%s)\n", Version, runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return err
		}),
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}
