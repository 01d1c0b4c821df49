// Package boardfile reads and writes boards as text: one strict TOML file a
// board, quantities written as people write them.
//
// One table of fields is the source of everything here: reading, defaults,
// bounds, the printed reference ([Reference]), the schema for editors
// ([Schema]), the account of where each value came from ([Explain]), writing
// ([Marshal]) and the check of a board made in any other way ([Check]).
//
// # A file
//
//	name = "one boiler"
//
//	[supply]
//	voltage = "230 V"
//	frequency = "50 Hz"
//
//	[channel.soak.element]
//	rating = "1200 W at 230 V"
//
//	[channel.soak.boiler]
//	water = "1.2 L"
//
//	[channel.soak.link]
//	functions = "112 °C"
//
//	[channel.soak.control]
//	set-point = "55 °C"
//
// These are the essentials; everything else has a default. A value under
// [every-channel] holds for all channels that don't set it themselves,
// wherever either is written. The key channels lists the channels in order;
// without it they count in the order in which their tables first appear.
//
// The key based-on starts from another board, an embedded one by its name or a
// file by its path from this file: tables are merged key by key, values and
// lists given here replace those of the base.
//
// Node names of a bridge count channels from 1, as [models.ParseNode] has it.
//
// # Errors
//
// Every mistake of a file is reported at once, sorted by position, one line
// each: file:line:column: field: found X, expected Y. Columns count
// characters from 1, and so do the elements of a list. A file larger than
// [MaxSize] is refused.
//
// The package does not know circuits: whether a board can be solved is found
// out elsewhere. The embedded boards are a demonstration and invented.
package boardfile
