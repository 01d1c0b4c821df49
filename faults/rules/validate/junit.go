package validate

import (
	"encoding/xml"
	"fmt"
	"io"
	"unicode"
)

// The elements of a JUnit report that continuous-integration servers read: a
// suite of cases, those that failed with a failure in them. There is no
// standard; these are what its readers have in common.
type (
	junitSuites struct {
		XMLName  xml.Name   `xml:"testsuites"`
		Tests    int        `xml:"tests,attr"`
		Failures int        `xml:"failures,attr"`
		Suite    junitSuite `xml:"testsuite"`
	}
	junitSuite struct {
		Name       string          `xml:"name,attr"`
		Tests      int             `xml:"tests,attr"`
		Failures   int             `xml:"failures,attr"`
		Errors     int             `xml:"errors,attr"`
		Skipped    int             `xml:"skipped,attr"`
		Properties []junitProperty `xml:"properties>property"`
		Cases      []junitCase     `xml:"testcase"`
		Out        string          `xml:"system-out,omitempty"`
	}
	junitProperty struct {
		Name  string `xml:"name,attr"`
		Value string `xml:"value,attr"`
	}
	junitCase struct {
		Class   string        `xml:"classname,attr"`
		Name    string        `xml:"name,attr"`
		Failure *junitFailure `xml:"failure"`
		Out     string        `xml:"system-out,omitempty"`
	}
	junitFailure struct {
		Message string `xml:"message,attr"`
		Type    string `xml:"type,attr"`
		Text    string `xml:",chardata"`
	}
)

// Property is a name and a value that a JUnit report carries.
type Property struct{ Name, Value string }

// WriteJUnit writes checks as a JUnit report in XML: a case for each, with the
// rule as its class. Characters that XML does not have are left out. The same
// checks give the same bytes: no time is in it.
func WriteJUnit(w io.Writer, suite string, about []Property, checks []Check, out string) error {
	s := junitSuite{Name: printable(suite), Tests: len(checks), Out: printable(out)}
	for _, p := range about {
		s.Properties = append(s.Properties, junitProperty{printable(p.Name), printable(p.Value)})
	}
	for _, c := range checks {
		x := junitCase{Class: printable(c.Of), Name: printable(c.Requirement.Text)}
		if x.Class == "" {
			x.Class = "all rules"
		}
		if c.Met {
			x.Out = printable(c.Why)
		} else {
			s.Failures++
			x.Failure = &junitFailure{Message: printable(c.Why), Type: "requirement", Text: printable(fmt.Sprintf("required %s: %s", c.Requirement.Text, c.Why))}
		}
		s.Cases = append(s.Cases, x)
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	e := xml.NewEncoder(w)
	e.Indent("", "  ")
	if err := e.Encode(junitSuites{Tests: s.Tests, Failures: s.Failures, Suite: s}); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

// printable leaves out control characters other than white space, which XML
// 1.0 does not have.
func printable(text string) string {
	out := make([]rune, 0, len(text))
	for _, r := range text {
		if r == '\n' || r == '\t' || !unicode.IsControl(r) && r != 0xfffe && r != 0xffff {
			out = append(out, r)
		}
	}
	return string(out)
}
