package command

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
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
	f.StringArrayVar(&o.standby, "log-standby", nil, "an energy monitor's log while off, a CSV `FILE` with a column time and one that begins with W or power, or A or current; repeatable")
	f.StringArrayVar(&o.heating, "log-heating", nil, "the same in a `FILE` from a cold start with the controls on; repeatable")
}

// evidence makes evidence of logs. In standby the middle of the values counts.
// From a cold start all channels that work take power at first, and controls
// only take it away later: the highest value that at least a tenth of the
// values reach counts.
func (o *logOptions) evidence(w *infer.Bench) ([]infer.Evidence, error) {
	var es []infer.Evidence
	var errs []error
	for _, x := range []struct {
		files    []string
		state    string
		quantile float64
	}{{o.standby, "standby", 0.5}, {o.heating, "heating", 0.9}} {
		for _, name := range x.files {
			log, err := readLog(name)
			if err != nil {
				errs = append(errs, wrongInput(err))
				continue
			}
			for _, c := range []struct {
				values []float64
				unit   string
			}{{log.watts, "W"}, {log.amps, "A"}} {
				if len(c.values) == 0 {
					continue
				}
				slices.Sort(c.values)
				v := c.values[min(len(c.values)-1, int(x.quantile*float64(len(c.values))))]
				found, err := w.Parse("monitor", fmt.Sprintf("%s, %s %s", x.state, strconv.FormatFloat(v, 'f', -1, 64), c.unit))
				if err != nil {
					errs = append(errs, wrongInput(fmt.Errorf("%s: %w", name, err)))
					continue
				}
				found[0].Text = fmt.Sprintf("log %s, %s: %.4g %s of %d values", name, x.state, v, c.unit, len(c.values))
				es = append(es, found...)
			}
		}
	}
	return es, errors.Join(errs...)
}

// monitorLog is what a log holds.
type monitorLog struct{ watts, amps []float64 }

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
	for i, h := range head {
		h = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(h, "\ufeff")))
		switch {
		case strings.HasPrefix(h, "time") && time < 0:
			time = i
		case (h == "w" || strings.HasPrefix(h, "w ") || strings.HasPrefix(h, "watt") || strings.HasPrefix(h, "power")) && watts < 0:
			watts = i
		case (h == "a" || strings.HasPrefix(h, "a ") || strings.HasPrefix(h, "amp") || strings.HasPrefix(h, "current")) && amps < 0:
			amps = i
		}
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
			*c.to = append(*c.to, v)
		}
	}
	if len(log.watts)+len(log.amps) == 0 {
		return nil, fmt.Errorf("%s: found no values, expected at least one line", name)
	}
	return log, nil
}
