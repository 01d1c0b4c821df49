package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"boilwright/faults"
	"boilwright/plots/pages"
	"boilwright/sim"
)

// referenceOptions are the flags of the command reference.
type referenceOptions struct {
	out      string
	only     []string
	channel  string
	meters   []string
	duration durationValue
	asJSON   bool
}

type referenceDocument struct {
	Schema string        `json:"schema" doc:"kind and version of this document"`
	Notice string        `json:"notice" doc:"what to keep in mind"`
	Status string        `json:"status" doc:"completed or interrupted"`
	Board  boardDocument `json:"board" doc:"the healthy board"`
	Faults []string      `json:"faults" doc:"names of the faults that have a page"`
	Files  []string      `json:"files" doc:"that were written"`
}

func (a *app) reference() *cobra.Command {
	o := &referenceOptions{duration: durationValue(time.Hour)}
	cmd := &cobra.Command{
		Use:   "reference [BOARD]",
		Short: "Write a page on every fault, worked out by simulation",
		Long: wrapped(`Write a folder of pages in Markdown with figures in SVG: one for each fault of the catalogue, and an index.
Each page has the catalogue's texts and, simulated with the fault at full severity on one channel or on the whole
board, tests on the unplugged board, readings in standby and heating beside the healthy ones, waveforms, the energy
monitor, an hour of operation, and the look-alikes: the faults that read alike in standby and heating, with the first
test that separates each, the safest of them: unplugged tests before the energy monitor before live ones. Boards that
none of these separates are also measured in holding, with the one channel driven in bursts.

A simulation that fails is told on its page, and in the end. Work that is interrupted leaves the pages that are done, and an index of them.`),
		Example: `  boilwright reference
  boilwright reference neutral-side-230 --channel dye --out pages
  boilwright reference --only triac-shorted --only opto-one-way`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE:              a.do(o.run),
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "out", "o", "boilwright-reference", "`FOLDER` for the pages, made where it is missing")
	f.StringArrayVar(&o.only, "only", nil, "write the page of this fault, `NAME`; repeatable [all]")
	f.StringVar(&o.channel, "channel", "", "`CHANNEL` that has the faults [the first]")
	f.StringArrayVarP(&o.meters, "meter", "m", nil, "a meter of the board, `NAME`; repeatable [all]")
	f.VarP(&o.duration, "duration", "d", "simulated `TIME` of operation")
	complete(cmd, "only", completeWords(faults.Names()...))
	complete(cmd, "channel", completeChannel)
	complete(cmd, "meter", completeMeter)
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

func (o *referenceOptions) run(cmd *cobra.Command, args []string) error {
	w, err := o.prepare(cmd, args)
	if err != nil {
		return err
	}
	if info, err := os.Stat(o.out); err == nil && !info.IsDir() {
		return misuse("--out: found the file %s, expected a folder", o.out)
	}
	p := newProgress(cmd, "reference")
	defer p.end()
	var names, files []string
	err = w.study(cmd.Context(), p)
	if err == nil {
		err = os.MkdirAll(o.out, 0o777)
	}
	if err == nil {
		names, files, err = w.write(cmd.Context(), p, o.out)
	}
	p.end()
	if err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	err = errors.Join(err, w.failures(names))
	out := cmd.OutOrStdout()
	if o.asJSON {
		d := &referenceDocument{schemaName("reference"), notice, sim.Completed.String(), w.target.document(), append([]string{}, names...), append([]string{}, files...)}
		if errors.Is(err, context.Canceled) {
			d.Status = sim.Interrupted.String()
		}
		return errors.Join(writeJSON(out, d), err)
	}
	if len(files) > 0 {
		fmt.Fprintf(out, "pages of faults: %d; with figures and an index %d files in the folder %s; begin with\n%s\n", len(names), len(files), o.out, files[len(files)-1])
		note(out, "%s", notice)
	}
	return err
}

// prepare checks flags and board.
func (o *referenceOptions) prepare(cmd *cobra.Command, args []string) (*referenceWork, error) {
	for _, name := range o.only {
		if _, ok := faults.Find(name); !ok {
			return nil, unknownFault(name)
		}
	}
	t, err := (&faultFlags{}).load(cmd, args)
	if err != nil {
		return nil, err
	}
	b := t.file.Board
	channel := 0
	if o.channel != "" {
		if channel = b.ChannelIndex(o.channel); channel < 0 {
			return nil, misuse("--channel: found %q, expected one of %s", o.channel, list(t.names, ""))
		}
	}
	meters, err := chosenMeters(b, o.meters)
	if err != nil {
		return nil, err
	}
	w := newReferenceWork(t, channel, time.Duration(o.duration))
	w.Meters = meters
	w.Pages = slices.DeleteFunc(faults.Names(), func(n string) bool { return len(o.only) > 0 && !slices.Contains(o.only, n) })
	return w, nil
}

// write works out the hours and figures on all cores, and writes each page as
// soon as it and those before it are done, the index last. It returns the
// names of the faults and of the files.
func (w *referenceWork) write(ctx context.Context, p *progress, folder string) (names, files []string, err error) {
	save := func(name string, write func(io.Writer) error) error {
		name = filepath.Join(folder, name)
		if err := writeFile(name, nil, write); err != nil {
			return err
		}
		files = append(files, name)
		return nil
	}
	q := &queue{}
	healthy := add(q, func() ([]drawing, error) { return w.hour(ctx, w.Healthy, w.target) })
	var figures []*later[[]drawing]
	for _, n := range w.Pages {
		figures = append(figures, add(q, func() ([]drawing, error) { return w.finish(ctx, w.find(n)) }))
	}
	q.run()
	draw := func(l *later[[]drawing]) error {
		drawings, err := l.wait()
		for _, d := range drawings {
			if err == nil {
				err = save(d.name, func(f io.Writer) error { _, err := f.Write(d.svg); return err })
			}
		}
		return err
	}
	err = draw(healthy)
	for i, l := range figures {
		if err == nil {
			err = draw(l)
		}
		s := w.find(w.Pages[i])
		if err == nil {
			err = save(pages.File(s.Fault.Name), func(f io.Writer) error { return w.WritePage(f, s) })
		}
		if err != nil {
			break
		}
		names = append(names, s.Fault.Name)
		p.show(time.Duration(len(w.Faults)+i+1), time.Duration(len(w.Faults)+len(w.Pages)))
	}
	if len(names) > 0 && (err == nil || errors.Is(err, context.Canceled)) {
		w.Pages = names
		err = errors.Join(err, save(pages.IndexFile, func(f io.Writer) error { return w.WriteIndex(f, err != nil) }))
	}
	return names, files, err
}
