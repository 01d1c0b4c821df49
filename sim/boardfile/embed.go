package boardfile

import (
	"embed"
	"fmt"
	"slices"

	"boilwright/models"
	"boilwright/models/names"
)

//go:embed boards/*.toml
var boards embed.FS

// embeddedNames in the order in which they are offered, the default first.
var embeddedNames = []string{"dye-bench-230", "dye-bench-240", "dye-bench-120", "open-vat-230", "neutral-side-230"}

// EmbeddedNames lists the boards that come with the program, the default
// first. They are an invented demonstration.
func EmbeddedNames() []string { return slices.Clone(embeddedNames) }

// EmbeddedSource returns the text of an embedded board, to copy and edit.
func EmbeddedSource(name string) ([]byte, bool) { return embeddedData(name) }

func embeddedData(name string) ([]byte, bool) {
	if !slices.Contains(embeddedNames, name) {
		return nil, false
	}
	data, err := boards.ReadFile("boards/" + name + ".toml")
	return data, err == nil
}

// Embedded reads a board that comes with the program. The error of an unknown
// name is an [*Error].
func Embedded(name string) (*File, error) {
	data, ok := embeddedData(name)
	if !ok {
		w := (&wrong{quote(name), "an embedded board: " + oneOf(embeddedNames)}).meant(names.Nearest(name, embeddedNames))
		return nil, &Error{[]*Entry{{Field: "board", Found: w.found, Expected: w.expected}}}
	}
	return Parse(name, data, nil)
}

// Default returns the board that is taken when none is named. Each call
// returns a board of its own.
func Default() *models.Board {
	f, err := Embedded(embeddedNames[0])
	if err != nil { // a mistake in the program; a test reads every embedded board
		panic(fmt.Sprintf("boardfile: embedded board: %v", err))
	}
	return f.Board
}
