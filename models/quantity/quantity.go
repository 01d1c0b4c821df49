package quantity

// The named types of every value that a person sets or reads. Each holds the
// SI base unit named in its comment; temperatures are in degrees Celsius.
// Inside a formula they are converted once to float64.
type (
	// Volt is an electric potential difference in volts.
	Volt float64
	// Ampere is an electric current in amperes.
	Ampere float64
	// Ohm is a resistance in ohms; +Inf is an open circuit.
	Ohm float64
	// Siemens is a conductance in siemens.
	Siemens float64
	// Farad is a capacitance in farads.
	Farad float64
	// Henry is an inductance in henries.
	Henry float64
	// Watt is a power in watts.
	Watt float64
	// Joule is an energy in joules.
	Joule float64
	// Celsius is a temperature in degrees Celsius.
	Celsius float64
	// Kelvin is a temperature difference in kelvins.
	Kelvin float64
	// PerKelvin is a relative change per kelvin.
	PerKelvin float64
	// KelvinPerWatt is a thermal resistance.
	KelvinPerWatt float64
	// WattPerKelvin is a thermal conductance.
	WattPerKelvin float64
	// JoulePerKelvin is a heat capacity.
	JoulePerKelvin float64
	// Hertz is a frequency in hertz.
	Hertz float64
	// Second is a time in seconds, for part properties such as time
	// constants; times that people set are time.Duration.
	Second float64
	// Kilogram is a mass in kilograms.
	Kilogram float64
	// KilogramPerSecond is a mass flow.
	KilogramPerSecond float64
	// Pascal is an absolute pressure in pascals.
	Pascal float64
	// VoltPerSecond is a rate of rise of voltage.
	VoltPerSecond float64
	// AmperePerSecond is a rate of change of current.
	AmperePerSecond float64
	// AmpereSquaredSecond is a melting integral I²t.
	AmpereSquaredSecond float64
	// Degree is an electrical angle in degrees.
	Degree float64
	// Ratio is a number without dimension; written 0.5 or 50 %.
	Ratio float64
)
