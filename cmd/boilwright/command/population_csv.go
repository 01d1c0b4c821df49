package command

import (
	"bytes"
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"time"
)

// cell writes a number of a table with as many digits as documents have.
func cell(v float64) string { return strconv.FormatFloat(v, 'g', digits, 64) }

// since is a time in seconds, or nothing for what never came.
func since(d time.Duration) string {
	if d < 0 {
		return ""
	}
	return cell(d.Seconds())
}

// writeHeads writes the names of the columns.
func (w *populationWork) writeHeads(dst io.Writer) error {
	heads := []string{"index", "faults", "problem"}
	switch w.options.job {
	case jobDraw:
		if w.options.values {
			for _, c := range w.tally.columns {
				heads = append(heads, c.Name)
			}
		}
	case jobReadings:
		heads = append(heads, "state", "place", "meter", "unit", "shown", "resolution", "over")
	case jobRun:
		heads = append(heads, "channel", "verdict", "reached_s", "peak_degc", "final_degc", "element_j", "link_opened_s", "boiled_s", "dry_s", "drifts")
	}
	c := csv.NewWriter(dst)
	if err := c.Write(heads); err != nil {
		return err
	}
	c.Flush()
	return c.Error()
}

// rows writes a board as comma-separated values: a row a board, a reading or a
// channel. A board without a solution has one row, empty after its problem.
func (w *populationWork) rows(f *finished) ([]byte, error) {
	var texts []string
	for _, j := range f.member.Faults {
		texts = append(texts, j.Text(w.target.names))
	}
	begin := []string{strconv.FormatUint(f.member.Index, 10), strings.Join(texts, "; "), f.problem()}
	row := func(cells ...string) []string { return append(begin[:3:3], cells...) }
	var rows [][]string
	switch {
	case w.options.job == jobDraw:
		r := row()
		if w.options.values {
			for _, v := range f.member.Values {
				r = append(r, cell(v))
			}
		}
		rows = append(rows, r)
	case f.problem() != "":
		empty := 7
		if w.options.job == jobRun {
			empty = 10
		}
		rows = append(rows, row(make([]string, empty)...))
	case w.options.job == jobReadings:
		for k, v := range f.values() {
			l := &w.tally.labels[k]
			rows = append(rows, row(l.state.String(), l.place, l.meter, l.unit, cell(v.value), cell(v.resolution), strconv.FormatBool(v.over)))
		}
	default:
		for _, c := range f.outcome.Channels {
			rows = append(rows, row(c.Channel, string(c.Verdict), since(c.Reached), cell(c.Peak), cell(c.Final), cell(c.Energy),
				since(c.LinkOpened), since(c.Boiled), since(c.Dry), strconv.Itoa(c.Drifts)))
		}
	}
	var b bytes.Buffer
	c := csv.NewWriter(&b)
	err := c.WriteAll(rows)
	return b.Bytes(), err
}
