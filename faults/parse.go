package faults

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// ParseError tells where and why a text is no injection.
type ParseError struct {
	Text     string // the whole text
	Position int    // in characters, from 1
	Found    string
	Expected string
}

func (e *ParseError) Error() string {
	return fmt.Sprintf("fault %q, position %d: found %s, expected %s", e.Text, e.Position, e.Found, e.Expected)
}

// longestText bounds a written injection in bytes.
const longestText = 2000

// Parse reads an injection as it is written at the command line,
//
//	CHANNEL:FAULT[,key=value…]
//
// where CHANNEL is one of the channels' names, a number from 1, or board.
// Keys are those of the fault (see [Fault].Keys) and those of every fault
// (see [CommonKeys]), each at most once, in any order; quantities are written
// as people write them ("20 mΩ", "25 min"). A channel whose name is a number,
// is "board" or has a colon or a comma in it is reached by its number only.
// Without channels, only numbers are taken, and any. The error is a
// [*ParseError].
func Parse(text string, channels []string) (Injection, error) {
	p := parser{text: text, channels: channels, where: map[string]int{}}
	j, err := p.injection()
	if err != nil {
		return Injection{}, err
	}
	return j, nil
}

// ParseSet reads several injections; the errors are joined.
func ParseSet(texts []string, channels []string) (Set, error) {
	var s Set
	var errs []error
	for _, t := range texts {
		j, err := Parse(t, channels)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		s = append(s, j)
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	return s, nil
}

type parser struct {
	text     string
	channels []string
	where    map[string]int // field to the offset of its value
	j        Injection
	fault    *Fault
}

// fail makes an error at a byte offset of the text.
func (p *parser) fail(offset int, found, expected string) error {
	return &ParseError{p.text, 1 + utf8.RuneCountInString(p.text[:offset]), found, expected}
}

// quoted writes what was found.
func quoted(s string) string {
	if s == "" {
		return "nothing"
	}
	if len(s) > 60 {
		s = strings.ToValidUTF8(s[:60], "") + "…"
	}
	return strconv.Quote(s)
}

// trim returns text[from:to] without spaces at its ends, and where it begins.
func (p *parser) trim(from, to int) (string, int) {
	s := p.text[from:to]
	left := strings.TrimLeft(s, " \t")
	return strings.TrimRight(left, " \t"), from + len(s) - len(left)
}

func (p *parser) injection() (Injection, error) {
	const form = "CHANNEL:FAULT[,key=value…]"
	if len(p.text) > longestText {
		return Injection{}, &ParseError{p.text[:20] + "…", 1, fmt.Sprintf("%d bytes of text", len(p.text)), fmt.Sprintf("at most %d", longestText)}
	}
	colon := strings.IndexByte(p.text, ':')
	if colon < 0 {
		return Injection{}, p.fail(0, quoted(strings.TrimSpace(p.text)), form)
	}
	end := len(p.text)
	if c := strings.IndexByte(p.text[colon:], ','); c >= 0 {
		end = colon + c
	}
	channel, channelAt := p.trim(0, colon)
	name, nameAt := p.trim(colon+1, end)
	p.fault = find(name)
	if p.fault == nil {
		return Injection{}, p.fail(nameAt, quoted(name), "a fault of the catalogue"+didYouMean(name, Names()))
	}
	p.where["fault"], p.where["channel"] = nameAt, channelAt
	p.j = New(name, WholeBoard)
	if channel != boardWord {
		ch, err := p.channel(channel, channelAt, p.fault.Scope == PerBoard)
		if err != nil {
			return Injection{}, err
		}
		p.j.Channel = ch
	}
	for end < len(p.text) {
		from := end + 1
		end = len(p.text)
		if c := strings.IndexByte(p.text[from:], ','); c >= 0 {
			end = from + c
		}
		if err := p.pair(from, end); err != nil {
			return Injection{}, err
		}
	}
	sortSettings(p.fault, p.j.Settings)
	return p.j, p.check()
}

// channel reads a channel's name or number and returns its index.
func (p *parser) channel(s string, offset int, orBoard bool) (int, error) {
	var names []string
	for i, n := range p.channels {
		if usable(n) {
			names = append(names, n)
			if n == s {
				return i, nil
			}
		}
	}
	expected := "a channel's number from 1"
	if p.channels != nil {
		expected = fmt.Sprintf("a channel's number 1 to %d", len(p.channels))
		if len(names) > 0 {
			expected = "one of the channels " + strings.Join(names, ", ") + ", or a number 1 to " + strconv.Itoa(len(p.channels))
		}
	}
	if orBoard {
		expected, names = boardWord, []string{boardWord}
	}
	n, err := strconv.ParseUint(s, 10, 16)
	if err != nil || n == 0 || (p.channels != nil && n > uint64(len(p.channels))) || strings.HasPrefix(s, "0") {
		return 0, p.fail(offset, quoted(s), expected+didYouMean(s, names))
	}
	return int(n) - 1, nil
}

// usable reports whether a channel's name can be written before a fault.
func usable(name string) bool {
	if name == "" || name == boardWord || strings.ContainsAny(name, ":,") || strings.Trim(name, " \t") != name {
		return false
	}
	return strings.Trim(name, "0123456789") != ""
}

// pair reads one key=value.
func (p *parser) pair(from, to int) error {
	whole, wholeAt := p.trim(from, to)
	eq := strings.IndexByte(p.text[from:to], '=')
	if eq < 0 {
		expected := "key=value"
		if whole != "" && whole[0] >= '0' && whole[0] <= '9' {
			expected += ", with a decimal point where that is a decimal comma"
		}
		return p.fail(wholeAt, quoted(whole), expected)
	}
	key, keyAt := p.trim(from, from+eq)
	value, valueAt := p.trim(from+eq+1, to)
	if _, twice := p.where[key]; twice && key != "fault" && key != "channel" {
		return p.fail(keyAt, "the key "+key+" again", "each key once")
	}
	known, err := p.common(key, value, valueAt)
	if err == nil && !known {
		err = p.own(key, keyAt, value, valueAt)
	}
	p.where[key] = valueAt
	return err
}

// check reports the first thing that is wrong with what was read, where it
// was written.
func (p *parser) check() error {
	var first error
	least := len(p.text) + 1
	for _, err := range flat(p.j.Check(nil)) {
		var e *FieldError
		if !errors.As(err, &e) {
			return err
		}
		at, ok := p.where[e.Field]
		found := e.Found
		if !ok {
			at = p.where["fault"]
			found = e.Found + " (" + e.Field + ")"
		}
		if at < least {
			least, first = at, p.fail(at, found, e.Expected)
		}
	}
	return first
}
