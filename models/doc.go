// Package models knows what one part of a three-channel heater controller is
// and how it behaves: supply, gate drive, opto, triac, element, boiler, probe,
// controller and meter, and the board that names them all. It is small
// structs with parameters and formulas.
//
// It does not know how parts become a network, how time moves, what a fault
// is, or how anything is read from a file or shown.
//
// Quantities are typed where a person sets them (package quantity) and SI
// float64 inside formulas; temperatures are in degrees Celsius.
//
// # Symbols
//
//	symbol        field                     meaning
//	V1, f         Supply.Voltage, Frequency fundamental of the supply
//	Rs, Ls        Supply.LineResistance …   line impedance
//	R_G, R_GK     Channel.GateResistance …  gate resistor, gate to MT1
//	V_T0, r_T     Triac.Threshold, Slope    on-state voltage V_T0 + r_T·i
//	g_off         Triac.Off                 off-state conductance at 25 °C
//	I_GT          Triac.Trigger             gate trigger current by quadrant
//	I_L, I_H      Triac.Latching, Holding   latching and holding current
//	I_FT          Opto.Trigger              LED trigger current
//	V_IH          Opto.Inhibit              zero-cross inhibit voltage
//	I_LP, I_HP    Opto.Latching, Holding    of the opto's output
//	T_f           ThermalLink.Functions     functioning temperature
//
// Letter symbols follow IEC 60747-6 (thyristors) and IEC 60747-5-5
// (optocouplers); standard numbers from memory.
package models
