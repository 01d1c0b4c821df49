// Package quantity holds the dimensions that people read and write, and how
// they are written: "1.5 kΩ", "10 nF", "118 °C", "2 bar gauge", "25 min".
//
// It knows a closed table of units for each dimension and a closed set of SI
// prefixes. It does not know which values make sense for a part: bounds belong
// to whoever reads the value. It does no arithmetic on quantities.
//
// # Writing
//
// A number with a decimal point, an optional exponent, optional spaces
// (no-break spaces too) and a unit:
//
//	1.5 kΩ    1.5kohm    1500 Ω    1.5e3 ohm
//
// The micro sign is µ, μ or u; the ohm is Ω (both code points) or ohm. A bare
// number is an error except for a [Ratio]. A decimal comma, a thousands
// separator, NaN and Inf are errors. An infinite resistance is written open,
// infinite or none; an infinite voltage, current or temperature scale infinite
// or none; a capacitor that is not fitted none, which is 0 F.
//
// Reading folds the prefix into the decimal exponent before the number is
// rounded to binary, so that "10 nF" is the same float64 as the literal 1e-8,
// and what [Format] prints reads back as the same float64. Units that are no
// power of ten (min, h, Wh, gauge pressure) are computed exactly and rounded
// once.
//
// Prefixes and unit symbols follow the SI Brochure, 9th edition (BIPM 2019),
// Tables 2, 4, 7 and 8.
package quantity
