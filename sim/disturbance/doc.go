// Package disturbance knows what a board does to the supply that feeds it:
// the conducted disturbances of low frequency, which are harmonics of current
// and voltage, and the fluctuations of voltage that make lamps flicker.
//
// [Harmonics] takes the components of any signal of the circuit's exact
// solution; [Windows] groups those of a burst. A [Flickermeter] gives the
// instantaneous flicker and P_st of a voltage, [Changes] the relative voltage
// changes d_c, d_max and d(t). [Assess] does all of it for a run of a board.
//
// # Symbols
//
//	n, N    order of a harmonic, 1 to 40; cycles of an analysis window
//	U, I    rms values of voltage between L and N, and of supply current
//	d(t)    change of the half-cycle rms voltage relative to U_n, in percent
//	P_inst  instantaneous flicker, 1 at the threshold of perception
//	P_st    short-term severity over 10 min, 1 at the threshold of irritation
//	P_lt    long-term severity over 12 of them, (Σ P_st³/12)^(1/3)
//
// # Sources
//
// The flickermeter is that of IEC 61000-4-15 edition 2 (2010), voltage changes
// follow IEC 61000-3-3, the grouping of spectral lines IEC 61000-4-7. Current
// limits are those of IEC 61000-3-2 class A, voltage limits those of EN 50160
// up to its 2010 edition. Each limit says where it comes from and which parts
// are from memory.
//
// # What it does not know
//
// It computes on the board's own supply, with its own source impedance and
// distortion: a test under the standards uses the reference impedance of
// IEC 60725 and a clean source, see [Assessment].Reference. Nothing above
// order 40 and no radio interference is considered. It is no certificate: a
// type test needs a real appliance and an accredited laboratory.
package disturbance
