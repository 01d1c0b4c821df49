package boardfile_test

import (
	"strings"
	"testing"

	"boilwright/sim/boardfile"
)

// TestRulePlaces: where a character of a text is in its file, however the text
// is written.
func TestRulePlaces(t *testing.T) {
	for _, c := range []struct {
		text         string // of when
		line, column int    // of the text
		wantLine     int
		wantColumn   int
		exact        bool
	}{
		{`"ab"`, 1, 2, 3, 10, true},
		{`'ab'`, 1, 1, 3, 9, true},
		{`'''ab'''`, 1, 2, 3, 12, true},
		{"'''\nab\n cd'''", 1, 2, 4, 2, true},
		{"'''\nab\n cd'''", 2, 2, 5, 2, true},
		{"'''\r\nab\r\n cd'''", 2, 2, 5, 2, true},
		{"\"\"\"ab\ncd\"\"\"", 2, 1, 4, 1, true},
		{`"a\tb"`, 1, 2, 3, 8, false},
		{"\"\"\"a\n\\u0062c\"\"\"", 2, 2, 3, 8, false},
		{"\"\"\"a\\\n   b\"\"\"", 1, 2, 3, 8, false},
		{`"Ωb"`, 1, 2, 3, 10, true},
	} {
		got, err := boardfile.ParseRules("r.toml", []byte("[[rule]]\nname = 'r'\nwhen = "+c.text+"\nconcludes = 'healthy'\n"))
		if err != nil || len(got) != 1 {
			t.Errorf("%s: found %d rules, %v", c.text, len(got), err)
			continue
		}
		line, column, exact := got[0].When.At(c.line, c.column)
		if line != c.wantLine || column != c.wantColumn || exact != c.exact {
			t.Errorf("%q at %d:%d: found %d:%d %t, expected %d:%d %t", c.text, c.line, c.column, line, column, exact, c.wantLine, c.wantColumn, c.exact)
		}
	}
}

// TestParseRulesBad: what is wrong with a file as such, and what can be read of
// it nevertheless.
func TestParseRulesBad(t *testing.T) {
	for text, want := range map[string]string{
		"[[rulez]]\nname = 'a'": "r.toml:1:3: rulez: found a key that is not known, expected [[rule]]; did you mean rule",
		"[rule]\nname = 'a'":    "r.toml:1:2: rule: found a table, expected [[rule]], once for each rule",
		"rule = 3":              "r.toml:1:8: rule: found the integer 3, expected [[rule]]",
		"":                      "r.toml:1:1: rule: found no rule",
		"[[rule]]":              "r.toml:1:3: rule[1].when: found nothing, expected a condition",
		"[[rule]]\nname = ''":   `r.toml:2:8: rule[1].name: found "", expected text`,
		"[[rule]]\nnam = 'a'":   "rule[1].nam: found a key that is not known, expected one of name, when, about, concludes, channel, action, words or source; did you mean name",
		"[[rule]]\nname = 'a'\nwhen = 'true'\nconcludes = []":                      "r.toml:4:13: rule[1].concludes: found an empty list",
		"[[rule]]\nname = 'a'\nwhen = 'true'\nconcludes = ['a', 3]":                "r.toml:4:19: rule[1].concludes: found the integer 3, expected text",
		strings.Repeat("[[rule]]\nname='a'\nwhen='a'\nconcludes='a'\n", 501):       "rule: found 501 rules, expected at most 500",
		"[[rule]]\nname = 'a'\nname = 'b'\nwhen = 'true'\nconcludes = ['healthy']": "a second definition",
		strings.Repeat("#", boardfile.MaxSize+1):                                   "found more than 1 MiB",
	} {
		_, err := boardfile.ParseRules("r.toml", []byte(text))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.60q: found %v, expected %q", text, err, want)
		}
	}
	got, err := boardfile.ParseRules("r.toml", []byte("[[rule]]\nname = 'a'\nwhen = 'true'\nconcludes = 'x'\ncolor = 1"))
	if err == nil || len(got) != 1 || got[0].Name.Text != "a" || len(got[0].Concludes) != 1 {
		t.Errorf("found %+v, %v, expected the rule beside the mistake", got, err)
	}
	if _, err := boardfile.LoadRules("nowhere.toml"); err == nil || !strings.Contains(err.Error(), "expected a rule file") {
		t.Errorf("a missing file: found %v", err)
	}
}
