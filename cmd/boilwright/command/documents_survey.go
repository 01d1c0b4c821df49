package command

// The document of the command survey.

type surveyDocument struct {
	Schema     string                    `json:"schema" doc:"kind and version of this document"`
	Seed       uint64                    `json:"seed" doc:"of the draw"`
	First      uint64                    `json:"first" doc:"number of the first circuit"`
	Asked      int                       `json:"asked" doc:"circuits that were asked for"`
	Done       int                       `json:"done" doc:"circuits that were drawn"`
	HalfCycles int                       `json:"half_cycles" doc:"half-cycles solved"`
	Solved     int                       `json:"solved" doc:"circuits solved without a violation"`
	Rejected   []rejectionDocument       `json:"rejected" doc:"circuits that an error explains, by kind, the most frequent first"`
	Violations []surveyViolationDocument `json:"violations" doc:"rules broken that always hold, by circuit"`
	Tolerance  number                    `json:"tolerance" doc:"relative deviation that is allowed"`
	Energy     extremeDocument           `json:"energy" doc:"largest deviation of the energy balance, relative"`
	Kirchhoff  extremeDocument           `json:"kirchhoff" doc:"largest sum of currents at a node, relative"`
	Switchings extremeDocument           `json:"switchings" doc:"most changes of state in a half-cycle"`
}

type rejectionDocument struct {
	Kind    string `json:"kind" doc:"of the error"`
	Count   int    `json:"count" doc:"circuits"`
	Example uint64 `json:"example" doc:"number of the first of them"`
}

type surveyViolationDocument struct {
	Circuit uint64 `json:"circuit" doc:"its number"`
	Kind    string `json:"kind" doc:"panic, not finite, energy balance, Kirchhoff or unexplained error"`
	Detail  string `json:"detail" doc:"what was found"`
	Command string `json:"command" doc:"that looks at the circuit again"`
}

type extremeDocument struct {
	Value   number `json:"value" doc:"the largest"`
	Circuit uint64 `json:"circuit" doc:"number of the circuit that has it"`
}

func (s *survey) document() *surveyDocument {
	d := &surveyDocument{
		Schema: schemaName("survey"), Seed: s.options.seed, First: s.options.only, Asked: s.options.circuits, Done: s.done,
		HalfCycles: s.halves, Solved: s.solved, Rejected: []rejectionDocument{}, Violations: []surveyViolationDocument{}, Tolerance: surveyTolerance,
		Energy: s.energy.document(), Kirchhoff: s.kirchhoff.document(), Switchings: s.switchings.document(),
	}
	for _, r := range s.rejected {
		d.Rejected = append(d.Rejected, rejectionDocument{r.kind, r.count, r.example})
	}
	for _, v := range s.violations {
		d.Violations = append(d.Violations, surveyViolationDocument{v.circuit, v.kind, v.detail, v.command})
	}
	return d
}

func (e extreme) document() extremeDocument { return extremeDocument{number(e.value), e.circuit} }
