package sim_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// listed is what the go command tells of a package; tests are left out.
type listed struct {
	ImportPath string
	Imports    []string // by its files
	Deps       []string // all of them, however far
}

const module = "boilwright"

// below reports whether path is one of the trees, or lies in one.
func below(path string, trees ...string) bool {
	return slices.ContainsFunc(trees, func(t string) bool { return path == t || strings.HasPrefix(path, t+"/") })
}

// external reports whether a path belongs to neither this module nor the
// standard library.
func external(path string) bool {
	first, _, _ := strings.Cut(path, "/")
	return path != "C" && strings.Contains(first, ".")
}

// Import paths of heavy dependencies. Each lives in leaves only, so that what
// computes stays small enough to run in a browser.
var (
	plotting = []string{"gonum.org/v1/plot"}
	toml     = []string{"github.com/pelletier/go-toml", "github.com/BurntSushi/toml"}
	cel      = []string{"cel.dev", "github.com/google/cel-go"}
	parquet  = []string{"github.com/parquet-go"}
	heavy    = slices.Concat(plotting, toml, cel, parquet, []string{"github.com/spf13", "golang.org/x/image", "codeberg.org"})
)

// leaves lie in the trees of sim and faults, but above them.
var leaves = []string{"sim/boardfile", "sim/population", "faults/infer", "faults/rules"}

// arrow says what the packages of a room may draw in. The first arrow whose
// room a package belongs to holds.
type arrow struct {
	room []string // trees, below the module
	own  []string // trees of this module that may be imported, beside the room
	// light rooms draw in no leaf, and none of the heavy dependencies, however
	// far.
	light bool
	// foreign are the trees outside this module that may be imported; nil
	// leaves it to the rules on heavy dependencies.
	foreign []string
}

var (
	gonum     = []string{"gonum.org/v1/gonum"}
	processor = []string{"golang.org/x/sys/cpu"} // what it can do
)

// arrows, the leaves before the trees that they lie in.
var arrows = []arrow{
	{room: []string{"sim/boardfile"}, own: []string{"models", "sim"}},
	{room: []string{"sim/population", "faults/infer", "faults/rules"}, own: []string{"models", "sim", "faults"}},
	{room: []string{"models"}, light: true, foreign: gonum},
	{room: []string{"sim"}, own: []string{"models"}, light: true, foreign: slices.Concat(gonum, processor)},
	{room: []string{"faults"}, own: []string{"models"}, light: true, foreign: gonum},
	{room: []string{"plots"}, own: []string{"models", "sim", "faults"}},
	{room: []string{"cmd"}, own: []string{"models", "sim", "faults", "plots"}},
}

func inModule(trees []string) []string {
	out := make([]string, len(trees))
	for i, t := range trees {
		out[i] = module + "/" + t
	}
	return out
}

// breaches lists what the packages import against the arrows, in order.
func breaches(packages []listed) []string {
	var out []string
	for _, p := range packages {
		fail := func(format string, args ...any) {
			out = append(out, p.ImportPath+" "+fmt.Sprintf(format, args...))
		}
		i := slices.IndexFunc(arrows, func(a arrow) bool { return below(p.ImportPath, inModule(a.room)...) })
		if i < 0 {
			fail("lies in none of the rooms")
			continue
		}
		a := &arrows[i]
		allowed := inModule(slices.Concat(a.room, a.own))
		for _, d := range p.Deps {
			switch {
			case below(d, module) && !below(d, allowed...):
				fail("draws in %s", d)
			case a.light && below(d, inModule(leaves)...):
				fail("draws in %s, a leaf above it", d)
			case a.light && below(d, heavy...):
				fail("draws in %s, which is too heavy for it", d)
			}
		}
		for _, d := range p.Imports {
			switch {
			case external(d) && a.foreign != nil && !below(d, a.foreign...):
				fail("imports %s, expected the standard library or %s", d, strings.Join(a.foreign, ", "))
			case below(d, plotting...) && !below(p.ImportPath, module+"/plots"):
				fail("imports %s, which belongs below plots", d)
			case below(d, toml...) && !below(p.ImportPath, module+"/sim/boardfile"):
				fail("imports %s, which belongs below sim/boardfile", d)
			case below(d, parquet...) && !below(p.ImportPath, module+"/sim/population/dataset"):
				fail("imports %s, which belongs below sim/population/dataset", d)
			case below(d, cel...) && !below(p.ImportPath, module+"/faults/rules"):
				fail("imports %s, which belongs below faults/rules", d)
			case below(d, module+"/plots") && !below(p.ImportPath, module+"/plots", module+"/cmd"):
				fail("imports %s, which only cmd may", d)
			case below(d, "github.com/spf13") && !below(p.ImportPath, module+"/cmd"):
				fail("imports %s, which belongs below cmd", d)
			}
		}
	}
	return out
}

// TestArrows keeps the direction in which packages import each other: models
// at the ground, faults and sim side by side on it without knowing of each
// other, the leaves above them, plots above those, cmd on top.
func TestArrows(t *testing.T) {
	if _, err := exec.LookPath("go"); err != nil {
		t.Skip("the go command is not in the path: which packages import which cannot be asked")
	}
	cmd := exec.Command("go", "list", "-e", "-json=ImportPath,Imports,Deps", module+"/...")
	text, err := cmd.Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("go list: %v: %s", err, exit.Stderr)
		}
		t.Fatal(err)
	}
	var packages []listed
	for d := json.NewDecoder(strings.NewReader(string(text))); ; {
		var p listed
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		packages = append(packages, p)
	}
	for _, want := range []string{"models", "models/quantity", "models/water", "sim", "sim/circuit", "sim/heat", "sim/readings", "sim/boardfile", "faults"} {
		if !slices.ContainsFunc(packages, func(p listed) bool { return p.ImportPath == module+"/"+want && len(p.Imports) > 0 }) {
			t.Errorf("package %s/%s is not among those found, or imports nothing", module, want)
		}
	}
	for _, b := range breaches(packages) {
		t.Error(b)
	}
}

// TestBreaches: each arrow, once the wrong way.
func TestBreaches(t *testing.T) {
	deps := func(path string, deps ...string) listed {
		return listed{ImportPath: module + "/" + path, Imports: deps, Deps: deps}
	}
	for _, good := range []listed{
		deps("models", "math", "boilwright/models/quantity", "gonum.org/v1/gonum/integrate/quad"),
		deps("sim", "boilwright/models", "boilwright/sim/heat", "boilwright/sim/circuit", "gonum.org/v1/gonum/mat"),
		deps("sim/heat", "boilwright/models/water", "golang.org/x/sys/cpu"),
		deps("faults", "boilwright/models/quantity", "fmt"),
		deps("sim/boardfile", "boilwright/models", "github.com/pelletier/go-toml/v2/unstable"),
		deps("sim/population", "boilwright/sim", "boilwright/faults"),
		deps("sim/population/dataset", "boilwright/sim/population", "boilwright/faults", "github.com/parquet-go/parquet-go"),
		deps("faults/rules", "boilwright/sim/readings", "boilwright/faults", "cel.dev/cel-go/cel"),
		deps("plots", "boilwright/sim", "gonum.org/v1/plot/vg", "golang.org/x/image/font"),
		deps("plots/pages", "boilwright/plots", "boilwright/faults/infer"),
		deps("cmd/boilwright/command", "boilwright/plots", "boilwright/faults/infer", "github.com/spf13/cobra"),
	} {
		if got := breaches([]listed{good}); len(got) > 0 {
			t.Errorf("%+v: found %v, expected it to be allowed", good, got)
		}
	}
	for _, bad := range []listed{
		deps("models", "boilwright/sim"),
		deps("models", "boilwright/faults"),
		deps("models/water", "boilwright/plots"),
		deps("models", "boilwright/cmd/boilwright/command"),
		deps("models/quantity", "github.com/google/go-cmp/cmp"),
		deps("sim", "boilwright/faults"),
		deps("sim/circuit", "boilwright/faults"),
		deps("sim/readings", "boilwright/faults/infer"),
		deps("sim", "boilwright/sim/boardfile"),
		deps("sim/readings", "boilwright/sim/population"),
		deps("sim/heat", "boilwright/plots"),
		deps("sim/heat", "golang.org/x/sys/unix"),
		deps("faults", "boilwright/sim"),
		deps("faults", "boilwright/sim/circuit"),
		deps("faults", "boilwright/faults/rules"),
		deps("sim/boardfile", "boilwright/faults"),
		deps("sim/boardfile", "boilwright/plots"),
		deps("faults/infer", "boilwright/plots"),
		deps("faults/rules", "boilwright/cmd/boilwright/command"),
		deps("plots", "boilwright/cmd/boilwright/command"),
		deps("sim/population", "github.com/pelletier/go-toml/v2"),
		deps("plots", "github.com/pelletier/go-toml/v2"),
		deps("cmd/boilwright/command", "gonum.org/v1/plot"),
		deps("faults/infer", "gonum.org/v1/plot/plotter"),
		deps("sim/boardfile", "github.com/spf13/cobra"),
		deps("sim/population", "github.com/parquet-go/parquet-go"),
		deps("cmd/boilwright/command", "github.com/parquet-go/parquet-go"),
		deps("sim/population/dataset", "cel.dev/cel-go/cel"),
		deps("faults/infer", "cel.dev/cel-go/cel"),
		deps("plots", "github.com/google/cel-go/cel"),
		deps("tools", "fmt"),
		// Through others, not by their own files.
		{ImportPath: "boilwright/sim", Deps: []string{"github.com/pelletier/go-toml/v2"}},
		{ImportPath: "boilwright/sim/circuit", Deps: []string{"gonum.org/v1/plot/vg"}},
		{ImportPath: "boilwright/faults", Deps: []string{"github.com/spf13/pflag"}},
		{ImportPath: "boilwright/models/water", Deps: []string{"boilwright/sim/heat"}},
	} {
		if len(breaches([]listed{bad})) == 0 {
			t.Errorf("%+v: found nothing wrong", bad)
		}
	}
}
