package command

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"boilwright/plots"
	"boilwright/sim"
	"boilwright/sim/readings"
)

func (a *app) figure() *cobra.Command {
	cmd := &cobra.Command{
		Use: "figure",

		DisableFlagsInUseLine: true,

		Short: "Draw waveforms, temperatures, a circuit, a teaching sheet",
		Long: wrapped(`Draw a figure to a file whose ending says the form: ` + list(plots.Formats(), "") + `. Beside it lies the same
in words, NAME.txt, and with --data the numbers, NAME.csv.`),
		Args: cobra.ArbitraryArgs,
		RunE: group,
	}
	cmd.AddCommand(a.figureWaveforms(), a.figureTemperatures(), a.figureDisturbance(), a.figureCircuit(), a.figurePair(), a.figureFaults(), a.figureMeters(), a.figureWords())
	for _, x := range sweeps {
		cmd.AddCommand(a.figureSweep(x))
	}
	return cmd
}

// figureOptions are the flags of every figure.
type figureOptions struct {
	faultFlags
	out    string
	size   string
	clear  bool
	grey   bool
	data   bool
	asJSON bool
}

func (o *figureOptions) add(cmd *cobra.Command, name string, seeded bool) {
	o.faultFlags.add(cmd, seeded)
	f := cmd.Flags()
	f.StringVarP(&o.out, "out", "o", name+".png", "`FILE` to draw to, ending in ."+strings.Join(plots.Formats(), ", ."))
	f.StringVar(&o.size, "size", "", "width, `WIDTH` in px of a png, in pt or mm of the drawing: \"1600 px\", \"180 mm\"; of a png also both, \"1920x1080 px\"")
	f.BoolVar(&o.clear, "transparent", false, "leave out the white ground of a png or svg")
	f.BoolVar(&o.grey, "grey", false, "draw in greys, for print")
	f.BoolVar(&o.data, "data", false, "also write the numbers behind it, NAME.csv")
	addJSONFlag(cmd, &o.asJSON)
}

// parseSize reads a width.
func parseSize(text string) (plots.Size, error) {
	if text == "" {
		return plots.Size{}, nil
	}
	for _, unit := range []struct {
		name string
		set  func(x float64) plots.Size
	}{
		{"px", func(x float64) plots.Size { return plots.Size{Pixels: int(x)} }},
		{"pt", func(x float64) plots.Size { return plots.Size{Width: plots.Length(x)} }},
		{"mm", func(x float64) plots.Size { return plots.Size{Width: plots.Length(x) * plots.Millimetre} }},
	} {
		number, ok := strings.CutSuffix(text, unit.name)
		if !ok {
			continue
		}
		if w, h, both := strings.Cut(strings.ReplaceAll(number, "×", "x"), "x"); both && unit.name == "px" {
			width, err1 := strconv.Atoi(strings.TrimSpace(w))
			height, err2 := strconv.Atoi(strings.TrimSpace(h))
			if err1 == nil && err2 == nil && width > 0 && height > 0 {
				return plots.Size{Pixels: width, Lines: height}, nil
			}
		}
		var x float64
		if _, err := fmt.Sscanf(strings.TrimSpace(number)+"\n", "%g\n", &x); err == nil && x > 0 && x < 1e5 {
			return unit.set(x), nil
		}
	}
	return plots.Size{}, misuse("--size: found %q, expected a width such as 1600 px, 512 pt or 180 mm, or 1920x1080 px", text)
}

// format is the form of a figure's file.
func format(name string) (string, error) {
	f := strings.TrimPrefix(strings.ToLower(filepath.Ext(name)), ".")
	if !slices.Contains(plots.Formats(), f) || filepath.Base(name) == "."+f {
		return "", misuse("--out: found %q, expected a name ending in .%s", name, strings.Join(plots.Formats(), ", ."))
	}
	return f, nil
}

// finish writes a figure and what lies beside it, and tells their names.
func (o *figureOptions) finish(cmd *cobra.Command, t *target, s *plots.Sheet) error {
	size, err := parseSize(o.size)
	if err != nil {
		return err
	}
	size.Transparent, size.Grey = o.clear, o.grey
	files, err := writeSheet(o.out, s, size, o.data)
	if err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	if o.asJSON {
		return writeJSON(out, &figureDocument{schemaName("figure"), t.document(), s.Title(), s.Caption(), s.Alt(), files})
	}
	fmt.Fprintln(out, s.Title())
	fmt.Fprintln(out, indented("  ", s.Caption()))
	for _, f := range files {
		fmt.Fprintln(out, f)
	}
	return nil
}

// writeSheet draws a sheet to a file, with its text alternative and, if asked
// for, its data beside it. It returns the names of the files.
func writeSheet(name string, s *plots.Sheet, size plots.Size, data bool) ([]string, error) {
	form, err := format(name)
	if err != nil {
		return nil, err
	}
	var picture bytes.Buffer
	if err := s.Encode(&picture, form, size); err != nil {
		return nil, misused(err)
	}
	stem := strings.TrimSuffix(name, filepath.Ext(name))
	files := []string{name, stem + ".txt"}
	write := []func(w io.Writer) error{
		func(w io.Writer) error { _, err := picture.WriteTo(w); return err },
		func(w io.Writer) error { return writeAlternative(w, s) },
	}
	if data {
		files = append(files, stem+".csv")
		write = append(write, func(w io.Writer) error { return writeTables(w, s.Data()) })
	}
	for i, f := range files {
		if err := writeFile(f, nil, write[i]); err != nil {
			return nil, err
		}
	}
	return files, nil
}

// writeAlternative writes a figure in words.
func writeAlternative(w io.Writer, s *plots.Sheet) error {
	_, err := fmt.Fprintf(w, "%s\n\n%s\n\n%s\n", s.Title(), wrapped(s.Alt()), wrapped(s.Caption()))
	return err
}

// writeTables writes tables after one another, each after a line with its
// name where there are several.
func writeTables(w io.Writer, tables []plots.Table) error {
	for i, t := range tables {
		if len(tables) > 1 {
			if i > 0 {
				fmt.Fprintln(w)
			}
			fmt.Fprintf(w, "# %s\n", t.Name)
		}
		if err := t.WriteCSV(w); err != nil {
			return err
		}
	}
	return nil
}

func (a *app) figureWaveforms() *cobra.Command {
	o := &struct {
		figureOptions
		headingFlags
		conditionFlags
		cycles   int
		channels []string
	}{conditionFlags: newConditions(readings.Heating.String())}
	cmd := &cobra.Command{
		Use:   "waveforms [BOARD]",
		Short: "Draw the waveforms of a few supply cycles",
		Long: wrapped(`Draw the supply voltage, and for every channel voltage and current of its element and the gate current,
over one to three cycles. Faults act at their full severity, whatever their onset and course.`),
		Example: `  boilwright figure waveforms --fault dye:opto-half-wave --out dye.svg
  boilwright figure waveforms --state standby --fault soak:opto-one-way --channel soak --data`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			if o.cycles < 1 || o.cycles > 3 {
				return misuse("--cycles: found %d, expected 1 to 3", o.cycles)
			}
			if _, err := format(o.out); err != nil {
				return err
			}
			t, err := o.load(cmd, args)
			if err != nil {
				return err
			}
			b, err := t.applied()
			if err != nil {
				return err
			}
			c, err := o.conditions(b, liveStates...)
			if err != nil {
				return err
			}
			h, err := o.teaching(t, func(l *plots.Language) string { return o.describeIn(l, c, b) })
			if err != nil {
				return err
			}
			h = inTitle(h, &o.headingFlags, t)
			opts := plots.RecordingOptions{Heading: h}
			for _, n := range o.channels {
				k := b.ChannelIndex(n)
				if k < 0 {
					return misuse("--channel: found %q, expected one of %s", n, list(t.names, ""))
				}
				opts.Channels = append(opts.Channels, k)
			}
			s, err := waveformSheet(b, c, o.cycles, opts)
			if err != nil {
				return err
			}
			return o.finish(cmd, t, s)
		}),
	}
	o.figureOptions.add(cmd, "waveforms", false)
	o.headingFlags.add(cmd)
	o.conditionFlags.add(cmd, liveStates...)
	cmd.Flags().IntVar(&o.cycles, "cycles", 2, "`NUMBER` of supply cycles, 1 to 3")
	cmd.Flags().StringArrayVar(&o.channels, "channel", nil, "show this `CHANNEL`; repeatable [all]")
	complete(cmd, "channel", completeChannel)
	return cmd
}

func (a *app) figureTemperatures() *cobra.Command {
	o := &struct {
		figureOptions
		headingFlags
		duration durationValue
	}{duration: durationValue(time.Hour)}
	cmd := &cobra.Command{
		Use:               "temperatures [BOARD]",
		Short:             "Draw the temperatures of a run",
		Example:           `  boilwright figure temperatures --fault dye:triac-shorted --duration "90 min" --size "180 mm" --out dye.pdf`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			if _, err := format(o.out); err != nil {
				return err
			}
			t, err := o.load(cmd, args)
			if err != nil {
				return err
			}
			p := newProgress(cmd, "figure")
			r, _, err := simulate(cmd.Context(), t, o.seed, sim.Options{Duration: time.Duration(o.duration), Progress: p.show})
			p.end()
			if err != nil {
				return err
			}
			if len(r.Samples) < 2 {
				return errInterrupted
			}
			h, err := o.teaching(t, func(l *plots.Language) string {
				if r.Status == sim.Interrupted {
					return l.F("%s of operation, interrupted", clock(r.Duration))
				}
				return l.F("%s of operation", clock(r.Duration))
			})
			if err != nil {
				return err
			}
			h = inTitle(h, &o.headingFlags, t)
			s, err := temperatureSheetUnder(r, h)
			if err != nil {
				return err
			}
			if err := o.finish(cmd, t, s); err != nil {
				return err
			}
			if r.Status == sim.Interrupted {
				return errInterrupted
			}
			return nil
		}),
	}
	o.figureOptions.add(cmd, "temperatures", true)
	o.headingFlags.add(cmd)
	cmd.Flags().VarP(&o.duration, "duration", "d", "simulated `TIME`")
	return cmd
}
