package plots

import (
	"fmt"
	"slices"
	"strings"
)

// ConfusionRow is what was concluded of the units of one truth.
type ConfusionRow struct {
	Name   string
	Counts []uint64 // by column
	Right  []bool   // by column: concluding that is right
}

// ConfusionInput is what a confusion map shows: how often what was concluded
// (columns), by what was true (rows). Of many rows or columns the most frequent
// are drawn, in their order, and the rest is gathered in a last one.
type ConfusionInput struct {
	Heading
	Columns []string
	Rows    []ConfusionRow
}

// Most rows and columns that a confusion map draws, with that for the rest.
const (
	mostTruths      = 64
	mostConclusions = 16
)

// Confusion builds the map. An error names the row and what was expected.
func Confusion(in ConfusionInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	m := &confusion{ConfusionInput: in.gathered()}
	s := in.Heading.sheet("What was concluded by what was true", "Rows: what was true; columns: what was concluded; at the right how many units a row has. The darker a cell, the larger its share of the row. Framed cells with bold numbers are right conclusions.")
	s.alt = m.alternative(s)
	s.data = []Table{in.table()}
	s.body = m.draw
	return s, nil
}

func (in *ConfusionInput) check() error {
	if len(in.Rows) == 0 || len(in.Columns) == 0 {
		return fmt.Errorf("found %s and %s, expected 1 or more of each", plural(len(in.Rows), "row", "rows"), plural(len(in.Columns), "column", "columns"))
	}
	for _, r := range in.Rows {
		if n := len(in.Columns); len(r.Counts) != n || len(r.Right) != n {
			return fmt.Errorf("row %q: found %s and %s, expected %d of each", r.Name, plural(len(r.Counts), "count", "counts"), plural(len(r.Right), "mark", "marks"), n)
		}
		for _, k := range r.Counts {
			if k > 1e15 {
				return fmt.Errorf("row %q: found a count of %d, expected at most 1e15", r.Name, k)
			}
		}
	}
	return nil
}

// frequent returns which of the totals are drawn apart: all if there is room
// for them, else the largest, with room for one more.
func frequent(totals []uint64, most int) []int {
	order := make([]int, len(totals))
	for i := range order {
		order[i] = i
	}
	if len(totals) <= most {
		return order
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case totals[a] > totals[b]:
			return -1
		case totals[a] < totals[b]:
			return 1
		}
		return 0
	})
	order = order[:most-1]
	slices.Sort(order)
	return order
}

// gathered is the input with rare rows and columns in one each.
func (in *ConfusionInput) gathered() ConfusionInput {
	byRow, byColumn := make([]uint64, len(in.Rows)), make([]uint64, len(in.Columns))
	for i, r := range in.Rows {
		for j, k := range r.Counts {
			byRow[i] += k
			byColumn[j] += k
		}
	}
	rows, columns := frequent(byRow, mostTruths), frequent(byColumn, mostConclusions)
	out := ConfusionInput{Heading: in.Heading}
	for _, j := range columns {
		out.Columns = append(out.Columns, clean(in.Columns[j]))
	}
	others := len(in.Columns) > len(columns)
	if others {
		out.Columns = append(out.Columns, fmt.Sprintf("%d others", len(in.Columns)-len(columns)))
	}
	narrow := func(r *ConfusionRow) ConfusionRow {
		x := ConfusionRow{Name: clean(r.Name)}
		rest := uint64(0)
		for j, k := range r.Counts {
			if slices.Contains(columns, j) {
				x.Counts, x.Right = append(x.Counts, k), append(x.Right, r.Right[j])
			} else {
				rest += k
			}
		}
		if others { // right and wrong ones together: no mark
			x.Counts, x.Right = append(x.Counts, rest), append(x.Right, false)
		}
		return x
	}
	for _, i := range rows {
		out.Rows = append(out.Rows, narrow(&in.Rows[i]))
	}
	if n := len(in.Rows) - len(rows); n > 0 {
		rest := ConfusionRow{Name: fmt.Sprintf("%d others", n), Counts: make([]uint64, len(out.Columns)), Right: make([]bool, len(out.Columns))}
		for i := range in.Rows {
			if !slices.Contains(rows, i) {
				x := narrow(&in.Rows[i])
				for j, k := range x.Counts {
					rest.Counts[j] += k
				}
			}
		}
		out.Rows = append(out.Rows, rest)
	}
	return out
}

// percent writes a share; all and nothing are only what is exactly so.
func percent(k, n uint64) string {
	v := 100 * float64(k) / float64(n)
	switch {
	case k > 0 && v < 0.5:
		return "less than 1 %"
	case k < n && v >= 99.5:
		return "more than 99 %"
	}
	return fmt.Sprintf("%.0f %%", v)
}

func (m *confusion) alternative(s *Sheet) string {
	var t strings.Builder
	fmt.Fprintf(&t, "Confusion map: %s.", unended(s.title))
	if s.subtitle != "" {
		t.WriteString(" " + unended(s.subtitle) + ".")
	}
	fmt.Fprintf(&t, " %s of what was true, %s of what was concluded.", plural(len(m.Rows), "row", "rows"), plural(len(m.Columns), "column", "columns"))
	for i := range m.Rows {
		r := &m.Rows[i]
		n, correct, most := r.units(), uint64(0), 0
		for j, k := range r.Counts {
			if r.Right[j] {
				correct += k
			}
			if k > r.Counts[most] {
				most = j
			}
		}
		if n == 0 {
			continue
		}
		fmt.Fprintf(&t, " %s, %s: ", r.Name, plural(int(n), "unit", "units"))
		if slices.Contains(r.Right, true) {
			fmt.Fprintf(&t, "right in %s; ", percent(correct, n))
		}
		fmt.Fprintf(&t, "most often %s, %s.", m.Columns[most], percent(r.Counts[most], n))
	}
	return t.String()
}

func (in *ConfusionInput) table() Table {
	truth, said := Column{Name: "truth", Text: []string{}}, Column{Name: "concluded", Text: []string{}}
	units, correct := Column{Name: "units", Number: []float64{}}, Column{Name: "right", Number: []float64{}}
	for _, r := range in.Rows {
		for j, k := range r.Counts {
			if k == 0 {
				continue
			}
			truth.Text, said.Text = append(truth.Text, clean(r.Name)), append(said.Text, clean(in.Columns[j]))
			x := 0.0
			if r.Right[j] {
				x = 1
			}
			units.Number, correct.Number = append(units.Number, float64(k)), append(correct.Number, x)
		}
	}
	return Table{"confusion", []Column{truth, said, units, correct}}
}
