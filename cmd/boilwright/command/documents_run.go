package command

// The document of the command run.

type runDocument struct {
	Schema       string                `json:"schema" doc:"kind and version of this document"`
	Notice       string                `json:"notice" doc:"what to keep in mind"`
	Board        boardDocument         `json:"board" doc:"what was simulated"`
	Seed         uint64                `json:"seed" doc:"of what is random"`
	Status       string                `json:"status" doc:"completed or interrupted"`
	Duration     number                `json:"duration_s" doc:"simulated time"`
	Asked        number                `json:"asked_s" doc:"simulated time that was asked for"`
	Outcomes     []outcomeDocument     `json:"outcomes" doc:"by channel"`
	Supply       supplyDocument        `json:"supply" doc:"energy through the supply lead"`
	Heat         heatDocument          `json:"heat" doc:"energy account of boilers, lid and board pocket: in = stored + ambient + carried"`
	Events       []eventDocument       `json:"events" doc:"in order of time"`
	Samples      []sampleDocument      `json:"samples" doc:"in order of time"`
	Requirements []requirementDocument `json:"requirements" doc:"what --require stated"`
	Stats        statsDocument         `json:"stats" doc:"the work of the run"`
}

type outcomeDocument struct {
	Channel    string   `json:"channel" doc:"its name"`
	SetPoint   number   `json:"set_point_degc" doc:"of its controller"`
	Reached    optional `json:"reached_s" doc:"when the probe's reading first came into band"`
	Peak       number   `json:"peak_degc" doc:"highest water temperature"`
	PeakAt     number   `json:"peak_at_s" doc:"when that was"`
	Final      number   `json:"final_degc" doc:"water temperature at the end"`
	Slope      number   `json:"slope_k_per_min" doc:"rate of the water's temperature over the last tenth, kelvins a minute"`
	LinkOpened optional `json:"link_opened_s" doc:"when its thermal link opened"`
	Boiled     optional `json:"boiled_s" doc:"when its water began to boil"`
	Dry        optional `json:"dry_s" doc:"when it ran dry"`
	Drifts     int      `json:"drifts" doc:"times it left the band after having been in it"`
	Energy     number   `json:"element_j" doc:"energy into its element"`
	Verdict    string   `json:"verdict" doc:"what became of its temperature"`
}

type supplyDocument struct {
	Source number `json:"source_j" doc:"out of the ideal source"`
	Wiring number `json:"wiring_j" doc:"lost in supply impedances and shared wiring"`
	Plug   number `json:"plug_j" doc:"through the plug: source - wiring"`
}

type heatDocument struct {
	In      number `json:"in_j" doc:"put in"`
	Stored  number `json:"stored_j" doc:"gained by nodes and water"`
	Ambient number `json:"ambient_j" doc:"lost to the room"`
	Carried number `json:"carried_j" doc:"left with water and steam, less what the cold supply brought"`
}

type eventDocument struct {
	Time    number   `json:"time_s" doc:"since the start"`
	Channel nullable `json:"channel" doc:"its name; null for an event of none"`
	Kind    string   `json:"kind" doc:"what happened"`
	Detail  string   `json:"detail" doc:"more, or empty"`
}

type sampleDocument struct {
	Time     number                  `json:"time_s" doc:"since the start"`
	Lid      number                  `json:"lid_degc" doc:"the lid over all boilers"`
	Pocket   number                  `json:"pocket_degc" doc:"around the circuit board"`
	Power    number                  `json:"power_w" doc:"through the plug, mean since the sample before"`
	Current  number                  `json:"current_a" doc:"rms, over the same time"`
	Controls bool                    `json:"controls" doc:"controls are on"`
	Channels []channelSampleDocument `json:"channels" doc:"by channel"`
}

type channelSampleDocument struct {
	Element   number `json:"element_degc" doc:"element"`
	Water     number `json:"water_degc" doc:"water"`
	Shell     number `json:"shell_degc" doc:"shell of the boiler"`
	Link      number `json:"link_degc" doc:"thermal link"`
	Junction  number `json:"junction_degc" doc:"junction of the triac"`
	Probe     number `json:"probe_degc" doc:"the probe itself"`
	Reading   number `json:"reading_degc" doc:"what the controller takes the probe for"`
	Mass      number `json:"mass_kg" doc:"water in the boiler"`
	Pressure  number `json:"pressure_pa" doc:"over the water, absolute"`
	Drive     number `json:"drive" doc:"fraction of cycles driven since the sample before"`
	Power     number `json:"power_w" doc:"of the element, mean since the sample before"`
	Indicator string `json:"indicator" doc:"what the channel's lamp shows"`
	LinkOpen  bool   `json:"link_open" doc:"its thermal link has opened"`
}

type requirementDocument struct {
	Text string `json:"text" doc:"as stated"`
	Met  bool   `json:"met" doc:"whether it is met"`
	Why  string `json:"why" doc:"what was found"`
}

type statsDocument struct {
	HalfCycles  int64    `json:"half_cycles" doc:"half-cycles simulated"`
	Solved      int64    `json:"solved" doc:"half-cycles whose circuit was solved; the others are equal to one of these"`
	Versions    int      `json:"versions" doc:"versions of the board that faults made"`
	Narrow      bool     `json:"narrow" doc:"in some half-cycle whose solution was used again a triac fired late, was near what it withstands, or a gate path or a snubber carried the load's current: energies are good to about 1e-4, with --approximate to some per cent where a triac just begins to fail; --full solves every half-cycle"`
	Approximate bool     `json:"approximate" doc:"a triac was near firing by itself, and half-cycles after that were not solved one by one (--approximate)"`
	Exact       optional `json:"exact_from_s" doc:"time from which every half-cycle was solved, as a triac was near firing by itself; null for never"`
}
