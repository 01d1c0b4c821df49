package command

import (
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// completion gives what may stand in a place of the command line.
type completion = func(cmd *cobra.Command, args []string, text string) ([]string, cobra.ShellCompDirective)

const (
	wordEnds = cobra.ShellCompDirectiveNoFileComp
	wordOpen = cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveNoSpace
)

// complete registers the completion of a flag's value.
func complete(cmd *cobra.Command, flag string, c completion) {
	if err := cmd.RegisterFlagCompletionFunc(flag, c); err != nil { // the flag is not there: a mistake in the program
		panic("command: " + err.Error())
	}
}

// fromBoard makes a completion of words that depend on the board.
func fromBoard(words func(b *models.Board) []string) completion {
	return func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		f, err := loadBoard(cmd, args)
		if err != nil || len(args) > 0 && args[0] == "-" {
			return nil, wordEnds
		}
		return words(f.Board), wordEnds
	}
}

func completeWords(words ...string) completion {
	return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) { return words, wordEnds }
}

// completeBoard gives the embedded boards, and files.
func completeBoard(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, wordEnds
	}
	return boardfile.EmbeddedNames(), cobra.ShellCompDirectiveDefault
}

var (
	completePoint = fromBoard(func(b *models.Board) []string {
		var words []string
		for _, p := range readings.UnpluggedPoints(b) {
			words = append(words, p.Name+"\t"+p.Title)
		}
		for _, l := range readings.Leads(b) {
			words = append(words, l.Name+"\t"+l.Title)
		}
		return words
	})
	completeMeter = fromBoard(func(b *models.Board) []string {
		var words []string
		for _, m := range b.Meters {
			words = append(words, m.Name+"\t"+m.Detector.String())
		}
		return words
	})
	completeInstrument = fromBoard(func(b *models.Board) []string {
		var words []string
		for _, m := range b.Meters {
			words = append(words, m.Name+"\t"+m.Detector.String())
		}
		for _, m := range b.Clamps {
			words = append(words, m.Name+"\tclamp, "+m.Detector.String())
		}
		return words
	})
	completeLifted = fromBoard(func(b *models.Board) []string {
		s, err := circuit.New(b)
		if err != nil {
			return nil
		}
		control, err := circuit.ControlBranches(b)
		if err != nil {
			return nil
		}
		return append(s.Branches(), control...)
	})
	completeChannel = fromBoard(channelNames)
	completeBranch  = fromBoard(func(b *models.Board) []string {
		s, err := circuit.New(b)
		if err != nil {
			return nil
		}
		return s.Branches()
	})
	completeNode = fromBoard(func(b *models.Board) []string {
		s, err := circuit.New(b)
		if err != nil {
			return nil
		}
		var words []string
		for _, n := range s.Nodes() {
			words = append(words, n.String())
		}
		return words
	})
)

// completeFault completes CHANNEL:FAULT,key=.
func completeFault(cmd *cobra.Command, args []string, text string) ([]string, cobra.ShellCompDirective) {
	names := []string{}
	if f, err := loadBoard(cmd, args); err == nil {
		names = channelNames(f.Board)
	}
	channel, rest, found := strings.Cut(text, ":")
	if !found {
		var words []string
		for _, n := range append(names, "board") {
			words = append(words, n+":")
		}
		return words, wordOpen
	}
	name, _, keys := strings.Cut(rest, ",")
	if !keys {
		var words []string
		for _, f := range faults.Catalogue() {
			if (f.Scope == faults.PerBoard) == (channel == "board") {
				words = append(words, channel+":"+f.Name+"\t"+f.Title)
			}
		}
		return words, wordOpen
	}
	f, ok := faults.Find(name)
	if !ok {
		return nil, wordEnds
	}
	before := text[:strings.LastIndexByte(text, ',')+1]
	var words []string
	for _, k := range f.Keys {
		words = append(words, before+k.Name+"=\t"+k.Doc)
	}
	more := faults.CommonKeys()
	if f.Wets {
		more = append(faults.WettingKeys(), more...)
	}
	for _, k := range more {
		words = append(words, before+k.Name+"=\t"+k.Doc)
	}
	return words, wordOpen
}
