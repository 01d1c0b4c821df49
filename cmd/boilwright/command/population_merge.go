package command

import (
	"github.com/spf13/cobra"

	"boilwright/sim/population/dataset"
)

// mergeOptions are the flags of the command population merge.
type mergeOptions struct {
	dataFiles
	check  bool
	asJSON bool
}

func (a *app) populationMerge() *cobra.Command {
	o := &mergeOptions{}
	cmd := &cobra.Command{
		Use:   "merge PART...",
		Short: "Put the parts of a data set together",
		Long: wrapped(`Put the parts that "population data --shard" computed together: the files have the same bytes as those of
one machine. Parts that are missing, overlap, are not finished, damaged, of another population or of another version of
the program are refused, each with its name. With --check nothing is written: the exit code tells whether all is
there.`),
		Example: `  boilwright population merge part-* --out all.parquet
  boilwright population merge part-1 part-2 --check`,
		Args:    cobra.MinimumNArgs(1),
		PreRunE: func(*cobra.Command, []string) error { return o.validate() },
		RunE:    a.do(o.do),
	}
	o.add(cmd, "write the whole data set to `FILE`")
	cmd.Flags().BoolVar(&o.check, "check", false, "look whether all parts are there and finished, and write nothing")
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

func (o *mergeOptions) validate() error {
	switch {
	case o.check && (o.out != "" || o.waveforms != "" || o.format != ""):
		return misuse("found --check with --out, --waveforms or --format, expected it alone")
	case o.out == "" && !o.check:
		return misuse("found no --out, expected the file to write, or --check")
	case o.out == "-":
		return misuse("--out: found -, expected the name of a file")
	}
	return o.dataFiles.check()
}

func (o *mergeOptions) do(cmd *cobra.Command, args []string) error {
	if !o.check {
		if err := o.apart(args...); err != nil {
			return err
		}
	}
	p, err := dataset.Open(cmd.Context(), args...)
	if err != nil {
		return dataError(err)
	}
	d := p.Description
	doc := &dataDocument{Schema: schemaName("data"), Notice: dataset.Notice, Fingerprint: d.Fingerprint, Boards: d.Boards, To: d.Boards}
	if !o.check {
		if doc.Files, err = o.write(cmd.Context(), p); err != nil {
			return err
		}
	}
	return doc.print(cmd.OutOrStdout(), o.asJSON)
}
