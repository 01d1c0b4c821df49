package dataset

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"boilwright/faults"
)

// Format is a format of data files.
type Format string

// The formats.
const (
	Parquet Format = "parquet"
	CSV     Format = "csv"
	Lines   Format = "lines" // JSON, a document a line
)

// Formats lists the formats.
func Formats() []Format { return []Format{Parquet, CSV, Lines} }

// FormatOf is the format that the ending of a file's name stands for: .parquet
// and .csv; Lines for every other.
func FormatOf(name string) Format {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".parquet":
		return Parquet
	case ".csv":
		return CSV
	}
	return Lines
}

// ParseFormat returns the format of a written name.
func ParseFormat(text string) (Format, error) {
	if f := Format(text); slices.Contains(Formats(), f) {
		return f, nil
	}
	return "", fmt.Errorf("found format %q, expected %s, %s or %s", text, Parquet, CSV, Lines)
}

// Rows are a sequence of rows in the order of the boards: it gives each to
// yield and ends with the first error, of its own or of yield.
type Rows func(yield func(*Row) error) error

// table writes the rows of a file.
type table interface {
	row(r *Row) error
	end() error
}

// Write writes the rows of a data set to w. The same rows give the same bytes.
func Write(w io.Writer, f Format, d *Description, rows Rows) error {
	var t table
	var err error
	switch f {
	case Parquet:
		t, err = newParquetRows(w, d)
	case CSV:
		t, err = newCSVRows(w, d)
	default:
		t = newLineRows(w, d)
	}
	return write(t, err, rows)
}

// WriteWaveforms writes the waveforms of a data set that has some to w: a long
// table, whose columns the description lists.
func WriteWaveforms(w io.Writer, f Format, d *Description, rows Rows) error {
	if len(d.States) == 0 {
		return fmt.Errorf("found a data set without waveforms, expected one whose population file has them")
	}
	var t table
	var err error
	switch f {
	case Parquet:
		t, err = newParquetWaves(w, d)
	case CSV:
		t, err = newCSVWaves(w, d)
	default:
		t = newLineWaves(w, d)
	}
	return write(t, err, rows)
}

func write(t table, err error, rows Rows) error {
	if err != nil {
		return err
	}
	if err := rows(t.row); err != nil {
		return err
	}
	return t.end()
}

// value is one value of a column.
type value struct {
	null   bool
	kind   Type
	number float64
	text   string
}

// values appends the values of the columns of evidence and of parameters.
func (d *Description) values(dst []value, r *Row) []value {
	k := 0
	for i := range d.Columns {
		c := &d.Columns[i]
		v := value{kind: c.Type}
		switch c.Group {
		case Observed:
			if v.null = r.Problem != ""; !v.null {
				v.number = r.Observed[k]
				v.null = math.IsNaN(v.number)
				k++
			}
			if v.kind == Word && !v.null {
				if j := int(v.number); j >= 0 && j < len(c.Words) {
					v.text = c.Words[j]
				} else {
					v.null = true
				}
			}
		case Drawn:
			v.number = r.Drawn[i-(len(d.Columns)-len(r.Drawn))]
		default:
			continue
		}
		dst = append(dst, v)
	}
	return dst
}

// faultsText is the column faults.
func (r *Row) faultsText() string {
	texts := make([]string, len(r.Faults))
	for i := range r.Faults {
		texts[i] = r.Faults[i].Text
	}
	return strings.Join(texts, "; ")
}

// Line is a line of a JSON file.
type Line struct {
	Schema   string         `json:"schema" doc:"kind and version of this document"`
	Index    uint64         `json:"index" doc:"of the board in the population"`
	Seed     uint64         `json:"seed" doc:"of the population"`
	Problem  *string        `json:"problem" doc:"why nothing could be observed; null where something could"`
	Healthy  bool           `json:"healthy" doc:"whether nothing is wrong with the board"`
	Faults   string         `json:"faults" doc:"what is wrong with it, each as --fault takes it, separated by \"; \""`
	Truth    []LineFault    `json:"truth" doc:"the same for machines"`
	Observed map[string]any `json:"observed" doc:"by observable: a number, \"inf\" for one beyond every range, a truth value or a word; null where there is a problem"`
	Drawn    map[string]any `json:"drawn" doc:"by parameter, after its channel, coupling or meter: what was drawn, in SI units"`
}

// LineFault is a fault of a line.
type LineFault struct {
	Fault    string  `json:"fault" doc:"a name of the catalogue"`
	Channel  *string `json:"channel" doc:"name of the channel; null for the board"`
	Severity float64 `json:"severity" doc:"above 0 to 1"`
	Keys     []Key   `json:"keys" doc:"that are not at their defaults"`
}

// WaveLine is a line of a JSON file of waveforms: one channel in one state.
type WaveLine struct {
	Schema  string    `json:"schema" doc:"kind and version of this document"`
	Index   uint64    `json:"index" doc:"of the board in the population"`
	State   string    `json:"state" doc:"what the board is doing"`
	Channel string    `json:"channel" doc:"name of the channel"`
	Time    []float64 `json:"time_s" doc:"from the start of a cycle of the supply"`
	Supply  []float32 `json:"supply_voltage_v" doc:"line to neutral at the board"`
	Voltage []float32 `json:"load_voltage_v" doc:"triac output across the load"`
	Current []float32 `json:"load_current_a" doc:"from the triac output to the element"`
}

// Names of the documents of lines.
const (
	lineSchema     = "boilwright/row/1"
	waveLineSchema = "boilwright/waveform/1"
)

// truth is the column truth.
func (d *Description) truth(r *Row) []LineFault {
	out := []LineFault{}
	for i := range r.Faults {
		f := &r.Faults[i]
		x := LineFault{Fault: f.Fault, Severity: f.Severity, Keys: f.Keys}
		if x.Keys == nil {
			x.Keys = []Key{}
		}
		if f.Channel != faults.WholeBoard {
			x.Channel = &d.Channels[f.Channel]
		}
		out = append(out, x)
	}
	return out
}

// encoded is the JSON of a value without escapes for web pages.
func encoded(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), err
}

// decimal writes a number with all its digits.
func decimal(v float64) string {
	switch {
	case math.IsInf(v, 1):
		return infinite
	case math.IsInf(v, -1):
		return "-" + infinite
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

// infinite is how infinity is written.
const infinite = "inf"
