package command

// The document of the demonstration.

type demoDocument struct {
	Schema   string              `json:"schema" doc:"kind and version of this document"`
	Notice   string              `json:"notice" doc:"what to keep in mind"`
	Caution  string              `json:"caution" doc:"belongs beside every live test"`
	Status   string              `json:"status" doc:"completed or interrupted"`
	Board    boardDocument       `json:"board" doc:"the embedded board, healthy"`
	Runs     []demoRunDocument   `json:"runs" doc:"the healthy hour, then one of each fault"`
	Readings []demoTableDocument `json:"readings" doc:"test points that tell each fault from a healthy board"`
	Reading  comparisonDocument  `json:"comparison" doc:"one given reading against simulated readings of every fault; not a full inference"`
	Files    []string            `json:"files" doc:"that were written"`
}

type demoRunDocument struct {
	Fault    string            `json:"fault" doc:"as --fault takes it; empty for the healthy board"`
	Status   string            `json:"status" doc:"completed or interrupted"`
	Duration number            `json:"duration_s" doc:"simulated time"`
	Plug     number            `json:"plug_j" doc:"energy through the plug"`
	Outcomes []outcomeDocument `json:"outcomes" doc:"by channel"`
}

type demoTableDocument struct {
	Fault string            `json:"fault" doc:"as --fault takes it"`
	State string            `json:"state" doc:"standby or heating"`
	Same  int               `json:"same" doc:"test points that read as on the healthy board"`
	Rows  []demoRowDocument `json:"rows" doc:"test points that do not"`
}

type demoRowDocument struct {
	Point   string `json:"point" doc:"test point"`
	Meter   string `json:"meter" doc:"name of the meter"`
	Healthy number `json:"healthy_v" doc:"display on the healthy board"`
	Faulty  number `json:"faulty_v" doc:"display with the fault"`
	Within  number `json:"uncertainty_v" doc:"plus or minus, of the latter"`
}

type comparisonDocument struct {
	Point       string              `json:"point" doc:"test point"`
	State       string              `json:"state" doc:"of the board"`
	Meter       string              `json:"meter" doc:"name of the meter"`
	Shown       number              `json:"shown_v" doc:"the given display"`
	Uncertainty number              `json:"uncertainty_v" doc:"plus or minus"`
	Fits        []candidateDocument `json:"fits" doc:"faults whose simulated reading lies within the uncertainty"`
	Excluded    []candidateDocument `json:"excluded" doc:"the others"`
	Next        []nextDocument      `json:"next" doc:"an unplugged test of those that fit"`
}

type candidateDocument struct {
	Fault string `json:"fault" doc:"name; empty for the healthy board"`
	Shown number `json:"shown_v" doc:"simulated display"`
}

type nextDocument struct {
	Fault   string   `json:"fault" doc:"name"`
	Forward optional `json:"forward_v" doc:"diode test across the triac, positive lead on MT2; null if open"`
	Reverse optional `json:"reverse_v" doc:"the other way round; null if open"`
}
