package command

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults/infer"
)

// logOptions are the flags for logs of an energy monitor.
type logOptions struct{ standby, heating []string }

func (o *logOptions) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringArrayVar(&o.standby, "log-standby", nil, "an energy monitor's log while off, a CSV `FILE` with a column time and one of W or power, or of A or current, a unit of them in parentheses; repeatable")
	f.StringArrayVar(&o.heating, "log-heating", nil, "the same in a `FILE` from a cold start with the controls on; repeatable")
}

func (o *logOptions) given() bool { return len(o.standby)+len(o.heating) > 0 }

// evidence makes evidence of logs. In standby the middle of the values counts,
// or of those that stand out, if there are enough: a fault that comes and goes
// is taken as acting. From a cold start all channels that work take power at
// first, and controls only take it away later: the highest value that at least
// a tenth of the values reach counts.
func (o *logOptions) evidence(w *infer.Bench) ([]infer.Evidence, error) {
	var es []infer.Evidence
	var errs []error
	for _, x := range []struct {
		files []string
		state string
		value func(sorted []float64, least float64) (v float64, of int)
	}{{o.standby, "standby", standbyLevel}, {o.heating, "heating", heatingLevel}} {
		for _, name := range x.files {
			log, err := readLog(name)
			if err != nil {
				errs = append(errs, wrongInput(err))
				continue
			}
			for _, c := range []struct {
				values []float64
				unit   string
				least  float64 // that stands out
			}{{log.watts, "W", leastWatts}, {log.amps, "A", leastAmps}} {
				if len(c.values) == 0 {
					continue
				}
				slices.Sort(c.values)
				v, of := x.value(c.values, c.least)
				found, err := w.Parse("monitor", fmt.Sprintf("%s, %s %s", x.state, strconv.FormatFloat(v, 'f', -1, 64), c.unit))
				if err != nil {
					errs = append(errs, wrongInput(fmt.Errorf("%s: %w", name, err)))
					continue
				}
				found[0].Text = fmt.Sprintf("log %s, %s: %.4g %s of %d values", name, x.state, v, c.unit, len(c.values))
				if of < len(c.values) {
					found[0].Text = fmt.Sprintf("log %s, %s: %.4g %s in %d of %d values, %.4g %s in the others: it comes and goes", name, x.state, v, c.unit, of, len(c.values), middle(c.values[:len(c.values)-of]), c.unit)
				}
				es = append(es, found...)
			}
		}
	}
	return es, errors.Join(errs...)
}

// What stands out of a log: assumptions.
const (
	outstanding = 5    // times the middle of the values
	leastWatts  = 5    // W
	leastAmps   = 0.05 // A
	enoughOut   = 0.02 // part of the values, and at least two
)

func middle(sorted []float64) float64 { return sorted[len(sorted)/2] }

// heatingLevel is the highest level that at least a tenth of the values reach.
func heatingLevel(sorted []float64, _ float64) (v float64, of int) {
	return sorted[min(len(sorted)-1, int(0.9*float64(len(sorted))))], len(sorted)
}

// standbyLevel is the middle of the values, or of those that stand out of them
// with how many these are.
func standbyLevel(sorted []float64, least float64) (v float64, of int) {
	n := len(sorted)
	most := sorted[n-1]
	from, _ := slices.BinarySearch(sorted, math.Max(outstanding*middle(sorted), least))
	// Half of the greatest: what is on its way between two levels is neither.
	if half, _ := slices.BinarySearch(sorted, most/2); from < half {
		from = half
	}
	if out := n - from; from > n/2 && out >= 2 && float64(out) >= enoughOut*float64(n) {
		return middle(sorted[from:]), out
	}
	return middle(sorted), n
}

// monitorLog is what a log holds.
type monitorLog struct{ watts, amps []float64 }

// logColumn is a heading of watts or amperes with its unit; another quantity, such
// as a power factor or watt-hours, is none.
var logColumn = regexp.MustCompile(`^(w|watts?|power|a|amps?|amperes?|current)\s*(?:[(\[]\s*(\w+)\s*[)\]])?$`)

// logUnits are the units of logs, in watts and amperes.
var logUnits = map[string]float64{"w": 1, "kw": 1e3, "mw": 1e-3, "a": 1, "ma": 1e-3}

// mostLog bounds the lines of a log.
const mostLog = 1_000_000

func readLog(name string) (*monitorLog, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("%s: found no readable file, expected a CSV log", name)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord, r.TrimLeadingSpace = -1, true
	head, err := r.Read()
	if err != nil {
		return nil, fmt.Errorf("%s:1: line: found no table, expected a heading with the columns time and W or A", name)
	}
	time, watts, amps := -1, -1, -1
	scales := map[int]float64{}
	for i, h := range head {
		h = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(h, "\ufeff")))
		switch {
		case strings.HasPrefix(h, "time") && time < 0:
			time = i
			continue
		}
		m := logColumn.FindStringSubmatch(h)
		if m == nil {
			continue // another quantity
		}
		to, unit := &watts, "w"
		if strings.HasPrefix(m[1], "a") || m[1] == "current" {
			to, unit = &amps, "a"
		}
		if m[2] != "" {
			unit = m[2]
		}
		scale, ok := logUnits[unit]
		if !ok || strings.HasSuffix(unit, "w") != (to == &watts) {
			return nil, fmt.Errorf("%s:1: heading: found %q, expected W, kW or mW of power, A or mA of current", name, head[i])
		}
		if *to >= 0 {
			return nil, fmt.Errorf("%s:1: heading: found %q and %q, expected one of them", name, head[*to], head[i])
		}
		*to = i
		scales[i] = scale
	}
	if time < 0 || watts < 0 && amps < 0 {
		return nil, fmt.Errorf("%s:1: heading: found %q, expected the columns time and W or A", name, strings.Join(head, ","))
	}
	log := &monitorLog{}
	for {
		rec, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		line, _ := r.FieldPos(0)
		if line > mostLog {
			return nil, fmt.Errorf("%s:%d: found one more line, expected at most %d", name, line, mostLog)
		}
		for _, c := range []struct {
			at   int
			to   *[]float64
			name string
		}{{watts, &log.watts, "W"}, {amps, &log.amps, "A"}} {
			if c.at < 0 {
				continue
			}
			text := ""
			if c.at < len(rec) {
				text = strings.TrimSpace(rec[c.at])
			}
			v, err := strconv.ParseFloat(text, 64)
			if err != nil || !(v >= 0) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("%s:%d: %s: found %q, expected a number of at least 0", name, line, c.name, text)
			}
			*c.to = append(*c.to, v*scales[c.at])
		}
	}
	if len(log.watts)+len(log.amps) == 0 {
		return nil, fmt.Errorf("%s: found no values, expected at least one line", name)
	}
	return log, nil
}
