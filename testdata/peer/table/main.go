// Command table runs this module's solvers on the recorded cases of
// testdata/reference and prints them beside the results that general-purpose
// integrators left in files: wall time, deviation from the record, and the
// ratio of times. compare.sh calls it.
//
//	go run ./testdata/peer/table [result.json ...]
package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"text/tabwriter"
)

// result is one run of one solver, in the form in which peers write it.
type result struct {
	Case      string  // see units
	Solver    string  // with its tolerance
	Simulated float64 `json:"simulated_s"`
	Wall      float64 `json:"wall_s"`
	First     int     `json:"-"` // half-cycle of the first energies

	// Circuit: by half-cycle, and for every firing of a triac.
	Energy map[string][]float64 `json:"energy_J"`
	Angles []angle

	// Heat: temperatures of each boiler's element, water, shell, probe and
	// link, then lid and pocket.
	In        float64   `json:"electrical_in_J"`
	Elements  []float64 `json:"elements_J"` // absent from our own
	Snapshots []snapshot
}

type angle struct {
	Channel, Half int
	Firing        float64 `json:"firing_deg"`
	Extinction    float64 `json:"extinction_deg"` // -1 where it still conducts
}

type snapshot struct {
	T            float64   `json:"t_s"`
	Temperatures []float64 `json:"temperatures_degC"`
}

// unit is what wall time is stated for.
type unit struct {
	key, title string
	seconds    float64 // of simulated time
	name       string
	scale      float64 // of the second deviation
	second     string
}

var units = []unit{
	{"circuit", "full waveforms", 1, "simulated second", 1, "degree"},
	{"heat-half-cycles", "heat, each half-cycle", 3600, "simulated hour", 1e3, "mK"},
	{"heat-pieces", "heat, equal cycles merged", 3600, "simulated hour", 1e3, "mK"},
}

func main() {
	if err := run(os.Stdout, os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "peer:", err)
		os.Exit(1)
	}
}

func run(w io.Writer, files []string) error {
	folder := filepath.Join("testdata", "reference")
	c, err := readCircuit(folder)
	if err != nil {
		return err
	}
	h, err := readHeat(folder)
	if err != nil {
		return err
	}
	results, err := c.run()
	if err != nil {
		return err
	}
	windows, err := h.run(false)
	if err != nil {
		return err
	}
	calm, err := h.run(true)
	if err != nil {
		return err
	}
	for _, key := range []string{"heat-half-cycles", "heat-pieces"} {
		for _, r := range []*result{windows, calm} {
			again := *r
			again.Case = key
			results = append(results, &again)
		}
	}
	for _, name := range files {
		r := new(result)
		if err := readJSON(name, r); err != nil {
			return err
		}
		results = append(results, r)
	}
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, u := range units {
		fmt.Fprintf(tw, "%s\ttime per %s\tenergy, relative\tworst %s\tratio\n", u.title, u.name, u.second)
		base := 0.0
		for _, r := range results {
			if r.Case != u.key {
				continue
			}
			compare := c.compare
			if u.key != "circuit" {
				compare = h.compare
			}
			energy, other, err := compare(r)
			if err != nil {
				return fmt.Errorf("%s: %w", r.Solver, err)
			}
			wall := r.Wall / r.Simulated * u.seconds
			if base == 0 {
				base = wall
			}
			fmt.Fprintf(tw, "  %s\t%s\t%s\t%.1e\t%.3g\n", r.Solver, span(wall), relative(energy), other*u.scale, wall/base)
		}
		fmt.Fprintln(tw)
	}
	return tw.Flush()
}

func relative(x float64) string {
	if math.IsNaN(x) {
		return "-"
	}
	return fmt.Sprintf("%.1e", x)
}

// span writes seconds in a readable unit.
func span(s float64) string {
	if s < 1 {
		return fmt.Sprintf("%.3g ms", s*1e3)
	}
	return fmt.Sprintf("%.3g s", s)
}

func readJSON(name string, v any) error {
	data, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	if err := json.Unmarshal(data, v); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}
