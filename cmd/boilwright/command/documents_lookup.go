package command

// The documents of what is looked up: faults and boards.

type faultsDocument struct {
	Schema  string              `json:"schema" doc:"kind and version of this document"`
	Caution string              `json:"caution" doc:"belongs beside every live test"`
	Faults  []faultDocument     `json:"faults" doc:"in the order of the catalogue"`
	Keys    []commonKeyDocument `json:"common_keys" doc:"that every fault takes"`
	Wetting []commonKeyDocument `json:"wetting_keys" doc:"that a film takes as well, to wet and dry"`

	Cascades []cascadeDocument `json:"cascades" doc:"known chains, in which one fault brings about the next"`
}

type cascadeDocument struct {
	Name   string   `json:"name" doc:"of the chain"`
	Title  string   `json:"title" doc:"the chain in a line"`
	What   string   `json:"what" doc:"why one leads to the next"`
	Faults []string `json:"faults" doc:"each as --fault takes it, with the word CHANNEL for the channel"`
}

type faultDocument struct {
	Name       string         `json:"name" doc:"as --fault takes it"`
	Part       string         `json:"part" doc:"what has failed"`
	Scope      string         `json:"scope" doc:"channel or board"`
	Title      string         `json:"title" doc:"in a few words"`
	What       string         `json:"what" doc:"what it is"`
	Physics    string         `json:"physics" doc:"what changes in circuit or heat"`
	Seen       string         `json:"seen" doc:"what it shows"`
	LookAlikes []string       `json:"look_alikes" doc:"faults that a first look mistakes it for"`
	Separates  []stepDocument `json:"separates" doc:"tests that keep them apart, unplugged ones first"`
	Danger     string         `json:"danger" doc:"caution that belongs beside a live test of it"`
	Graded     bool           `json:"graded" doc:"takes severities between 0 and 1"`
	Severity   string         `json:"severity" doc:"law from severity to what changes"`
	Lasting    bool           `json:"lasting" doc:"stays until a part is replaced: never intermittent"`
	Wets       bool           `json:"wets" doc:"a film, which takes the keys of wetting"`
	Keys       []keyDocument  `json:"keys" doc:"settings of its own"`
}

type stepDocument struct {
	Live bool   `json:"live" doc:"needs the supply connected: the caution applies"`
	Do   string `json:"do" doc:"what to do and what it tells"`
}

type keyDocument struct {
	Name      string   `json:"name" doc:"as written"`
	Dimension string   `json:"dimension" doc:"what it measures"`
	Default   string   `json:"default" doc:"value where none is given"`
	Choices   []string `json:"choices" doc:"words that it takes; empty for a quantity"`
	Least     string   `json:"least" doc:"least value; empty for words"`
	Greatest  string   `json:"greatest" doc:"greatest value; empty for words"`
	Doc       string   `json:"doc" doc:"meaning"`
}

type commonKeyDocument struct {
	Name    string `json:"name" doc:"as written"`
	Example string `json:"example" doc:"a value"`
	Doc     string `json:"doc" doc:"meaning"`
}

type boardsDocument struct {
	Schema string              `json:"schema" doc:"kind and version of this document"`
	Boards []boardListDocument `json:"boards" doc:"the default first"`
}

type boardListDocument struct {
	Name  string `json:"name" doc:"as a command takes it"`
	Title string `json:"title" doc:"of the board"`
}

type checkDocument struct {
	Schema string              `json:"schema" doc:"kind and version of this document"`
	Files  []checkFileDocument `json:"files" doc:"in the order given"`
}

type checkFileDocument struct {
	Name   string            `json:"name" doc:"of the file"`
	OK     bool              `json:"ok" doc:"nothing is wrong"`
	Errors []mistakeDocument `json:"errors" doc:"everything that is wrong, by position"`
}

type mistakeDocument struct {
	File     string `json:"file" doc:"where it is; a base's own name where it is there"`
	Line     int    `json:"line" doc:"from 1; 0 where there is no position"`
	Column   int    `json:"column" doc:"in characters from 1; 0 where there is no position"`
	Field    string `json:"field" doc:"key with its tables"`
	Found    string `json:"found" doc:"what is there"`
	Expected string `json:"expected" doc:"what should be there"`
	Message  string `json:"message" doc:"the whole line"`
}

type valuesDocument struct {
	Schema string          `json:"schema" doc:"kind and version of this document"`
	Board  boardDocument   `json:"board" doc:"that was read"`
	Values []valueDocument `json:"values" doc:"every value, in the order of the reference"`
}

type valueDocument struct {
	Path    string `json:"path" doc:"key with its tables"`
	Value   string `json:"value" doc:"in force"`
	Written string `json:"written" doc:"as written; of a default, how the reference gives it"`
	Source  string `json:"source" doc:"default, base or file"`
	File    string `json:"file" doc:"where it is written; empty for a default"`
	Line    int    `json:"line" doc:"from 1; 0 for a default"`
	Column  int    `json:"column" doc:"in characters from 1; 0 for a default"`
}
