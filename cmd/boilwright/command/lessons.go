package command

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	q "boilwright/models/quantity"
	"boilwright/plots"
	"boilwright/plots/lessons"
	"boilwright/sim/boardfile"
)

// lessonOptions are the flags of the command lessons.
type lessonOptions struct {
	out    string
	seed   uint64
	asJSON bool
}

func (a *app) lessons() *cobra.Command {
	o := &lessonOptions{}
	cmd := &cobra.Command{
		Use:   "lessons [BOARD]",
		Short: "Write a pack of lessons with questions and solutions",
		Long: wrapped(`Write a folder of lessons: a page each in Markdown and in HTML with its figures, questions, and a page of
solutions. The answers are worked out by the simulator on a board whose supply, elements and water are varied a little
by the seed, so that each class gets numbers of its own; the same seed gives the same bytes.`),
		Example:           `  boilwright lessons --seed 12 --out class-12`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE:              a.do(o.run),
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "out", "o", "lessons", "`FOLDER` to write to, made where it is missing")
	f.Uint64Var(&o.seed, "seed", 1, "`NUMBER` that chooses the numbers and the faults")
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

func (o *lessonOptions) run(cmd *cobra.Command, args []string) error {
	if info, err := os.Stat(o.out); err == nil && !info.IsDir() {
		return misuse("--out: found the file %s, expected a folder", o.out)
	}
	file, err := loadBoard(cmd, args)
	if err != nil {
		return err
	}
	c, err := newClass(file, o.seed)
	if err != nil {
		return err
	}
	pack, err := c.pack(cmd.Context())
	if err != nil {
		return err
	}
	pages, err := pack.Files()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(o.out, 0o777); err != nil {
		return err
	}
	var files []string
	write := func(name string, data []byte) error {
		name = filepath.Join(o.out, name)
		files = append(files, name)
		return writeFile(name, nil, func(w io.Writer) error { _, err := w.Write(data); return err })
	}
	for _, s := range c.sheets {
		var b bytes.Buffer
		if err := s.sheet.Encode(&b, "svg", plots.Size{}); err != nil {
			return err
		}
		if err := write(s.file, b.Bytes()); err != nil {
			return err
		}
	}
	for _, p := range pages {
		if err := write(p.Name, []byte(p.Text)); err != nil {
			return err
		}
	}
	out := cmd.OutOrStdout()
	if o.asJSON {
		return writeJSON(out, &figureDocument{schemaName("figure"), c.target().document(), pack.Title, pack.Note, lessonTitles(pack), files})
	}
	fmt.Fprintln(out, pack.Title)
	for i, l := range pack.Lessons {
		fmt.Fprintf(out, "  %d. %s: %d questions\n", i+1, l.Title, len(l.Questions))
	}
	fmt.Fprintf(out, "%d files in %s; begin with %s\n", len(files), o.out, filepath.Join(o.out, "index.html"))
	return nil
}

// lessonTitles names the lessons in one line.
func lessonTitles(p *lessons.Pack) string {
	var titles []string
	for _, l := range p.Lessons {
		titles = append(titles, l.Title)
	}
	return list(titles, "")
}

// class is a board varied by a seed, and what is drawn of it.
type class struct {
	file   *boardfile.File
	names  []string
	seed   uint64
	sheets []lessonSheet
}

// lessonSheet is a figure and its file.
type lessonSheet struct {
	file  string
	sheet *plots.Sheet
}

// The random streams of a pack: one a lesson, so that a new lesson does not
// change the others.
const (
	boardStream = iota + 1
	circuitStream
	meterStream
	standbyStream
	delayStream
	linkStream
	nextStream
)

func (c *class) random(stream uint64) *rand.Rand { return rand.New(rand.NewPCG(c.seed, stream)) }

// newClass varies a board: its supply by up to 4 % in whole volts, its elements
// by up to 5 % in tenths of an ohm, its water by up to 10 %.
func newClass(file *boardfile.File, seed uint64) (*class, error) {
	c := &class{seed: seed}
	copied := *file
	b := file.Board.Clone()
	copied.Board = b
	c.file, c.names = &copied, channelNames(b)
	r := c.random(boardStream)
	vary := func(x, part, step float64) float64 {
		return max(step, math.Round(x*(1+part*(2*r.Float64()-1))/step)*step)
	}
	b.Supply.Voltage = q.Volt(math.Min(260, vary(float64(b.Supply.Voltage), 0.04, 1)))
	for k := range b.Channels {
		ch := &b.Channels[k]
		ch.Element.Resistance = q.Ohm(roundTo(vary(float64(ch.Element.Resistance), 0.05, 0.1), 10))
		ch.Boiler.Water = q.Kilogram(roundTo(vary(float64(ch.Boiler.Water), 0.1, 0.05), 100))
	}
	return c, solvable(file.Name, b)
}

// roundTo rounds to parts of one, without the dust of a multiplication.
func roundTo(x, parts float64) float64 { return math.Round(x*parts) / parts }

// target is the class's board without a fault.
func (c *class) target() *target { return &target{file: c.file, names: c.names} }

// figure keeps a sheet under a name and returns it for a page.
func (c *class) figure(name string, s *plots.Sheet) lessons.Figure {
	file := name + ".svg"
	c.sheets = append(c.sheets, lessonSheet{file, s})
	return lessons.Figure{File: file, Title: s.Title(), Alt: s.Alt()}
}

// shuffled puts the right answer among others, at most n in all, and returns
// where it is. Others that read like it, or like each other, are left out.
func shuffled(r *rand.Rand, n int, right string, others ...string) (choices []string, at int) {
	choices = []string{right}
	r.Shuffle(len(others), func(i, j int) { others[i], others[j] = others[j], others[i] })
	for _, x := range others {
		same := false
		for _, y := range choices {
			same = same || x == y
		}
		if !same && len(choices) < n {
			choices = append(choices, x)
		}
	}
	r.Shuffle(len(choices), func(i, j int) { choices[i], choices[j] = choices[j], choices[i] })
	for i, x := range choices {
		if x == right {
			at = i
		}
	}
	return choices, at
}
