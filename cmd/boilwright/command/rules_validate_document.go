package command

import (
	"math"

	"github.com/spf13/cobra"

	"boilwright/faults/rules/validate"
)

// The document of the command rules validate.

type validationDocument struct {
	Schema    string                  `json:"schema" doc:"kind and version of this document"`
	Notice    string                  `json:"notice" doc:"what to keep in mind"`
	Caution   string                  `json:"caution" doc:"belongs beside every live test; empty where the rules need none"`
	File      string                  `json:"file" doc:"rules, or the program that judges"`
	Board     boardDocument           `json:"board" doc:"what the boards were drawn around"`
	Seed      uint64                  `json:"seed" doc:"of the draw"`
	From      uint64                  `json:"from" doc:"index of the first board"`
	Each      uint64                  `json:"each" doc:"boards for each fault in each place; 0 where faults were drawn at their rates"`
	Asked     uint64                  `json:"asked" doc:"boards that were asked for"`
	Done      uint64                  `json:"done" doc:"boards that were done"`
	Healthy   uint64                  `json:"healthy" doc:"boards without a fault"`
	Unsolved  uint64                  `json:"unsolved" doc:"boards without a solution, counted in nothing else"`
	Meters    []string                `json:"meters" doc:"in hand; empty where no rule depends on it"`
	Rules     []ruleCountDocument     `json:"rules" doc:"in their order"`
	Overall   overallDocument         `json:"overall" doc:"all rules together"`
	ByMeter   []overallDocument       `json:"by_meter" doc:"all rules together, by meter in hand"`
	Conflicts []conflictDocument      `json:"conflicts" doc:"rules that disagree, the most frequent first"`
	Never     []string                `json:"never" doc:"rules that never applied"`
	Confusion []ruleConfusionDocument `json:"confusion" doc:"what was concluded by what was true: all channels, each, the board"`
	Troubles  []troubleDocument       `json:"troubles" doc:"conditions that could not always be evaluated"`
	Required  []ruleCheckDocument     `json:"required" doc:"requirements and whether they are met"`
	Files     []string                `json:"files" doc:"of the report, that were written"`
}

type shareDocument struct {
	Count uint64   `json:"count" doc:"how many"`
	Of    uint64   `json:"of" doc:"out of how many"`
	Value optional `json:"value" doc:"share; null out of none"`
	Low   optional `json:"low" doc:"lower end of its 95 % score interval"`
	High  optional `json:"high" doc:"upper end"`
}

func shareOf(s validate.Share) shareDocument {
	low, high := s.Interval()
	return shareDocument{s.Count, s.Of, optional(s.Value()), optional(low), optional(high)}
}

type countsDocument struct {
	TP          uint64        `json:"tp" doc:"units of which it is true and said"`
	FP          uint64        `json:"fp" doc:"of which it is not true and said"`
	FN          uint64        `json:"fn" doc:"of which it is true and not said"`
	TN          uint64        `json:"tn" doc:"of which it is not true and not said"`
	Sensitivity shareDocument `json:"sensitivity" doc:"of what is true, said"`
	Specificity shareDocument `json:"specificity" doc:"of what is not true, not said"`
	Positive    shareDocument `json:"ppv" doc:"of what is said, true, at these rates"`
	Negative    shareDocument `json:"npv" doc:"of what is not said, not true, at these rates"`
}

func countsOf(c validate.Counts) countsDocument {
	return countsDocument{c.TP, c.FP, c.FN, c.TN, shareOf(c.Sensitivity()), shareOf(c.Specificity()), shareOf(c.Positive()), shareOf(c.Negative())}
}

type namedCountsDocument struct {
	Name   string         `json:"name" doc:"meter, channel or band"`
	Counts countsDocument `json:"counts" doc:"of its units"`
}

type ruleCountDocument struct {
	Rule      string                `json:"rule" doc:"its name"`
	Board     bool                  `json:"board" doc:"it is about the board as a whole"`
	Faults    []string              `json:"faults" doc:"of which it concludes one; empty for healthy"`
	Counts    countsDocument        `json:"counts" doc:"of all units"`
	ByMeter   []namedCountsDocument `json:"by_meter" doc:"by meter in hand"`
	ByChannel []namedCountsDocument `json:"by_channel" doc:"by channel; empty for a rule about the board"`
	BySupply  []namedCountsDocument `json:"by_supply" doc:"by thirds of the drawn supply voltage"`
	ByFault   []faultCountDocument  `json:"by_fault" doc:"by fault of the unit, alone or with others"`
	Ranks     []rankDocument        `json:"parameters" doc:"that go with mistakes, misses first, the strongest first"`
	Misses    []exampleDocument     `json:"misses" doc:"the most ordinary boards on which it is true and not said"`
	Alarms    []exampleDocument     `json:"false_alarms" doc:"the most ordinary boards on which it is said and not true"`
}

type faultCountDocument struct {
	Fault   string `json:"fault" doc:"or healthy"`
	Units   uint64 `json:"units" doc:"with it"`
	Applied uint64 `json:"applied" doc:"of them to which the rule applied"`
	Right   bool   `json:"right" doc:"the rule is right to apply"`
}

type rankDocument struct {
	Parameter string `json:"parameter" doc:"that is drawn, or severity"`
	Mistake   string `json:"mistake" doc:"miss or false alarm"`
	AUC       number `json:"auc" doc:"probability that it is higher on a wrong unit than on a right one"`
	Strength  number `json:"strength" doc:"|2 auc − 1|"`
	Wrong     int    `json:"wrong" doc:"units that were compared, one of a board"`
	Right     int    `json:"right" doc:"with these"`
	Clear     bool   `json:"clear" doc:"more than chance makes of the strongest of so many parameters"`
	Tried     int    `json:"tried" doc:"wrong units that were judged again with it at the board's own value"`
	Turned    int    `json:"turned" doc:"of them judged rightly then"`
}

type exampleDocument struct {
	Index    uint64   `json:"index" doc:"of the board"`
	Channel  nullable `json:"channel" doc:"its name; null for the board"`
	Meters   []string `json:"meters" doc:"in hand"`
	Distance number   `json:"distance" doc:"from the ordinary board, in standard deviations"`
	Faults   []string `json:"faults" doc:"truth, each as --fault takes it"`
	Command  string   `json:"command" doc:"that shows it again"`
}

type overallDocument struct {
	Name        string         `json:"name" doc:"meter in hand, or overall"`
	Units       uint64         `json:"units" doc:"that were judged"`
	Coverage    shareDocument  `json:"coverage" doc:"units of which a rule concluded something"`
	Correct     shareDocument  `json:"correct" doc:"of these, with right conclusions only"`
	Conflicting uint64         `json:"conflicting" doc:"units of which rules disagree"`
	Counts      countsDocument `json:"counts" doc:"a fault was told, against a fault is there"`
}

func overallOf(name string, o *validate.Overall) overallDocument {
	return overallDocument{name, o.Units, shareOf(o.Coverage()), shareOf(o.Correct()), o.Conflicting, countsOf(o.Counts)}
}

type conflictDocument struct {
	First  string `json:"first" doc:"a rule"`
	Second string `json:"second" doc:"one that disagrees"`
	Units  uint64 `json:"units" doc:"how often"`
	Index  uint64 `json:"index" doc:"of the first board"`
}

type ruleConfusionDocument struct {
	Channel   string                 `json:"channel" doc:"name, board, or all channels"`
	Concluded []string               `json:"concluded" doc:"names of the columns"`
	Rows      []confusionRowDocument `json:"rows" doc:"by truth"`
}

type confusionRowDocument struct {
	Truth  string   `json:"truth" doc:"faults, or healthy"`
	Counts []uint64 `json:"counts" doc:"units, by column"`
}

type troubleDocument struct {
	Rule    string `json:"rule" doc:"its name"`
	Times   uint64 `json:"times" doc:"how often"`
	Index   uint64 `json:"index" doc:"of the first board"`
	Problem string `json:"problem" doc:"what there was"`
}

type ruleCheckDocument struct {
	Text  string   `json:"requirement" doc:"as it was stated"`
	Of    string   `json:"of" doc:"rule, overall, or empty"`
	Found optional `json:"found" doc:"what is compared; null where nothing was counted"`
	Met   bool     `json:"met" doc:"it is met"`
	Why   string   `json:"why" doc:"what was found"`
}

// document makes the document of a validation.
func (v *validation) document(cmd *cobra.Command) *validationDocument {
	r, o, t := v.report, v.options, v.work.target
	d := &validationDocument{
		Schema: schemaName("validation"), Notice: notice, Caution: v.side.caution(), File: v.side.name, Board: t.document(), Seed: o.seed, From: o.from, Each: o.each,
		Asked: r.Asked, Done: r.Done, Healthy: r.Healthy, Unsolved: r.Unsolved, Meters: append([]string{}, r.Meters...), Rules: []ruleCountDocument{},
		Overall: overallOf("overall", &r.Overall), ByMeter: []overallDocument{}, Conflicts: []conflictDocument{}, Never: []string{}, Confusion: []ruleConfusionDocument{}, Troubles: []troubleDocument{}, Required: []ruleCheckDocument{}, Files: append([]string{}, v.files...),
	}
	for i, name := range r.Meters {
		d.ByMeter = append(d.ByMeter, overallOf(name, &r.ByMeter[i]))
	}
	for i := range r.Rules {
		d.Rules = append(d.Rules, v.ruleDocument(cmd, &r.Rules[i]))
	}
	for _, c := range r.Conflicts {
		d.Conflicts = append(d.Conflicts, conflictDocument{r.Rules[c.First].Rule, r.Rules[c.Second].Rule, c.Units, c.Index})
	}
	for _, x := range r.Never() {
		d.Never = append(d.Never, x.Rule)
	}
	for _, c := range r.Confusion {
		x := ruleConfusionDocument{c.Channel, append([]string{}, c.Concluded...), []confusionRowDocument{}}
		for _, row := range c.Rows {
			x.Rows = append(x.Rows, confusionRowDocument{row.Truth, append([]uint64{}, row.Counts...)})
		}
		d.Confusion = append(d.Confusion, x)
	}
	for _, x := range v.side.troubles() {
		d.Troubles = append(d.Troubles, troubleDocument{x.Rule, x.Times, x.Index, x.Problem})
	}
	for _, c := range v.checks {
		d.Required = append(d.Required, ruleCheckDocument{c.Requirement.Text, c.Of, optional(c.Found), c.Met, c.Why})
	}
	return d
}

func (v *validation) ruleDocument(cmd *cobra.Command, x *validate.Rule) ruleCountDocument {
	r := v.report
	d := ruleCountDocument{
		Rule: x.Rule, Board: x.OnBoard(), Faults: append([]string{}, x.Faults...), Counts: countsOf(x.Counts),
		ByMeter: []namedCountsDocument{}, ByChannel: []namedCountsDocument{}, BySupply: []namedCountsDocument{}, ByFault: []faultCountDocument{},
		Ranks: []rankDocument{}, Misses: []exampleDocument{}, Alarms: []exampleDocument{},
	}
	for i, name := range r.Meters {
		d.ByMeter = append(d.ByMeter, namedCountsDocument{name, countsOf(x.ByMeter[i])})
	}
	for i, c := range x.ByChannel {
		d.ByChannel = append(d.ByChannel, namedCountsDocument{r.Channels[i], countsOf(c)})
	}
	for _, b := range x.BySupply {
		d.BySupply = append(d.BySupply, namedCountsDocument{b.Name, countsOf(b.Counts)})
	}
	for _, f := range x.ByFault {
		d.ByFault = append(d.ByFault, faultCountDocument(f))
	}
	for _, k := range x.Ranks {
		if !math.IsNaN(k.AUC) {
			d.Ranks = append(d.Ranks, rankDocument{k.Parameter, k.Mistake.String(), number(k.AUC), number(k.Strength()), k.Wrong, k.Right, k.Clear, k.Tried, k.Flipped})
		}
	}
	for i := range x.Misses {
		d.Misses = append(d.Misses, v.exampleDocument(cmd, x.Rule, &x.Misses[i]))
	}
	for i := range x.Alarms {
		d.Alarms = append(d.Alarms, v.exampleDocument(cmd, x.Rule, &x.Alarms[i]))
	}
	return d
}

func (v *validation) exampleDocument(cmd *cobra.Command, rule string, e *validate.Example) exampleDocument {
	t := v.work.target
	d := exampleDocument{Index: e.Index, Meters: []string{}, Distance: number(e.Distance), Faults: faultTexts(e.Faults, t.names), Command: v.again(cmd, rule, e)}
	if e.Channel >= 0 {
		d.Channel = nullable(t.names[e.Channel])
	}
	for _, m := range e.Meters {
		if m >= 0 {
			d.Meters = append(d.Meters, t.file.Board.Meters[m].Name)
		}
	}
	return d
}
