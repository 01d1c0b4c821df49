package rules

import (
	"fmt"
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/readings"
)

// Scope tells what a rule is about.
type Scope int

// The scopes.
const (
	EachChannel Scope = iota // tried on every channel of every board
	WholeBoard               // tried once on every board
)

func (s Scope) String() string {
	if s == WholeBoard {
		return "board"
	}
	return "channel"
}

// Healthy is the conclusion that nothing is wrong, as a rule file has it.
const Healthy = "healthy"

// Rule is one rule of a file.
type Rule struct {
	Name  string
	When  string // the condition, in CEL
	About Scope
	// Concludes names the faults of which one is meant; empty for healthy.
	Concludes []string
	// Channel is the one channel that a channel rule is restricted to; empty
	// for all.
	Channel               string
	Action, Words, Source string
	// Channels are those that it is tried on, from 0: those that have all that
	// its condition asks for; -1 for the board as a whole.
	Channels []int
	// Needs are the observables as its condition has them, each once.
	Needs []string
	// Live tells that one of them takes a meter on a board that has its
	// supply: [readings.LiveCaution] belongs beside it.
	Live bool
	// InHand tells that one of them is read with the meter in hand.
	InHand bool
	// Fast tells that its condition is evaluated without CEL's own machine.
	Fast bool
	// File, Line and Column are where it is written.
	File         string
	Line, Column int
}

// Healthy tells that the rule concludes that nothing is wrong.
func (r *Rule) Healthy() bool { return len(r.Concludes) == 0 }

// Caution is what belongs beside a rule whose observables take a live test;
// empty where none does.
func (r *Rule) Caution() string {
	if r.Live {
		return readings.LiveCaution
	}
	return ""
}

// Load reads the rule file at path and compiles it for a board, see [Parse].
func Load(path string, b *models.Board) (*Program, error) {
	texts, err := boardfile.LoadRules(path)
	return compile(path, texts, err, b)
}

// Parse reads rules from data, which errors call name, and compiles them for a
// board. The error is a [*boardfile.Error] with every mistake of the file.
func Parse(name string, data []byte, b *models.Board) (*Program, error) {
	texts, err := boardfile.ParseRules(name, data)
	return compile(name, texts, err, b)
}

// compiler turns the rules of a file into a program.
type compiler struct {
	board   *models.Board
	program *Program
	entries []*boardfile.Entry
}

func compile(file string, texts []boardfile.RuleText, err error, b *models.Board) (*Program, error) {
	c := &compiler{board: b, program: newProgram(b)}
	first := map[string]int{}
	for i := range texts {
		t := &texts[i]
		prefix := fmt.Sprintf("rule[%d].", i+1)
		if line, again := first[t.Name.Text]; again && t.Name.Given() {
			c.fail(t.Name.Mistake(prefix+"name", quoted(t.Name.Text)+" a second time", fmt.Sprintf("another name, the first is at line %d", line)))
		} else {
			first[t.Name.Text] = t.Name.Line
		}
		r, ok := c.rule(prefix, t)
		if !t.When.Given() {
			continue
		}
		c.condition(prefix+"when", &t.When, &r, ok)
	}
	if err := boardfile.Mistakes(file, c.entries, err); err != nil {
		return nil, err
	}
	c.program.finish()
	return c.program, nil
}

func (c *compiler) fail(e *boardfile.Entry) { c.entries = append(c.entries, e) }

// rule reads all of a rule but its condition; ok tells that nothing is wrong
// with what it is about.
func (c *compiler) rule(prefix string, t *boardfile.RuleText) (r Rule, ok bool) {
	r = Rule{Name: t.Name.Text, When: t.When.Text, Action: t.Action.Text, Words: t.Words.Text, Source: t.Source.Text,
		File: t.Head.File, Line: t.Head.Line, Column: t.Head.Column}
	ok = true
	if strings.ContainsAny(r.Name, "\n\r\t") || strings.TrimSpace(r.Name) != r.Name || len(r.Name) > 100 {
		c.fail(t.Name.Mistake(prefix+"name", quoted(r.Name), "one line of at most 100 bytes without spaces around it"))
	}
	scopes := []string{EachChannel.String(), WholeBoard.String()}
	if t.About.Given() {
		i := slices.Index(scopes, t.About.Text)
		if i < 0 {
			ok = false
			c.fail(t.About.Mistake(prefix+"about", quoted(t.About.Text), strings.Join(scopes, " or ")).Meant(t.About.Text, scopes))
		}
		r.About = Scope(max(0, i))
	}
	var names []string
	for k := range c.board.Channels {
		names = append(names, c.board.Channels[k].Name)
		r.Channels = append(r.Channels, k)
	}
	if r.About == WholeBoard {
		r.Channels = []int{faults.WholeBoard}
	}
	if t.Channel.Given() {
		k := slices.Index(names, t.Channel.Text)
		switch {
		case r.About == WholeBoard:
			ok = false
			c.fail(t.Channel.Mistake(prefix+"channel", quoted(t.Channel.Text), "none in a rule about the board"))
		case k < 0:
			ok = false
			c.fail(t.Channel.Mistake(prefix+"channel", quoted(t.Channel.Text), "a channel of the board: "+strings.Join(names, ", ")).Meant(t.Channel.Text, names))
		default:
			r.Channel, r.Channels = t.Channel.Text, []int{k}
		}
	}
	c.outcomes(prefix+"concludes", t, &r, ok)
	return r, ok
}

// outcomes reads what a rule concludes.
func (c *compiler) outcomes(field string, t *boardfile.RuleText, r *Rule, scoped bool) {
	for i := range t.Concludes {
		w := &t.Concludes[i]
		if w.Text == Healthy {
			if len(t.Concludes) > 1 {
				c.fail(w.Mistake(field, quoted(Healthy)+" among others", "it alone, or faults"))
			}
			continue
		}
		f, known := faults.Find(w.Text)
		switch {
		case !known:
			c.fail(w.Mistake(field, quoted(w.Text), `a fault's name, or "healthy"`).Meant(w.Text, append(faults.Names(), Healthy)))
		case slices.Contains(r.Concludes, w.Text):
			c.fail(w.Mistake(field, quoted(w.Text)+" a second time", "each fault once"))
		case scoped && (f.Scope == faults.PerBoard) != (r.About == WholeBoard):
			c.fail(w.Mistake(field, fmt.Sprintf("%s, a fault of a %s", quoted(w.Text), f.Scope), fmt.Sprintf("faults of a %s, or about = %q", r.About, f.Scope)))
		default:
			r.Concludes = append(r.Concludes, w.Text)
		}
	}
}

// quoted quotes a text for a message, shortened.
func quoted(s string) string {
	const most = 48
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return fmt.Sprintf("%q", s)
}
