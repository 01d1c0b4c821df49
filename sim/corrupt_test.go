package sim_test

import (
	"context"
	"fmt"
	"math"
	"reflect"
	"runtime/debug"
	"strings"
	"testing"
	"time"

	"boilwright/models"
	"boilwright/sim"

	"pgregory.net/rapid"
)

// leaf is one parameter of a board.
type leaf struct {
	path  string
	value reflect.Value
}

// parameters lists every number and flag of a board.
func parameters(path string, v reflect.Value, out []leaf) []leaf {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			out = parameters(path, v.Elem(), out)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			out = parameters(path+"."+v.Type().Field(i).Name, v.Field(i), out)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			out = parameters(fmt.Sprintf("%s[%d]", path, i), v.Index(i), out)
		}
	case reflect.Float64, reflect.Int, reflect.Int64, reflect.Bool:
		out = append(out, leaf{path, v})
	}
	return out
}

// corrupt gives a parameter a value that nobody would.
func corrupt(t *rapid.T, l leaf) string {
	switch l.value.Kind() {
	case reflect.Bool:
		l.value.SetBool(!l.value.Bool())
	case reflect.Int, reflect.Int64:
		l.value.SetInt(rapid.SampledFrom([]int64{0, 1, -1, 2, 3, 7, 12, -12, 64, 100, -100}).Draw(t, l.path))
	case reflect.Float64:
		x := l.value.Float()
		l.value.SetFloat(rapid.SampledFrom([]float64{0, -x, x / 1000, x * 1000, 1, -1, math.Inf(1), math.Inf(-1)}).Draw(t, l.path))
	}
	return fmt.Sprintf("%s = %v", l.path, l.value)
}

// A board that can't be is refused, or comes to finite numbers; it never
// stops the program.
func TestBadBoardsAreRefusedOrFinite(t *testing.T) {
	full := rich(t)
	rapid.Check(t, func(t *rapid.T) {
		b := full.Clone()
		all := parameters("board", reflect.ValueOf(b).Elem(), nil)
		var what []string
		for range rapid.IntRange(1, 3).Draw(t, "parameters") {
			what = append(what, corrupt(t, all[rapid.IntRange(0, len(all)-1).Draw(t, "parameter")]))
		}
		name := strings.Join(what, ", ")
		o := sim.Options{Duration: 600 * time.Millisecond, Every: 200 * time.Millisecond, Full: rapid.Bool().Draw(t, "full")}
		r, err := unpanicked(t, name, b, o)
		if err != nil {
			if r != nil || err.Error() == "" {
				t.Fatalf("%s: found a result beside the error %v", name, err)
			}
			return
		}
		for _, s := range r.Samples {
			for k, c := range s.Channels {
				for _, v := range []float64{c.Element, c.Water, c.Shell, c.Link, c.Junction, c.Probe, c.Reading, c.Mass, c.Pressure, c.Drive, c.Power, s.Lid, s.Pocket, s.Power, s.Current} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Fatalf("%s: at %v, channel %d: found %+v, expected finite numbers or an error", name, s.Time, k+1, c)
					}
				}
			}
		}
	})
}

// unpanicked runs a board; a panic fails the test with the board's name.
func unpanicked(t *rapid.T, name string, b *models.Board, o sim.Options) (*sim.Result, error) {
	defer func() {
		if p := recover(); p != nil {
			t.Fatalf("%s: found a panic: %v\n%s", name, p, debug.Stack())
		}
	}()
	// A board may be so odd that it is slow: what it has done by then counts.
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Second)
	defer stop()
	return sim.Run(ctx, b, o)
}

// rich is a board with everything a board can have.
func rich(t testing.TB) *models.Board {
	b := warm(board(t, "dye-bench-230"))
	b.Controller.Window = 20
	b.Controller.Together = 2
	b.Controller.Schedule = []models.OnPeriod{{From: 0, To: time.Second}}
	b.Upstream = &models.ThermalLink{Resistance: 5e-3, Stray: 5e-12, Functions: 150, Capacity: 5, ToShell: 0.25}
	b.Bridges = []models.Bridge{{Name: "film", From: models.At(models.Output, 1), To: models.At(models.ProtectiveEarth, 0), Resistance: 1e6}}
	b.Supply.Harmonics = []models.Harmonic{{Order: 3, Voltage: 5, Phase: 20}}
	b.Supply.Events = []models.SupplyEvent{{From: 100 * time.Millisecond, To: 200 * time.Millisecond, Factor: 0.8}}
	b.Channels[1].Boiler.Draws = []models.Draw{{From: 100 * time.Millisecond, To: 300 * time.Millisecond, Every: time.Second, Flow: 0.01, Refill: 0}}
	return b
}
