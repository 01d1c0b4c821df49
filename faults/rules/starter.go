package rules

import (
	_ "embed"
	"slices"

	"boilwright/models"
)

//go:embed starter.toml
var starter []byte

// StarterName is what errors and documents call the rules of thumb.
const StarterName = "starter"

// StarterText returns the rule file of the trade's rules of thumb, to copy and
// edit. All are common practice without a source.
func StarterText() []byte { return slices.Clone(starter) }

// Starter compiles the rules of thumb for a board.
func Starter(b *models.Board) (*Program, error) { return Parse(StarterName, starter, b) }
