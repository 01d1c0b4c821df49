package command

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"boilwright/faults/rules/validate"
	"boilwright/plots"
	"boilwright/plots/pages"
)

// Names of the files of a report in a folder.
const (
	reportPage     = "report.html"
	reportMarkdown = "report.md"
)

// checkReport checks where a report is to go.
func checkReport(name string) error {
	if name == "" {
		return nil
	}
	if name == "-" {
		return misuse("--report: found standard output, expected the name of a folder or file")
	}
	info, err := os.Stat(name)
	switch ext := filepath.Ext(name); {
	case ext == ".html" || ext == ".md":
		if err == nil && info.IsDir() {
			return misuse("--report: found the folder %s, expected the name of a file", name)
		}
	case err == nil && !info.IsDir():
		return misuse("--report: found the file %s, expected a folder, or a name that ends in .html or .md", name)
	}
	return nil
}

// writeReport writes the report on a validation: a page for a browser, or
// Markdown with its figures beside it, by the ending of the name; a folder with
// both, where it has neither. It returns the names of the files.
func (v *validation) writeReport(cmd *cobra.Command, name string) ([]string, error) {
	folder, page, text := name, reportPage, reportMarkdown
	prefix := ""
	switch filepath.Ext(name) {
	case ".html":
		folder, page, text = filepath.Dir(name), filepath.Base(name), ""
	case ".md":
		folder, page, text = filepath.Dir(name), "", filepath.Base(name)
		prefix = strings.TrimSuffix(text, ".md") + "-"
	default:
		if err := os.MkdirAll(folder, 0o777); err != nil {
			return nil, err
		}
	}
	x, err := v.pages(cmd, prefix)
	if err != nil {
		return nil, err
	}
	var files []string
	save := func(name string, write func(io.Writer) error) error {
		name = filepath.Join(folder, name)
		if err := writeFile(name, nil, write); err != nil {
			return err
		}
		files = append(files, name)
		return nil
	}
	if text != "" {
		for _, d := range drawings(x) {
			if err := save(d.File, func(w io.Writer) error { _, err := w.Write(d.SVG); return err }); err != nil {
				return files, err
			}
		}
		if err := save(text, x.WriteMarkdown); err != nil {
			return files, err
		}
	}
	if page != "" {
		if err := save(page, x.WriteHTML); err != nil {
			return files, err
		}
	}
	return files, nil
}

// drawings are the figures of a report, in their order.
func drawings(x *pages.Validation) []*pages.Drawing {
	var out []*pages.Drawing
	if x.Meters != nil {
		out = append(out, x.Meters)
	}
	out = append(out, x.Confusion...)
	for _, f := range x.Failures {
		for _, e := range f.Examples {
			if e.Figure != nil {
				out = append(out, e.Figure)
			}
		}
	}
	return out
}

// pages makes everything that the report tells and shows.
func (v *validation) pages(cmd *cobra.Command, prefix string) (*pages.Validation, error) {
	r, t := v.report, v.work.target
	x := &pages.Validation{
		Rules: v.side.name, Board: t.title(), Note: t.file.Board.Note, Seed: v.options.seed, From: v.options.from, Drawn: v.drawnText(),
		Command: v.sameAgain(cmd), Notice: notice, Caution: v.side.caution(), Report: r, Troubles: v.side.troubles(), Checks: v.checks,
	}
	h := heading(t, "")
	h.Subtitle = fmt.Sprintf("%s, %d boards from index %d, seed %d; %s", v.side.name, r.Done, v.options.from, v.options.seed, x.Drawn)
	if in := sharesOf(r, h); len(in.Rows) > 0 && len(in.Series) > 0 {
		s, err := plots.Shares(in)
		if err != nil {
			return nil, err
		}
		if x.Meters, err = encodedDrawing(prefix+"meters.svg", s); err != nil {
			return nil, err
		}
	}
	for i := range r.Confusion {
		c := &r.Confusion[i]
		if len(c.Rows) == 0 || c.Channel != "all channels" && c.Channel != "board" {
			continue
		}
		s, err := plots.Confusion(confusionOf(c, h))
		if err != nil {
			return nil, err
		}
		d, err := encodedDrawing(prefix+"confusion-"+strings.ReplaceAll(c.Channel, " ", "-")+".svg", s)
		if err != nil {
			return nil, err
		}
		x.Confusion = append(x.Confusion, d)
	}
	var err error
	x.Failures, err = v.counterexamples(cmd, prefix)
	return x, err
}

// encodedDrawing encodes a sheet for a report.
func encodedDrawing(file string, s *plots.Sheet) (*pages.Drawing, error) {
	var b bytes.Buffer
	if err := s.Encode(&b, "svg", plots.Size{}); err != nil {
		return nil, err
	}
	return &pages.Drawing{Title: s.Title(), Alt: s.Alt(), SVG: b.Bytes(), File: file}, nil
}

// drawnText tells how faults were chosen.
func (v *validation) drawnText() string {
	if v.options.each > 0 {
		return fmt.Sprintf("%d boards for each fault in each place", v.options.each)
	}
	return "drawn at the rates of the population, which are assumptions"
}

// sharesOf is sensitivity and specificity of the rules, by meter.
func sharesOf(r *validate.Report, h plots.Heading) plots.SharesInput {
	in := plots.SharesInput{Heading: h, Series: r.Meters, Columns: []string{"sensitivity", "specificity"}}
	in.Title = "Sensitivity and specificity of each rule"
	in.Caption = "Shares with their 95 % score intervals."
	if len(in.Series) == 0 {
		in.Series = []string{""}
	}
	if len(in.Series) > 1 {
		in.Title += ", by the meter in hand"
	}
	if n := plots.MostSeries(); len(in.Series) > n {
		in.Series = in.Series[:n]
	}
	mark := func(s validate.Share) plots.ShareMark {
		low, high := s.Interval()
		return plots.ShareMark{Value: s.Value(), Low: low, High: high}
	}
	for i := range r.Rules {
		x := &r.Rules[i]
		row := plots.ShareRow{Name: x.Rule, Marks: make([][]plots.ShareMark, 2)}
		for _, c := range x.ByMeter[:min(len(x.ByMeter), len(in.Series))] {
			row.Marks[0], row.Marks[1] = append(row.Marks[0], mark(c.Sensitivity())), append(row.Marks[1], mark(c.Specificity()))
		}
		if len(row.Marks[0]) == len(in.Series) {
			in.Rows = append(in.Rows, row)
		}
	}
	return in
}

// confusionOf is a confusion table, with what is right in it.
func confusionOf(c *validate.Confusion, h plots.Heading) plots.ConfusionInput {
	in := plots.ConfusionInput{Heading: h, Columns: c.Concluded}
	in.Title = "What was concluded by what was true: " + c.Channel
	for _, row := range c.Rows {
		x := plots.ConfusionRow{Name: row.Truth, Counts: row.Counts}
		for _, said := range c.Concluded {
			x.Right = append(x.Right, rightWords(said, row.Truth))
		}
		in.Rows = append(in.Rows, x)
	}
	return in
}

// rightWords tells whether the heading of a column is right of that of a row.
func rightWords(said, truth string) bool {
	if said == validate.Healthy || truth == validate.Healthy {
		return said == truth
	}
	there := strings.Split(truth, " + ")
	for _, f := range strings.Split(said, " or ") {
		for _, g := range there {
			if f == g {
				return true
			}
		}
	}
	return false
}

// sameAgain is the command that validates the same again.
func (v *validation) sameAgain(cmd *cobra.Command) string {
	words := []string{"boilwright", "rules", "validate"}
	if !v.side.program {
		words = append(words, v.side.name)
	}
	words = append(words, v.work.args...)
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		switch f.Name {
		case "json", "junit", "workers", "report", "seed", "progress", "boards":
			return
		}
		if !f.Changed {
			return
		}
		if s, ok := f.Value.(pflag.SliceValue); ok {
			for _, x := range s.GetSlice() {
				words = append(words, "--"+f.Name, x)
			}
			return
		}
		if f.Value.Type() == "bool" {
			words = append(words, "--"+f.Name+"="+f.Value.String())
			return
		}
		words = append(words, "--"+f.Name, f.Value.String())
	})
	if v.options.each == 0 {
		words = append(words, "--boards", fmt.Sprint(v.options.boards))
	}
	words = append(words, "--seed", fmt.Sprint(v.options.seed))
	for i := range words {
		words[i] = shellWord(words[i])
	}
	return strings.Join(words, " ")
}
