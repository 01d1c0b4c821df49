package command

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/plots"
	"boilwright/sim"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// demoOptions are the flags of the command demo.
type demoOptions struct {
	out    string
	asJSON bool
}

// The story: three faults on the embedded board, and one reading.
var demoFaults = []string{"dye:triac-shorted", "dye:opto-one-way", "soak:opto-dead"}

const (
	demoReadingOf = 1 // the fault from whose board the reading is taken
	demoPoint     = "dye:output"
	demoMeter     = "average"
	demoTriac     = "dye:triac"
)

// demoMeters are the meters shown in each state; those in heating have equal
// inputs, so that they share one solution.
var demoMeters = map[readings.State][]string{
	readings.Standby: {"average", "low-impedance", "direct"},
	readings.Heating: {"average", "rms", "direct"},
}

// demoPixels is the width of the figures.
const demoPixels = 1280

var demoStates = []readings.State{readings.Standby, readings.Heating}

func (a *app) demo() *cobra.Command {
	o := &demoOptions{}
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Tell the whole story on the embedded board",
		Long: wrapped(`Tell the whole story on the embedded board: a healthy hour, three faults, what each shows at the test
points, what one reading implies, and figures in a folder.`),
		Args:              cobra.NoArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE:              a.do(o.run),
	}
	cmd.Flags().StringVarP(&o.out, "out", "o", "boilwright-demo", "`FOLDER` for the figures, made where it is missing")
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

// demoWork is all that the demonstration works out.
type demoWork struct {
	healthy    *target
	targets    []*target // by fault
	runs       []*later[demoRun]
	tables     [][]*later[[][]readings.Value] // by state; the healthy board, then by fault
	comparison *later[*comparison]
	sheets     *later[[]picture]
}

// demoRun is a run with its figure, where it has one.
type demoRun struct {
	result  *sim.Result
	picture *picture
}

// picture is a figure ready to be written.
type picture struct {
	name string // without ending
	png  []byte
	alt  []byte
}

func (o *demoOptions) run(cmd *cobra.Command, _ []string) error {
	if info, err := os.Stat(o.out); err == nil && !info.IsDir() {
		return misuse("--out: found the file %s, expected a folder", o.out)
	}
	if err := os.MkdirAll(o.out, 0o777); err != nil {
		return err
	}
	w, err := newDemo(cmd.Context())
	if err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	if o.asJSON {
		d, err := w.document(o)
		if err != nil && d.Status != sim.Interrupted.String() {
			return err
		}
		return errors.Join(err, writeJSON(out, d))
	}
	return w.tell(out, o)
}

// newDemo begins the work on all cores.
func newDemo(ctx context.Context) (*demoWork, error) {
	file, err := boardfile.Embedded(boardfile.EmbeddedNames()[0])
	if err != nil {
		return nil, err
	}
	w := &demoWork{healthy: &target{file: file, names: channelNames(file.Board)}}
	boards := []*models.Board{file.Board}
	for _, text := range demoFaults {
		set, err := faults.ParseSet([]string{text}, w.healthy.names)
		if err != nil {
			return nil, err
		}
		t := &target{file: file, set: set, names: w.healthy.names}
		b, err := t.applied()
		if err != nil {
			return nil, err
		}
		w.targets, boards = append(w.targets, t), append(boards, b)
	}
	q := &queue{}
	for i, t := range append([]*target{w.healthy}, w.targets...) {
		w.runs = append(w.runs, add(q, func() (demoRun, error) { return runForDemo(ctx, t, i) }))
	}
	for _, s := range demoStates {
		var row []*later[[][]readings.Value]
		for _, b := range boards {
			row = append(row, add(q, func() ([][]readings.Value, error) { return demoTable(ctx, b, s) }))
		}
		w.tables = append(w.tables, row)
	}
	w.comparison = add(q, func() (*comparison, error) { return compare(ctx, w.healthy, boards[1+demoReadingOf]) })
	w.sheets = add(q, func() ([]picture, error) { return demoWaveforms(ctx, w.targets, boards[1:]) })
	q.run()
	return w, nil
}

// runForDemo runs a target for an hour and draws the temperatures of the
// healthy board and of the first fault.
func runForDemo(ctx context.Context, t *target, number int) (demoRun, error) {
	r, _, err := simulate(ctx, t, 1, sim.Options{})
	if err != nil || number > 1 || len(r.Samples) < 2 {
		return demoRun{result: r}, err
	}
	s, err := temperatureSheet(t, r)
	if err != nil {
		return demoRun{}, err
	}
	p, err := draw("temperatures-"+demoStem(t), s)
	return demoRun{r, &p}, err
}

// demoStem is a target in the name of a file.
func demoStem(t *target) string {
	if len(t.set) == 0 {
		return "healthy"
	}
	return strings.ReplaceAll(t.texts()[0], ":", "-")
}

func draw(name string, s *plots.Sheet) (picture, error) {
	var png, alt bytes.Buffer
	if err := s.Encode(&png, "png", plots.Size{Pixels: demoPixels}); err != nil {
		return picture{}, err
	}
	err := writeAlternative(&alt, s)
	return picture{name, png.Bytes(), alt.Bytes()}, err
}

// demoWaveforms draws the fault from which the reading comes, in standby.
func demoWaveforms(ctx context.Context, targets []*target, boards []*models.Board) ([]picture, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	t, b := targets[demoReadingOf], boards[demoReadingOf]
	c := readings.Conditions{State: readings.Standby, Temps: circuit.Uniform(len(b.Channels), 25)}
	flags := newConditions(readings.Standby.String())
	s, err := waveformSheet(b, c, 2, plots.RecordingOptions{Heading: heading(t, flags.describe(c, b)), Channels: []int{t.set[0].Channel}})
	if err != nil {
		return nil, err
	}
	p, err := draw("waveforms-"+demoStem(t)+"-standby", s)
	return []picture{p}, err
}

// demoTable measures at every test point.
func demoTable(ctx context.Context, b *models.Board, s readings.State) ([][]readings.Value, error) {
	meters, err := chosenMeters(b, demoMeters[s])
	if err != nil {
		return nil, err
	}
	var out [][]readings.Value
	for _, p := range readings.Points(b) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if p.Control {
			continue
		}
		v, err := readings.At(b, p, meters, readings.Conditions{State: s, Temps: circuit.Uniform(len(b.Channels), 25)})
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// differing are the rows in which a faulty board's reading differs from a
// healthy one's by more than both uncertainties, on one meter at least.
func differing(healthy, faulty [][]readings.Value) (rows []int) {
	for i := range faulty {
		for j, f := range faulty[i] {
			h := healthy[i][j]
			if d := f.Shown - h.Shown; max(d, -d) > f.Uncertainty+h.Uncertainty {
				rows = append(rows, i)
				break
			}
		}
	}
	return rows
}

// write puts the figures into the folder and returns their names.
func (w *demoWork) write(folder string) ([]string, error) {
	var pictures []picture
	for _, l := range w.runs {
		r, err := l.wait()
		if err != nil {
			return nil, err
		}
		if r.result.Status == sim.Interrupted {
			return nil, errInterrupted
		}
		if r.picture != nil {
			pictures = append(pictures, *r.picture)
		}
	}
	more, err := w.sheets.wait()
	if err != nil {
		return nil, err
	}
	var files []string
	for _, p := range append(pictures, more...) {
		for _, f := range []struct {
			ending string
			data   []byte
		}{{".png", p.png}, {".txt", p.alt}} {
			name := filepath.Join(folder, p.name+f.ending)
			if err := writeFile(name, nil, func(w io.Writer) error { _, err := w.Write(f.data); return err }); err != nil {
				return nil, err
			}
			files = append(files, name)
		}
	}
	return files, nil
}

// note prints a line of running text.
func note(w io.Writer, format string, args ...any) {
	fmt.Fprintln(w, wrapped(fmt.Sprintf(format, args...)))
}
