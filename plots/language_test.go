package plots

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"boilwright/faults"
)

// usedWords lists every text that sheets look up, in the order of the files:
// the literals given to T and F, and the tables of names.
func usedWords(t testing.TB) []string {
	t.Helper()
	var words []string
	add := func(w ...string) {
		for _, x := range w {
			if x != "" && !slices.Contains(words, x) {
				words = append(words, x)
			}
		}
	}
	add(schematicPartNames[:]...)
	add(routeWords[:]...)
	for _, g := range groups {
		add(g.name)
	}
	add(indicatorNames[:]...)
	for _, kind := range slices.Sorted(func(yield func(string) bool) {
		for _, text := range eventTexts {
			if !yield(text) {
				return
			}
		}
	}) {
		add(kind)
	}
	add(Invented, Caution, LinkCaution, StandbyCaution, FrameCaution)
	for _, f := range faults.Catalogue() {
		add(f.Title)
	}
	var files []string
	for _, pattern := range []string{"*.go", "../cmd/boilwright/command/*.go"} {
		found, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, found...)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			c, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			first := 0
			switch f := c.Fun.(type) {
			case *ast.SelectorExpr:
				if f.Sel.Name != "T" && f.Sel.Name != "F" {
					return true
				}
			case *ast.Ident: // wrappers
				switch f.Name {
				case "on":
					first = 1
				case "current", "titled":
					first = map[string]int{"current": 0, "titled": 1}[f.Name]
				default:
					return true
				}
			default:
				return true
			}
			for _, a := range c.Args[min(first, len(c.Args)):] {
				if l, ok := a.(*ast.BasicLit); ok && l.Kind == token.STRING {
					s, err := strconv.Unquote(l.Value)
					if err != nil {
						t.Fatal(err)
					}
					if strings.ContainsFunc(s, func(r rune) bool { return r >= 'a' && r <= 'z' }) {
						add(s)
					}
				}
				if f, ok := c.Fun.(*ast.SelectorExpr); ok && f.Sel.Name == "F" {
					break // what follows are values
				}
			}
			return true
		})
	}
	add(extraWords...)
	return words
}

// extraWords are looked up by way of variables.
var extraWords = []string{
	"Main terminal 1 of the triac points to the supply.", "Main terminal 1 of the triac points to the load.",
	"A part drawn heavily has another value than a healthy one.", "A gap between two strokes: the path is open there.",
	"A dashed resistor: a path that does not belong there.", "A heavy line: a short circuit.", "A diode beside a part: a path that conducts one way only.",
	"A dashed resistor within a lead: resistance in series.",
	"between L and N on the board", "voltage from OUT to N", "voltage from L to OUT", "set", "voltage", "current", "power", "value",
	"mean of |v| × 1.11", "mean of |v| × 1.11, direct part blocked", "mean of the positive half × 2.22", "root of the mean square, direct part blocked", "root of the mean square", "mean of v",
}

// TestWords asks that the English file lists all words, and that the others
// translate each of them.
func TestWords(t *testing.T) {
	used := usedWords(t)
	if *update {
		var b bytes.Buffer
		b.WriteString("# The English words of sheets: copy this file and translate. Beside each msgid goes\n# its translation as msgstr; an empty one leaves the English words. The placeholders\n# %s and %d stay, in the same order or numbered as %[2]s.\n")
		for _, w := range used {
			fmt.Fprintf(&b, "\nmsgid %q\nmsgstr \"\"\n", w)
		}
		write(t, "words/en.po", b.Bytes())
	}
	data, err := os.ReadFile("words/en.po")
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range used {
		if !bytes.Contains(data, []byte(fmt.Sprintf("msgid %q\n", w))) {
			t.Errorf("en: found no %q", w)
		}
	}
	for _, code := range Languages() {
		l, err := LoadLanguage(code)
		if err != nil {
			t.Fatal(err)
		}
		if code == "en" {
			continue
		}
		for _, w := range used {
			if _, ok := l.words[w]; !ok {
				t.Errorf("%s: found no translation of %q", code, w)
			}
		}
		for w := range l.words {
			if !slices.Contains(used, w) {
				t.Errorf("%s: found %q, which no sheet uses", code, w)
			}
		}
	}
}

func TestParseLanguageErrors(t *testing.T) {
	for text, want := range map[string]string{
		"msgid \"a\"\nmsgid \"b\"":                             `w.po: line 2: found a second msgid, expected msgstr`,
		"msgstr \"a\"":                                         `w.po: line 1: found msgstr, expected msgid before it`,
		"msgid \"a\"":                                          `w.po: line 1: found msgid without msgstr, expected both`,
		"msgid a\nmsgstr \"\"":                                 `w.po: line 1: found "a", expected a text in double quotes on one line`,
		"hello":                                                `w.po: line 1: found "hello", expected msgid, msgstr, a text in quotes or a comment after #`,
		"\"hello\"":                                            `w.po: line 1: found "\"hello\"", expected a text in double quotes on one line`,
		"msgid \"a %s\"\nmsgstr \"b\"":                         `w.po: line 1: found placeholders [] in the translation of "a %s", expected [%s]`,
		"msgid \"a %s\"\nmsgstr \"b %q\"":                      `w.po: line 1: found placeholders [%] in the translation of "a %s", expected [%s]`,
		"msgid \"a %s\"\nmsgstr \"b %s %q\"":                   `w.po: line 1: found placeholders [%s %] in the translation of "a %s", expected [%s]`,
		"msgid \"a\"\nmsgstr \"100 % b\"":                      `w.po: line 1: found placeholders [%] in the translation of "a", expected []`,
		"msgid \"a\"\nmsgstr \"b %-5s\"":                       `w.po: line 1: found placeholders [%] in the translation of "a", expected []`,
		"msgid \"%s %s\"\nmsgstr \"%[1]s %[3]s\"":              `w.po: line 1: found placeholders [%[1]s %[3]s] in the translation of "%s %s", expected [%s %s]`,
		"msgid \"%s %s\"\nmsgstr \"%[2]s %[2]s\"":              `w.po: line 1: found placeholders [%[2]s %[2]s] in the translation of "%s %s", expected [%s %s]`,
		"msgid \"%s %s\"\nmsgstr \"%[2]s %s\"":                 `w.po: line 1: found placeholders [%[2]s %s] in the translation of "%s %s", expected [%s %s]`,
		"msgid \"%s %d\"\nmsgstr \"%[1]d %[2]s\"":              `w.po: line 1: found placeholders [%[1]d %[2]s] in the translation of "%s %d", expected [%s %d]`,
		"msgid \"%s\"\nmsgstr \"%[0]s\"":                       `w.po: line 1: found placeholders [%[0]s] in the translation of "%s", expected [%s]`,
		"msgid \"a\"\nmsgstr \"b\"\nmsgid \"a\"\nmsgstr \"c\"": `w.po: line 3: found msgid "a" twice, expected it once`,
	} {
		if _, err := ParseLanguage("xx", "w.po", []byte(text)); err == nil || err.Error() != want {
			t.Errorf("%q: found error %v, want %s", text, err, want)
		}
	}
	l, err := ParseLanguage("xx", "w.po", []byte("# comment\nmsgid \"\"\nmsgstr \"Language: xx\\n\"\n\nmsgid \"%s of \"\n\"%s\"\nmsgstr \"%[2]s, davon %[1]s\"\n"))
	if err != nil || l.F("%s of %s", "2", "3") != "3, davon 2" || l.T("triac") != "triac" {
		t.Errorf("found %q and error %v, want the numbered placeholders exchanged", l.F("%s of %s", "2", "3"), err)
	}
	if _, err := LoadLanguage("xx"); err == nil || !strings.Contains(err.Error(), `found "xx", expected one of de, en, es`) {
		t.Errorf("found error %v", err)
	}
	if data, err := Words("de"); err != nil || !bytes.Contains(data, []byte("msgid")) {
		t.Errorf("found error %v, want a file of words", err)
	}
}

// longest is a language in which every word is twice as long as the longest
// of the languages.
func longest(t testing.TB) *Language {
	l := &Language{Code: "xx", words: map[string]string{}}
	for _, code := range Languages() {
		x, err := LoadLanguage(code)
		if err != nil {
			t.Fatal(err)
		}
		for k, w := range x.words {
			if len(w) > len(l.words[k]) {
				l.words[k] = w
			}
		}
	}
	return l
}

// TestLanguageLabels asks that no label lies over another in any language, nor
// with the longest words of all.
func TestLanguageLabels(t *testing.T) {
	languages := []*Language{longest(t)}
	for _, code := range Languages() {
		l, err := LoadLanguage(code)
		if err != nil {
			t.Fatal(err)
		}
		languages = append(languages, l)
	}
	for _, l := range languages {
		for name, build := range map[string]func() (*Sheet, error){
			"circuit": func() (*Sheet, error) { in := demoSchematic(); in.Language = l; return Schematic(in) },
			"neutral": func() (*Sheet, error) { in := demoSchematicNeutral(); in.Language = l; return Schematic(in) },
			"curves":  func() (*Sheet, error) { in := demoCurves(); in.Language = l; return Curves(in) },
			"bands":   func() (*Sheet, error) { in := demoBands(); in.Language = l; return Bands(in) },
			"meters":  func() (*Sheet, error) { in := demoDetectors(); in.Language = l; return Detectors(in) },
			"pair":    func() (*Sheet, error) { in := demoPair(); in.Language = l; return Pair(in) },
			"waves":   func() (*Sheet, error) { in := demoWaveforms(); in.Language = l; return Waveforms(in) },
			"temps":   func() (*Sheet, error) { in := demoTemperatures(); in.Language = l; return Temperatures(in) },
			"cells":   func() (*Sheet, error) { in := demoMultiples(); in.Language = l; return Multiples(in) },
			"dots":    func() (*Sheet, error) { in := demoReadings(); in.Language = l; return Readings(in) },
		} {
			s, err := build()
			checkLabels(t, must(t, s, err))
			if t.Failed() {
				t.Fatalf("%s: %s", l.Code, name)
			}
		}
		cycle, machine := demoCycle(5), demoMachine(9)
		cycle.Language, machine.Language = l, l
		a, err := Cycle(cycle)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Machine(machine)
		if err != nil {
			t.Fatal(err)
		}
		checkScene(t, a.scene(2), frameWidth)
		checkScene(t, b.scene(8), frameWidth)
		if t.Failed() {
			t.Fatal(l.Code)
		}
	}
}

func TestGermanSheet(t *testing.T) {
	l, err := LoadLanguage("de")
	if err != nil {
		t.Fatal(err)
	}
	in := demoSchematic()
	in.Language = l
	s, err := Schematic(in)
	contains(t, "text alternative", must(t, s, err).Alt(), "Schaltplan", "Heizelement 35.3 Ω", "Temperatursicherung")
	svg := string(encoded(t, s, "svg", Size{}))
	contains(t, "svg", svg, `xml:lang="de"`, "Snubber")
}
