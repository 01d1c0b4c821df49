package plots

import (
	"embed"
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// Language is the words of sheets in one language. Its keys are the English
// words; what it lacks stays English. A nil Language is English. Numbers keep
// the decimal point in all languages (ISO 80000-1 has both signs).
type Language struct {
	Code  string // of BCP 47: "de"
	words map[string]string
}

//go:embed words/*.po
var wordFiles embed.FS

// Languages lists the codes of the languages that come with the package.
func Languages() []string {
	entries, err := wordFiles.ReadDir("words")
	if err != nil { // a mistake in the program; every test would show it
		panic("plots: embedded words: " + err.Error())
	}
	var codes []string
	for _, e := range entries {
		codes = append(codes, strings.TrimSuffix(e.Name(), ".po"))
	}
	sort.Strings(codes)
	return codes
}

// LoadLanguage returns a language that comes with the package.
func LoadLanguage(code string) (*Language, error) {
	if !slices.Contains(Languages(), code) {
		return nil, fmt.Errorf("language: found %q, expected one of %s, or a file of words", code, strings.Join(Languages(), ", "))
	}
	name := "words/" + code + ".po"
	data, err := wordFiles.ReadFile(name)
	if err != nil {
		return nil, err
	}
	return ParseLanguage(code, name, data)
}

// Words returns the embedded file of a language, to be copied and translated.
func Words(code string) ([]byte, error) {
	if _, err := LoadLanguage(code); err != nil {
		return nil, err
	}
	return wordFiles.ReadFile("words/" + code + ".po")
}

// placeholder is a sign of per cent with the verb of fmt that it begins, if it
// is one of those that the words have: with or without its argument's number.
var placeholder = regexp.MustCompile(`%(?:(\[\d+\])?[sd]|%)?`)

// fits reports whether a translation has the placeholders of its msgid, and
// nothing else that fmt would take for one: in the same order, or all numbered
// from 1 on and each there once.
func fits(id, text []string) bool {
	if len(id) != len(text) || slices.Contains(text, "%") {
		return false
	}
	if !slices.ContainsFunc(text, func(p string) bool { return strings.HasPrefix(p, "%[") }) {
		return slices.Equal(id, text)
	}
	rest := func(all []string) (verbs []string) {
		for _, p := range all {
			if p != "%%" {
				verbs = append(verbs, p)
			}
		}
		return verbs
	}
	want := rest(id)
	numbered := make([]string, len(want))
	for i, p := range want {
		numbered[i] = fmt.Sprintf("%%[%d]%s", i+1, p[1:])
	}
	found := rest(text)
	sort.Strings(numbered)
	sort.Strings(found)
	return slices.Equal(numbered, found)
}

// ParseLanguage reads a file of words in the format of GNU gettext's PO files,
// of which it takes comments, msgid and msgstr, in UTF-8. An empty msgstr
// leaves the English words. Errors name the file, the line, what was found and
// what was expected; a translation must have the placeholders of its msgid.
func ParseLanguage(code, name string, data []byte) (*Language, error) {
	l := &Language{Code: clean(code), words: map[string]string{}}
	id, text, have, at := "", "", 0, 0 // have: 1 after msgid, 2 after msgstr
	fail := func(line int, found, expected string) error {
		return fmt.Errorf("%s: line %d: found %s, expected %s", name, line, found, expected)
	}
	keep := func() error {
		if have != 2 || id == "" {
			return nil
		}
		if _, twice := l.words[id]; twice {
			return fail(at, fmt.Sprintf("msgid %q twice", id), "it once")
		}
		if text == "" {
			return nil
		}
		a, b := placeholder.FindAllString(id, -1), placeholder.FindAllString(text, -1)
		if !fits(a, b) {
			return fail(at, fmt.Sprintf("placeholders %v in the translation of %q", b, id), fmt.Sprintf("%v", a))
		}
		l.words[id] = clean(text)
		return nil
	}
	for i, line := range strings.Split(string(data), "\n") {
		line = strings.TrimSpace(line)
		word, rest, _ := strings.Cut(line, " ")
		switch {
		case line == "" || line[0] == '#':
			continue
		case word == "msgid":
			if have == 1 {
				return nil, fail(i+1, "a second msgid", "msgstr")
			}
			if err := keep(); err != nil {
				return nil, err
			}
			id, text, have, at = "", "", 1, i+1
		case word == "msgstr":
			if have != 1 {
				return nil, fail(i+1, "msgstr", "msgid before it")
			}
			have = 2
		case line[0] == '"':
			rest = line
		default:
			return nil, fail(i+1, strconv.Quote(word), "msgid, msgstr, a text in quotes or a comment after #")
		}
		s, err := strconv.Unquote(strings.TrimSpace(rest))
		if err != nil || have == 0 {
			return nil, fail(i+1, strconv.Quote(rest), "a text in double quotes on one line")
		}
		if have == 1 {
			id += s
		} else {
			text += s
		}
	}
	if have == 1 {
		return nil, fail(at, "msgid without msgstr", "both")
	}
	return l, keep()
}

// T returns a text in the language.
func (l *Language) T(english string) string {
	if l != nil {
		if t, ok := l.words[english]; ok {
			return t
		}
	}
	return english
}

// F formats with the translation of an English format.
func (l *Language) F(format string, args ...any) string {
	return fmt.Sprintf(l.T(format), args...)
}

// code is the language's code for documents.
func (l *Language) code() string {
	if l == nil || l.Code == "" {
		return "en"
	}
	return l.Code
}
