package evidence_test

import (
	"slices"
	"strings"
	"testing"

	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/population/evidence"
)

// Every observable that is listed is found by its form and arguments, once,
// and is the same.
func TestAllAreFound(t *testing.T) {
	for _, name := range []string{"dye-bench-230", "neutral-side-230", "open-vat-230"} {
		f, err := boardfile.Embedded(name)
		if err != nil {
			t.Fatal(err)
		}
		seen := map[string]bool{}
		used := map[string]bool{}
		for _, o := range evidence.All(f.Board) {
			if seen[o.Name] {
				t.Errorf("%s: %s is listed more than once", name, o.Name)
			}
			seen[o.Name], used[o.Form] = true, true
			got, err := evidence.Find(f.Board, o.Form, o.Args...)
			if err != nil {
				t.Errorf("%s: %s: %v", name, o.Name, err)
				continue
			}
			if got.Name != o.Name || got.Channel != o.Channel || got.Meter != o.Meter || got.Unit != o.Unit || got.Live != o.Live || !slices.Equal(got.Args, o.Args) || !slices.Equal(got.Words, o.Words) {
				t.Errorf("%s: found %+v, expected %+v", name, got, o)
			}
		}
		for _, form := range evidence.Forms() {
			if !used[form.Name] {
				t.Errorf("%s: no observable of the form %s is listed", name, form.Name)
			}
		}
	}
}

func TestFindIsAbout(t *testing.T) {
	b := boardfile.Default()
	for _, x := range []struct {
		form  string
		args  []string
		name  string
		about int
		meter int
		unit  string
		live  bool
	}{
		{"volts", []string{"dye:output", "standby", "rms"}, "volts dye:output standby rms", 1, 3, "V", true},
		{"volts", []string{"supply", "heating", "average"}, "volts supply heating average", -1, 0, "V", true},
		{"amps", []string{"steam:element-lead", "heating", "clamp-hall"}, "amps steam:element-lead heating clamp-hall", 2, -1, "A", true},
		{"plug_watts", []string{"heating"}, "plug_watts heating", -1, -1, "W", false},
		{"ohms", []string{"soak:transistor"}, "ohms soak:transistor", 0, -1, "Ω", false},
		{"insulation", nil, "insulation", -1, -1, "Ω", false},
		{"temperature", []string{"steam", "60"}, "temperature steam 60", 2, -1, "°C", false},
		{"warms", []string{"dye", "standby"}, "warms dye standby", 1, -1, "", false},
		{"tripped", []string{"fuse"}, "tripped fuse", -1, -1, "", false},
	} {
		o, err := evidence.Find(b, x.form, x.args...)
		if err != nil {
			t.Errorf("%s: %v", x.name, err)
			continue
		}
		if o.Name != x.name || o.Channel != x.about || o.Meter != x.meter || o.Unit != x.unit || o.Live != x.live {
			t.Errorf("%s: found %+v, expected %+v", x.name, o, x)
		}
	}
}

// Errors say what was found, what was expected, and what may have been meant.
func TestFindErrors(t *testing.T) {
	b := boardfile.Default()
	bare := boardfile.Default()
	bare.Protection.Fuse.Fitted, bare.Protection.Residual.Fitted = false, false
	for _, x := range []struct {
		board *models.Board
		form  string
		args  []string
		want  []string
	}{
		{b, "volt", nil, []string{`found observable "volt"`, "expected one of volts, amps, ", "; did you mean volts?"}},
		{b, "Insulation", nil, []string{`found observable "Insulation"`, "; did you mean insulation?"}},
		{b, "volts", []string{"dye:output"}, []string{"volts: found 1 argument, expected volts(point, state, meter)"}},
		{b, "insulation", []string{"a", "b"}, []string{"insulation: found 2 arguments, expected insulation()"}},
		{b, "warm_up", nil, []string{"warm_up: found no arguments, expected warm_up(channel)"}},
		{b, "volts", []string{"dye:ouput", "standby", "rms"}, []string{`volts: found point "dye:ouput", expected one of supply, `, "; did you mean dye:output?"}},
		{b, "volts", []string{"dye:transistor", "standby", "rms"}, []string{`found point "dye:transistor"`}},
		{b, "volts", []string{"dye:output", "stanby", "rms"}, []string{`volts: found state "stanby", expected one of standby, heating, holding; did you mean standby?`}},
		{b, "volts", []string{"dye:output", "unplugged", "rms"}, []string{`found state "unplugged", expected one of standby, heating, holding`}},
		{b, "plug_watts", []string{"holding"}, []string{`plug_watts: found state "holding", expected one of standby, heating`}},
		{b, "volts", []string{"dye:output", "standby", "averge"}, []string{`found meter "averge"`, "; did you mean average?"}},
		{b, "amps", []string{"supply", "standby", "clamp-rms"}, []string{`amps: found lead "supply", expected one of supply-lead, `}},
		{b, "warm_up", []string{"dy"}, []string{`warm_up: found channel "dy", expected one of soak, dye, steam; did you mean dye?`}},
		{b, "temperature", []string{"dye", "61"}, []string{`temperature: found minutes "61", expected a whole minute from 0 to 60`}},
		{b, "temperature", []string{"dye", "-1"}, []string{"expected a whole minute from 0 to 60"}},
		{b, "temperature", []string{"dye", "07"}, []string{"expected a whole minute from 0 to 60"}},
		{b, "tripped", []string{"breaker"}, []string{`tripped: found device "breaker", expected one of fuse, residual-current-device`}},
		{bare, "tripped", []string{"fuse"}, []string{`tripped: found device "fuse", expected a board that has one`}},
	} {
		_, err := evidence.Find(x.board, x.form, x.args...)
		if err == nil {
			t.Errorf("%s%v: found no error, expected one", x.form, x.args)
			continue
		}
		for _, want := range x.want {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s%v: found the error %q, expected %q in it", x.form, x.args, err, want)
			}
		}
	}
}

// A plan refuses what is of another board.
func TestPlanOfAnotherBoard(t *testing.T) {
	p := usual(t)
	other := boardfile.Default()
	other.Channels[1].Name = "rinse"
	o, err := evidence.Find(other, "volts", "rinse:output", "standby", "rms")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := evidence.NewPlan(p, []evidence.Observable{o}); err == nil || !strings.Contains(err.Error(), `found point "rinse:output"`) {
		t.Errorf("found the error %v, expected the point to be refused", err)
	}
	o = find(t, p, "volts", "dye:output", "standby", "rms")
	o.Meter = 0
	if _, err := evidence.NewPlan(p, []evidence.Observable{o}); err == nil {
		t.Error("found no error, expected an observable with another meter to be refused")
	}
}

func TestAllowed(t *testing.T) {
	b := boardfile.Default()
	got, err := evidence.Allowed(b, "warms")
	if err != nil || len(got) != 2 || !slices.Equal(got[0], []string{"soak", "dye", "steam"}) || !slices.Equal(got[1], []string{"standby", "heating"}) {
		t.Errorf("found %v, %v", got, err)
	}
	if got, err = evidence.Allowed(b, "temperature"); err != nil || len(got[1]) != 61 || got[1][60] != "60" {
		t.Errorf("found %v, %v", got, err)
	}
	if _, err = evidence.Allowed(b, "watts"); err == nil {
		t.Error("found no error, expected an unknown form to be refused")
	}
}
