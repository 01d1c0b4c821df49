package command

import (
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/plots"
	"boilwright/sim/readings"
)

// headingFlags are the flags of the words in a figure.
type headingFlags struct {
	title, subtitle, caption string
	languageName             string
}

func (o *headingFlags) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&o.title, "title", "", "`TEXT` above the figure instead of its own")
	f.StringVar(&o.subtitle, "subtitle", "", "`TEXT` under the title instead of the conditions")
	f.StringVar(&o.caption, "caption", "", "`TEXT` under the figure, before the reading aid")
	f.StringVar(&o.languageName, "language", "en", "`LANGUAGE` of the figure's own words, "+strings.Join(plots.Languages(), ", ")+", or a file of words")
	complete(cmd, "language", completeWords(plots.Languages()...))
}

// language loads the words of the flag.
func (o *headingFlags) language() (*plots.Language, error) {
	name := o.languageName
	if strings.ContainsAny(name, `/\.`) {
		data, err := os.ReadFile(name)
		if err != nil {
			return nil, wrongInput(err)
		}
		l, err := plots.ParseLanguage(strings.TrimSuffix(filepath.Base(name), filepath.Ext(name)), name, data)
		if err != nil {
			return nil, wrongInput(err)
		}
		return l, nil
	}
	l, err := plots.LoadLanguage(name)
	if err != nil {
		return nil, misused(err)
	}
	return l, nil
}

// words puts the flags' words into a heading.
func (o *headingFlags) words(h plots.Heading) (plots.Heading, error) {
	l, err := o.language()
	if err != nil {
		return h, err
	}
	h.Language = l
	if note, ok := strings.CutPrefix(h.Source, provenance); ok {
		h.Source = l.F("Simulated; a real board can differ. The board: %s", note)
	}
	for _, x := range []struct {
		flag string
		to   *string
	}{{o.title, &h.Title}, {o.subtitle, &h.Subtitle}, {o.caption, &h.Caption}} {
		if x.flag != "" {
			*x.to = x.flag
		}
	}
	return h, nil
}

// subject is which board with which faults, in a language.
func (t *target) subject(l *plots.Language) string {
	if texts := t.texts(); len(texts) > 0 {
		return l.F("%s, with %s", t.file.Board.Name, list(texts, ""))
	}
	return t.file.Board.Name
}

// teaching is the heading of a sheet that has a title of its own: under it the
// board, its faults and the conditions, in the language of the flags.
func (o *headingFlags) teaching(t *target, conditions func(l *plots.Language) string) (plots.Heading, error) {
	h, err := o.words(heading(t, ""))
	if err != nil {
		return h, err
	}
	if o.title == "" {
		h.Title = ""
	}
	if o.subtitle == "" {
		h.Subtitle = t.subject(h.Language)
		if conditions != nil {
			h.Subtitle += "; " + conditions(h.Language)
		}
	}
	return h, nil
}

// inTitle moves the subject of a sheet into the title where it has none.
func inTitle(h plots.Heading, o *headingFlags, t *target) plots.Heading {
	if o.title == "" {
		h.Title = t.subject(h.Language)
		h.Subtitle = strings.TrimPrefix(h.Subtitle, h.Title+"; ")
	}
	return h
}

// describeIn puts conditions in words of a language, English where it is nil.
func (c *conditionFlags) describeIn(l *plots.Language, x readings.Conditions, b *models.Board) string {
	var s string
	switch x.State {
	case readings.Standby:
		s = l.T("standby (supply on, controls off)")
	case readings.Heating:
		s = l.T("heating (every drive on)")
	case readings.Holding:
		s = l.T("holding (drives in bursts)")
	case readings.UnpluggedState:
		s = "unplugged" // no figure shows it
	}
	for k, off := range x.Off {
		if off {
			s += ", " + l.F("%s not driven", b.Channels[k].Name)
		}
	}
	if x.State == readings.Holding {
		duty := x.Duty
		if duty == nil {
			duty = slices.Repeat([]float64{0.25}, len(b.Channels))
		}
		var parts []string
		for k, d := range duty {
			parts = append(parts, b.Channels[k].Name+" "+q.Ratio(d).String())
		}
		s += ", " + l.F("duty %s", list(parts, ""))
	}
	return s + ", " + l.F("at %s", c.temperature.String())
}
