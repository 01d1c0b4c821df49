package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"boilwright/sim/boardfile"
	"boilwright/sim/population/dataset"
)

// dataOptions are the flags of the command population data.
type dataOptions struct {
	dataFiles
	shard    string
	workers  int
	describe bool
	asJSON   bool
}

// dataFiles are the flags of the files that are written.
type dataFiles struct{ out, format, waveforms string }

func (o *dataFiles) add(cmd *cobra.Command, out string) {
	f := cmd.Flags()
	f.StringVarP(&o.out, "out", "o", "", out)
	f.StringVar(&o.format, "format", "", "of the files: `FORMAT` parquet, csv or lines (JSON) [by the ending of the name, otherwise lines]")
	f.StringVar(&o.waveforms, "waveforms", "", "also write the waveforms, which the population file must ask for, to `FILE`")
	complete(cmd, "format", completeWords(string(dataset.Parquet), string(dataset.CSV), string(dataset.Lines)))
}

// of is the format of a file.
func (o *dataFiles) of(name string) (dataset.Format, error) {
	if o.format == "" {
		return dataset.FormatOf(name), nil
	}
	f, err := dataset.ParseFormat(o.format)
	if err != nil {
		return "", misuse("--format: %w", err)
	}
	return f, nil
}

func (o *dataFiles) check() error {
	if o.format != "" {
		if _, err := o.of(""); err != nil {
			return err
		}
	}
	if o.waveforms == "-" {
		return misuse("--waveforms: found -, expected the name of a file")
	}
	return nil
}

func (a *app) populationData() *cobra.Command {
	o := &dataOptions{}
	cmd := &cobra.Command{
		Use:   "data FILE",
		Short: "Write the labelled data set of a population file, all of it or a shard",
		Long: wrapped(`Write a data set: of each board of a population file what is wrong with it, what is observed on it and what
was drawn for its parts; as Parquet, comma-separated values or JSON lines. --describe tells its columns; the same goes
with the data, in the metadata of a Parquet file and beside others as FILE.description.json.

A population file is TOML:`) + `

  boards = 1000                  # how many; needed
  board = "our.toml"             # path from this file, or a name [the first embedded]
  seed = 1
  healthy = 0.5                  # ratio of boards without a fault
  more = 0.1                     # probability of one more fault
  only = ["opto-one-way"]        # [CHANNEL:]FAULT that are drawn [all]
  observe = ["volts * standby"]  # on each: a form and its arguments; * or none is all
  waveforms = ["heating"]        # states of which waveforms are kept [none]
  parameters = true              # whether what was drawn for the parts is kept
  [tolerances]
  gate.resistance = "uniform 0.8 to 1.2"
  [weights]
  opto-one-way = 3               # [CHANNEL:]FAULT and how often, where others have 1

` + wrapped(`What can be observed is listed by "boilwright rules observables".

A row follows from the population file, the program's version and the index of the board alone. With --shard 3/16 the
third of 16 parts is computed, and "population merge" makes of all parts the same bytes as one machine. Boards are kept
as they are done, in a part or, without --shard, in FILE.part until the whole is written: interrupted at any instant,
the same command goes on where it was. Who is killed while writing FILE leaves .FILE.0.partial, which may be deleted.`),
		Example: `  boilwright population data boards.toml --describe
  boilwright population data boards.toml --out all.parquet
  boilwright population data boards.toml --shard 3/16 --out part-3`,
		Args:    cobra.ExactArgs(1),
		PreRunE: func(*cobra.Command, []string) error { return o.validate() },
		RunE:    a.do(o.do),
	}
	o.add(cmd, "write to `FILE`; with --shard a part; without, - is standard output, of which nothing is kept")
	f := cmd.Flags()
	f.StringVar(&o.shard, "shard", "", "compute one of several parts only, `K/N`")
	f.IntVar(&o.workers, "workers", 0, "`NUMBER` of boards that are worked on at once [one a core]")
	f.BoolVar(&o.describe, "describe", false, "print the columns, their types, units and meaning, and do nothing else")
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

func (o *dataOptions) validate() error {
	switch {
	case o.describe && (o.out != "" || o.shard != ""):
		return misuse("found --describe with --out or --shard, expected it alone")
	case o.out == "" && !o.describe:
		return misuse("found no --out, expected the file to write, or --describe")
	case o.workers < 0 || o.workers > 1024:
		return misuse("--workers: found %d, expected 0 to 1024", o.workers)
	case o.shard != "" && (o.format != "" || o.waveforms != "" || o.out == "-"):
		return misuse("found --format, --waveforms or --out - with --shard, expected them with population merge")
	case o.out == "-" && (o.asJSON || o.waveforms != ""):
		return misuse("found --json or --waveforms with --out -, expected one document for standard output")
	}
	if _, err := o.parts(); err != nil {
		return err
	}
	return o.check()
}

func (o *dataOptions) parts() (dataset.Shard, error) {
	if o.shard == "" {
		return dataset.Whole, nil
	}
	s, err := dataset.ParseShard(o.shard)
	if err != nil {
		return s, misuse("--shard: %w", err)
	}
	return s, nil
}

func (o *dataOptions) do(cmd *cobra.Command, args []string) error {
	d, err := dataset.Load(args[0], program())
	if err != nil {
		return wrongInput(err)
	}
	out := cmd.OutOrStdout()
	if o.describe {
		if o.asJSON {
			return writeJSON(out, d.Description())
		}
		return printDescription(out, d.Description())
	}
	if o.waveforms != "" && len(d.Waveforms) == 0 {
		return misuse("found --waveforms, expected it with a population file that asks for waveforms only")
	}
	shard, err := o.parts()
	if err != nil {
		return err
	}
	part := o.out
	if o.shard == "" {
		part += ".part"
		if err := o.apart(append(sources(d), part)...); err != nil {
			return err
		}
	}
	defer boundMemory(o.workers)()
	if o.out == "-" {
		f, err := o.of(o.out)
		if err != nil {
			return err
		}
		return buffered(out, func(w io.Writer) error {
			return dataset.Write(w, f, d.Description(), func(yield func(*dataset.Row) error) error {
				return d.Rows(cmd.Context(), o.workers, yield)
			})
		})
	}
	doc := &dataDocument{Schema: schemaName("data"), Notice: dataset.Notice, Fingerprint: d.Fingerprint(), Boards: d.Boards}
	doc.From, doc.To = d.Range(shard)
	if err := compute(cmd, d, part, dataset.Options{Shard: shard, Workers: o.workers}, doc); err != nil {
		return err
	}
	if o.shard != "" {
		doc.Files = []string{part}
	} else {
		p, err := dataset.Open(cmd.Context(), part)
		if err != nil {
			return dataError(err)
		}
		if doc.Files, err = o.write(cmd.Context(), p); err != nil {
			return err
		}
		if err := os.Remove(part); err != nil {
			return err
		}
	}
	return doc.print(out, o.asJSON)
}

// compute computes a part and tells in doc what became of it.
func compute(cmd *cobra.Command, d *dataset.Definition, part string, o dataset.Options, doc *dataDocument) error {
	p := newProgress(cmd, "population")
	defer p.end()
	begun := false
	o.Report = func(done, total uint64) {
		if !begun {
			begun, doc.Before = true, done
		}
		p.show(time.Duration(done), time.Duration(total))
	}
	err := dataset.Compute(cmd.Context(), d, part, o)
	if errors.Is(err, fs.ErrNotExist) {
		return misuse("%s: its folder does not exist", part)
	}
	return dataError(err)
}

// dataError tells what is wrong with what was read from a system that fails.
func dataError(err error) error {
	var system syscall.Errno
	if err == nil || errors.Is(err, context.Canceled) || errors.Is(err, dataset.ErrBusy) || errors.As(err, &system) && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return wrongInput(err)
}

// besideOf is the name of the file that has the description of another.
func besideOf(name string) string { return name + ".description.json" }

// sources are the files that a definition was read from.
func sources(d *dataset.Definition) []string {
	out := []string{d.File}
	for _, name := range append([]string{d.Board.Name}, d.Board.Bases...) {
		if !slices.Contains(boardfile.EmbeddedNames(), name) {
			out = append(out, name)
		}
	}
	return out
}

// apart checks, before there is work to be lost, that the files which are to
// be written can be as far as their folders go, and that each is another than
// all that are read and than the rest of them.
func (o *dataFiles) apart(read ...string) error {
	if o.out == "-" {
		return nil
	}
	var written []string
	for _, name := range []string{o.out, o.waveforms} {
		if name == "" {
			continue
		}
		f, err := o.of(name)
		if err != nil {
			return err
		}
		if written = append(written, name); f != dataset.Parquet {
			written = append(written, besideOf(name))
		}
	}
	for i, name := range written {
		if info, err := os.Stat(name); err == nil && info.IsDir() {
			return misuse("%s: found a folder, expected the name of a file", name)
		}
		if info, err := os.Stat(filepath.Dir(name)); errors.Is(err, fs.ErrNotExist) || err == nil && !info.IsDir() {
			return misuse("%s: its folder does not exist", name)
		}
		for _, other := range read {
			if sameFile(name, other) {
				return misuse("%s: found the name of a file that is read, expected another to write", name)
			}
		}
		for _, other := range written[:i] {
			if sameFile(name, other) {
				return misuse("%s: found a file that would be written twice, expected names for %d files", name, len(written))
			}
		}
	}
	return nil
}

// sameFile tells whether two names are of one file, be it there or not.
func sameFile(a, b string) bool {
	x, err := os.Stat(a)
	y, err2 := os.Stat(b)
	if err == nil && err2 == nil {
		// A device takes what two write.
		return x.Mode().IsRegular() && os.SameFile(x, y)
	}
	if (err == nil) != (err2 == nil) || filepath.Base(a) != filepath.Base(b) {
		return false
	}
	x, err = os.Stat(filepath.Dir(a))
	y, err2 = os.Stat(filepath.Dir(b))
	return err == nil && err2 == nil && os.SameFile(x, y)
}

// write writes the files of finished parts and returns their names.
func (o *dataFiles) write(ctx context.Context, p *dataset.Parts) ([]string, error) {
	rows := func(yield func(*dataset.Row) error) error { return p.Rows(ctx, yield) }
	type file struct {
		name  string
		write func(io.Writer, dataset.Format, *dataset.Description, dataset.Rows) error
	}
	files := []file{{o.out, dataset.Write}}
	if o.waveforms != "" {
		if len(p.Description.States) == 0 {
			return nil, misuse("found --waveforms, expected it with a data set that has waveforms only")
		}
		files = append(files, file{o.waveforms, dataset.WriteWaveforms})
	}
	var done []string
	for _, f := range files {
		format, err := o.of(f.name)
		if err != nil {
			return nil, err
		}
		if format != dataset.Parquet {
			beside := besideOf(f.name)
			if err := writeFile(beside, nil, func(w io.Writer) error { return writeJSON(w, p.Description) }); err != nil {
				return nil, err
			}
			done = append(done, beside)
		}
		if err := writeFile(f.name, nil, func(w io.Writer) error { return f.write(w, format, p.Description, rows) }); err != nil {
			return nil, err
		}
		done = append(done, f.name)
	}
	return done, nil
}

// dataDocument tells what population data and population merge have done.
type dataDocument struct {
	Schema      string   `json:"schema" doc:"kind and version of this document"`
	Notice      string   `json:"notice" doc:"what to keep in mind"`
	Fingerprint string   `json:"fingerprint" doc:"SHA-256 of everything that the rows follow from"`
	Boards      uint64   `json:"boards" doc:"of the data set"`
	From        uint64   `json:"from" doc:"index of the first board that is done"`
	To          uint64   `json:"to" doc:"index after the last one that is done"`
	Before      uint64   `json:"before" doc:"how many of them had been done before"`
	Files       []string `json:"files" doc:"that were written; none with --check"`
}

func (d *dataDocument) print(out io.Writer, asJSON bool) error {
	if d.Files == nil {
		d.Files = []string{}
	}
	if asJSON {
		return writeJSON(out, d)
	}
	fmt.Fprintf(out, "%d boards of %d", d.To-d.From, d.Boards)
	if d.To-d.From < d.Boards && d.To > d.From {
		fmt.Fprintf(out, ", from %d to %d", d.From, d.To-1)
	}
	if d.Before > 0 {
		fmt.Fprintf(out, "; %d had been done before", d.Before)
	}
	fmt.Fprintf(out, "\nfingerprint %s\n", d.Fingerprint)
	for _, f := range d.Files {
		fmt.Fprintln(out, f)
	}
	_, err := fmt.Fprintf(out, "\n%s\n", wrapped(d.Notice+"."))
	return err
}

// printDescription prints the columns of a data set.
func printDescription(out io.Writer, d *dataset.Description) error {
	fmt.Fprintf(out, "%d boards of %s, seed %d\nfingerprint %s\n", d.Boards, d.Board, d.Seed, d.Fingerprint)
	live := false
	print := func(columns []dataset.Column) error {
		fmt.Fprintln(out)
		t := newTable(out, "", "column", "type", "unit", "null", "meaning")
		last := ""
		for _, c := range columns {
			kind, null, doc := string(c.Type), "", c.Doc
			if doc == last {
				doc = "likewise"
			}
			last = c.Doc
			if c.Infinite {
				kind += " or inf"
			}
			if c.Null {
				null = "null"
			}
			if len(c.Words) > 0 {
				doc += ": " + strings.Join(c.Words, ", ")
			}
			if c.Live {
				live, doc = true, "* "+doc
			}
			t.row(c.Name, kind, c.Unit, null, doc)
		}
		return t.flush()
	}
	if err := print(d.Columns); err != nil {
		return err
	}
	if len(d.Waveforms) > 0 {
		fmt.Fprintf(out, "\nWaveforms, %d instants of a cycle in %s:\n", d.Samples, strings.Join(d.States, ", "))
		if err := print(d.Waveforms); err != nil {
			return err
		}
	}
	if live {
		fmt.Fprintf(out, "\n%s\n", wrapped("* Caution: "+d.Caution+"."))
	}
	_, err := fmt.Fprintf(out, "\n%s\n", wrapped(d.Notice+"."))
	return err
}
