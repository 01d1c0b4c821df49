package command

// The documents of readings, the energy monitor and figures.

type readingsDocument struct {
	Schema      string            `json:"schema" doc:"kind and version of this document"`
	Notice      string            `json:"notice" doc:"what to keep in mind"`
	Caution     string            `json:"caution" doc:"belongs beside every live test"`
	Board       boardDocument     `json:"board" doc:"what was measured"`
	State       string            `json:"state" doc:"standby, heating or holding"`
	Temperature number            `json:"temperature_degc" doc:"of elements, junctions and board"`
	Readings    []readingDocument `json:"readings" doc:"by test point, then by meter"`
	Currents    []currentDocument `json:"currents" doc:"by lead, then by clamp ammeter"`
}

type readingDocument struct {
	Point       string `json:"point" doc:"test point"`
	Title       string `json:"title" doc:"where the leads go"`
	Live        bool   `json:"live" doc:"a live test: the caution applies"`
	Meter       string `json:"meter" doc:"name of the meter"`
	Indicated   number `json:"indicated_v" doc:"what the detector makes of the waveform"`
	Shown       number `json:"shown_v" doc:"what the display shows"`
	Resolution  number `json:"resolution_v" doc:"step of the display"`
	Uncertainty number `json:"uncertainty_v" doc:"plus or minus, from the meter's accuracy"`
	Over        bool   `json:"over" doc:"out of every range"`
	Varies      bool   `json:"varies" doc:"it depends on when the reading is taken"`
	Low         number `json:"low_v" doc:"least display, where it varies"`
	High        number `json:"high_v" doc:"greatest display, where it varies"`
}

type currentDocument struct {
	Lead        string `json:"lead" doc:"conductor that the clamp goes round"`
	Title       string `json:"title" doc:"which conductor that is"`
	Live        bool   `json:"live" doc:"a live test: the caution applies"`
	Clamp       string `json:"clamp" doc:"name of the clamp ammeter"`
	Indicated   number `json:"indicated_a" doc:"what the detector makes of the waveform"`
	Shown       number `json:"shown_a" doc:"what the display shows"`
	Resolution  number `json:"resolution_a" doc:"step of the display"`
	Uncertainty number `json:"uncertainty_a" doc:"plus or minus, from the clamp's accuracy"`
	Over        bool   `json:"over" doc:"out of every range"`
	Varies      bool   `json:"varies" doc:"it depends on when the reading is taken"`
	Low         number `json:"low_a" doc:"least display, where it varies"`
	High        number `json:"high_a" doc:"greatest display, where it varies"`
}

type unpluggedDocument struct {
	Schema      string         `json:"schema" doc:"kind and version of this document"`
	Notice      string         `json:"notice" doc:"what to keep in mind"`
	Caution     string         `json:"caution" doc:"belongs beside every test"`
	Board       boardDocument  `json:"board" doc:"what was measured"`
	Temperature number         `json:"temperature_degc" doc:"of elements and junctions"`
	Lifted      []string       `json:"lifted" doc:"branches taken out of circuit"`
	Tests       []testDocument `json:"tests" doc:"by test point, then by instrument, then by way round"`
}

type testDocument struct {
	Point    string   `json:"point" doc:"test point; of an insulation test, where it goes"`
	Test     string   `json:"test" doc:"instrument"`
	Reversed bool     `json:"reversed" doc:"the leads are the other way round"`
	Plus     string   `json:"plus" doc:"node of the positive lead"`
	Minus    string   `json:"minus" doc:"node of the negative lead"`
	Ohms     optional `json:"resistance_ohm" doc:"of ohmmeter, continuity and insulation tests; null if open"`
	Volts    optional `json:"drop_v" doc:"of the diode test; null if open"`
	Open     bool     `json:"open" doc:"reads open"`
	Beeps    bool     `json:"beeps" doc:"continuity found"`
}

type monitorDocument struct {
	Schema string                `json:"schema" doc:"kind and version of this document"`
	Notice string                `json:"notice" doc:"what to keep in mind"`
	Board  boardDocument         `json:"board" doc:"what was measured"`
	Rows   []combinationDocument `json:"combinations" doc:"the first channel slowest, then those with half-waves of both polarities"`
}

type combinationDocument struct {
	Number      int      `json:"number" doc:"of the row, from 1"`
	Modes       []string `json:"modes" doc:"off, half, on, or reversed for a half-wave of the other polarity, by channel"`
	Opposed     bool     `json:"opposed" doc:"half-waves of different polarity are among them"`
	Power       number   `json:"power_w" doc:"shown"`
	PowerLow    number   `json:"power_low_w" doc:"least, with tolerances and the monitor's accuracy"`
	PowerHigh   number   `json:"power_high_w" doc:"greatest"`
	Current     number   `json:"current_a" doc:"shown, rms"`
	CurrentLow  number   `json:"current_low_a" doc:"least"`
	CurrentHigh number   `json:"current_high_a" doc:"greatest"`
	SamePower   []int    `json:"same_power" doc:"rows that it cannot be told from in watts"`
	SameCurrent []int    `json:"same_current" doc:"rows that it cannot be told from in amperes"`
	Same        []int    `json:"same" doc:"rows that it cannot be told from in both together"`
}

type figureDocument struct {
	Schema  string        `json:"schema" doc:"kind and version of this document"`
	Board   boardDocument `json:"board" doc:"what is shown"`
	Title   string        `json:"title" doc:"of the figure"`
	Caption string        `json:"caption" doc:"under the figure"`
	Alt     string        `json:"alt" doc:"what it shows, in words"`
	Files   []string      `json:"files" doc:"that were written"`
}
