package population

// Tolerances are the spreads of all parameters that are drawn. The zero value
// draws nothing; [Default] has a spread for each. What the bounds of each mean,
// its default and where that comes from is told by [Parameters], whose entries
// have the names of the fields of a board file.
type Tolerances struct {
	Supply     SupplyTolerances
	Ambient    AmbientTolerances
	Protection ProtectionTolerances
	Drive      DriveTolerances
	Opto       OptoTolerances
	Gate       GateTolerances
	Triac      TriacTolerances
	Snubber    SnubberTolerances
	Load       LoadTolerances
	Boiler     BoilerTolerances
	Housing    HousingTolerances
	Probe      ProbeTolerances
	Meters     MeterTolerances
}

// SupplyTolerances are those of the mains.
type SupplyTolerances struct {
	Voltage, Frequency Spread
	Impedance          Spread // one factor on all resistances and inductances
	Earth              Spread // resistance of the protective earth
}

// AmbientTolerances are those of the surroundings.
type AmbientTolerances struct {
	Temperature Spread // parts that start at room temperature follow it
	Pressure    Spread
}

// ProtectionTolerances are those of what protects the board.
type ProtectionTolerances struct {
	Residual Spread // fraction of the rated current at which it trips
	Fuse     Spread // melting integral
}

// DriveTolerances are those of the control side.
type DriveTolerances struct {
	Voltage    Spread // of the drive when on
	Resistance Spread // in series with the LED
}

// OptoTolerances are those of the opto.
type OptoTolerances struct {
	Forward, Trigger, Threshold, Slope, Off, Window, Holding Spread
	// Excess is of I_LP/I_HP − 1, so that the latching current stays above the
	// holding current.
	Excess Spread
}

// GateTolerances are those of the gate's resistors.
type GateTolerances struct{ Resistance, Shunt Spread }

// TriacTolerances are those of the triac.
type TriacTolerances struct {
	Threshold, Slope, Off, GateThreshold Spread
	// Trigger is of I_GT in all quadrants; Imbalance multiplies it where MT2 is
	// positive and divides it where MT2 is negative.
	Trigger, Imbalance Spread
	Holding            Spread
	// Excess is of I_L/I_H − 1, so that the latching current stays above the
	// holding current at every temperature.
	Excess                      Spread
	StaticRate, CommutatingRate Spread
}

// SnubberTolerances are those of the snubber.
type SnubberTolerances struct{ Resistance, Capacitance Spread }

// LoadTolerances are those of the path from the triac to the element.
type LoadTolerances struct {
	Wire       Spread
	Link       Spread // functioning temperature
	Thermostat Spread // both of its temperatures
	Element    Spread // resistance
	Insulation Spread
	Capacity   Spread // heat capacity of the element
}

// BoilerTolerances are those of a boiler with its water.
type BoilerTolerances struct {
	Water, Scale, Inlet                                  Spread
	ElementToWater, WaterToShell, ShellToLid, ShellToAir Spread
	ShellCapacity                                        Spread
	Relief                                               Spread // gauge pressures of opening and closing
	Coupling                                             Spread // to another boiler
}

// HousingTolerances are those of the lid and of the board's pocket.
type HousingTolerances struct{ Lid, LidToPocket, LidToAir, Pocket, PocketToAir Spread }

// ProbeTolerances are those of a temperature probe.
type ProbeTolerances struct{ Offset, ToWater, Capacity Spread }

// MeterTolerances are those of a meter's calibration: bounds as parts of its
// stated accuracy.
type MeterTolerances struct {
	Gain        Spread // of the part of the reading
	Counts      Spread // of the counts of the display
	ClampGain   Spread // the same of a clamp ammeter
	ClampCounts Spread
	Monitor     Spread // of the energy monitor's part of the reading
}

// Default returns the default of every spread.
func Default() Tolerances {
	var t Tolerances
	for i := range parameters {
		*parameters[i].spread(&t) = parameters[i].Default
	}
	return t
}
