package plots

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
)

// Table is a part of the data behind a figure: named columns of equal length.
type Table struct {
	Name    string
	Columns []Column
}

// Column is a column of numbers or of texts; the other is nil.
type Column struct {
	Name   string
	Unit   string // of numbers; empty for none
	Number []float64
	Text   []string
}

// Heading is the column's heading: its name, with the unit in brackets.
func (c Column) Heading() string {
	if c.Unit == "" {
		return c.Name
	}
	return fmt.Sprintf("%s (%s)", c.Name, c.Unit)
}

// Rows returns the number of rows.
func (t Table) Rows() int {
	if len(t.Columns) == 0 {
		return 0
	}
	return max(len(t.Columns[0].Number), len(t.Columns[0].Text))
}

// WriteCSV writes the table as comma-separated values (RFC 4180) with one
// heading row; numbers have 9 significant digits and a decimal point.
func (t Table) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	row := make([]string, len(t.Columns))
	for j, c := range t.Columns {
		row[j] = c.Heading()
	}
	if err := out.Write(row); err != nil {
		return err
	}
	for i := range t.Rows() {
		for j, c := range t.Columns {
			if c.Text != nil {
				row[j] = c.Text[i]
			} else {
				row[j] = strconv.FormatFloat(c.Number[i], 'g', 9, 64)
			}
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
