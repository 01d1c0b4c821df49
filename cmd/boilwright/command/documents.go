package command

import "boilwright/sim/population/dataset"

// documents are the kinds of document that --json prints.
var documents = []documentKind{
	{"demo", "boilwright demo --json", demoDocument{}},
	{"run", "boilwright run --json", runDocument{}},
	{"readings", "boilwright readings --json", readingsDocument{}},
	{"unplugged", "boilwright readings --state unplugged --json", unpluggedDocument{}},
	{"monitor", "boilwright monitor --json", monitorDocument{}},
	{"figure", "boilwright figure --json", figureDocument{}},
	{"disturbance", "boilwright disturbance --json", disturbanceDocument{}},
	{"recurrence", "boilwright recurrence --json", recurrenceDocument{}},
	{"population", "boilwright population --json", populationDocument{}},
	{"member", "boilwright population --out FILE --json", memberDocument{}},
	{"rules", "boilwright rules check FILE --json", rulesDocument{}},
	{"observables", "boilwright rules observables --json", observablesDocument{}},
	{"validation", "boilwright rules validate FILE --json", validationDocument{}},
	{"comparison", "boilwright rules compare FILE FILE --json", pairedRulesDocument{}},
	{"explanation", "boilwright rules explain FILE --index I --json", explanationDocument{}},
	{"data", "boilwright population data FILE --out FILE --json", dataDocument{}},
	{"dataset", "boilwright population data FILE --describe --json", dataset.Description{}},
	{"row", "boilwright population data FILE --out FILE --format lines --json", dataset.Line{}},
	{"waveform", "boilwright population data FILE --waveforms FILE --format lines --json", dataset.WaveLine{}},
	{"survey", "boilwright survey --json", surveyDocument{}},
	{"faults", "boilwright faults --json", faultsDocument{}},
	{"reference", "boilwright reference --json", referenceDocument{}},
	{"boards", "boilwright board list --json", boardsDocument{}},
	{"check", "boilwright board check --json", checkDocument{}},
	{"values", "boilwright board explain --json", valuesDocument{}},
	{"diagnosis", "boilwright diagnose --json", diagnosisDocument{}},
	{"alarm", "boilwright diagnose --alarm --json", alarmDocument{}},
	{"evaluation", "boilwright diagnose --evaluate N --json", evaluationDocument{}},
	{"version", "boilwright version --json", versionDocument{}},
}

type versionDocument struct {
	Schema   string `json:"schema" doc:"kind and version of this document"`
	Version  string `json:"version" doc:"of the program"`
	Go       string `json:"go" doc:"Go version that it was built with"`
	Platform string `json:"platform" doc:"operating system and processor"`
}

type boardDocument struct {
	Source   string   `json:"source" doc:"file or embedded name"`
	Name     string   `json:"name" doc:"title of the board"`
	Note     string   `json:"note" doc:"where its values come from"`
	Channels []string `json:"channels" doc:"names of the channels, in order"`
	Faults   []string `json:"faults" doc:"faults put in, each as --fault takes it"`
}
