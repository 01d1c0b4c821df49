package quantity

// The methods of the named types. Dimension tells which dimension a type has;
// String prints with an engineering prefix and the fewest digits that read
// back as the same value; MarshalText and UnmarshalText write and read the
// same form, so that encoding/json and flag packages show "1.5 kΩ".

// Dimension returns the dimension of the type.
func (Volt) Dimension() Dimension                { return Voltage }
func (Ampere) Dimension() Dimension              { return Current }
func (Ohm) Dimension() Dimension                 { return Resistance }
func (Siemens) Dimension() Dimension             { return Conductance }
func (Farad) Dimension() Dimension               { return Capacitance }
func (Henry) Dimension() Dimension               { return Inductance }
func (Watt) Dimension() Dimension                { return Power }
func (Joule) Dimension() Dimension               { return Energy }
func (Celsius) Dimension() Dimension             { return Temperature }
func (Kelvin) Dimension() Dimension              { return TemperatureDifference }
func (PerKelvin) Dimension() Dimension           { return TemperatureCoefficient }
func (KelvinPerWatt) Dimension() Dimension       { return ThermalResistance }
func (WattPerKelvin) Dimension() Dimension       { return ThermalConductance }
func (JoulePerKelvin) Dimension() Dimension      { return HeatCapacity }
func (Hertz) Dimension() Dimension               { return Frequency }
func (Second) Dimension() Dimension              { return Time }
func (Kilogram) Dimension() Dimension            { return Mass }
func (KilogramPerSecond) Dimension() Dimension   { return MassFlow }
func (Pascal) Dimension() Dimension              { return Pressure }
func (VoltPerSecond) Dimension() Dimension       { return VoltageRate }
func (AmperePerSecond) Dimension() Dimension     { return CurrentRate }
func (AmpereSquaredSecond) Dimension() Dimension { return MeltingIntegral }
func (Degree) Dimension() Dimension              { return Angle }
func (Ratio) Dimension() Dimension               { return Number }

func (x Volt) String() string                { return Format(Voltage, float64(x)) }
func (x Ampere) String() string              { return Format(Current, float64(x)) }
func (x Ohm) String() string                 { return Format(Resistance, float64(x)) }
func (x Siemens) String() string             { return Format(Conductance, float64(x)) }
func (x Farad) String() string               { return Format(Capacitance, float64(x)) }
func (x Henry) String() string               { return Format(Inductance, float64(x)) }
func (x Watt) String() string                { return Format(Power, float64(x)) }
func (x Joule) String() string               { return Format(Energy, float64(x)) }
func (x Celsius) String() string             { return Format(Temperature, float64(x)) }
func (x Kelvin) String() string              { return Format(TemperatureDifference, float64(x)) }
func (x PerKelvin) String() string           { return Format(TemperatureCoefficient, float64(x)) }
func (x KelvinPerWatt) String() string       { return Format(ThermalResistance, float64(x)) }
func (x WattPerKelvin) String() string       { return Format(ThermalConductance, float64(x)) }
func (x JoulePerKelvin) String() string      { return Format(HeatCapacity, float64(x)) }
func (x Hertz) String() string               { return Format(Frequency, float64(x)) }
func (x Second) String() string              { return Format(Time, float64(x)) }
func (x Kilogram) String() string            { return Format(Mass, float64(x)) }
func (x KilogramPerSecond) String() string   { return Format(MassFlow, float64(x)) }
func (x Pascal) String() string              { return Format(Pressure, float64(x)) }
func (x VoltPerSecond) String() string       { return Format(VoltageRate, float64(x)) }
func (x AmperePerSecond) String() string     { return Format(CurrentRate, float64(x)) }
func (x AmpereSquaredSecond) String() string { return Format(MeltingIntegral, float64(x)) }
func (x Degree) String() string              { return Format(Angle, float64(x)) }
func (x Ratio) String() string               { return Format(Number, float64(x)) }

// MarshalText writes what String prints; a value that cannot be read back is
// an error.
func (x Volt) MarshalText() ([]byte, error)              { return marshal(Voltage, float64(x)) }
func (x Ampere) MarshalText() ([]byte, error)            { return marshal(Current, float64(x)) }
func (x Ohm) MarshalText() ([]byte, error)               { return marshal(Resistance, float64(x)) }
func (x Siemens) MarshalText() ([]byte, error)           { return marshal(Conductance, float64(x)) }
func (x Farad) MarshalText() ([]byte, error)             { return marshal(Capacitance, float64(x)) }
func (x Henry) MarshalText() ([]byte, error)             { return marshal(Inductance, float64(x)) }
func (x Watt) MarshalText() ([]byte, error)              { return marshal(Power, float64(x)) }
func (x Joule) MarshalText() ([]byte, error)             { return marshal(Energy, float64(x)) }
func (x Celsius) MarshalText() ([]byte, error)           { return marshal(Temperature, float64(x)) }
func (x Kelvin) MarshalText() ([]byte, error)            { return marshal(TemperatureDifference, float64(x)) }
func (x PerKelvin) MarshalText() ([]byte, error)         { return marshal(TemperatureCoefficient, float64(x)) }
func (x KelvinPerWatt) MarshalText() ([]byte, error)     { return marshal(ThermalResistance, float64(x)) }
func (x WattPerKelvin) MarshalText() ([]byte, error)     { return marshal(ThermalConductance, float64(x)) }
func (x JoulePerKelvin) MarshalText() ([]byte, error)    { return marshal(HeatCapacity, float64(x)) }
func (x Hertz) MarshalText() ([]byte, error)             { return marshal(Frequency, float64(x)) }
func (x Second) MarshalText() ([]byte, error)            { return marshal(Time, float64(x)) }
func (x Kilogram) MarshalText() ([]byte, error)          { return marshal(Mass, float64(x)) }
func (x KilogramPerSecond) MarshalText() ([]byte, error) { return marshal(MassFlow, float64(x)) }
func (x Pascal) MarshalText() ([]byte, error)            { return marshal(Pressure, float64(x)) }
func (x VoltPerSecond) MarshalText() ([]byte, error)     { return marshal(VoltageRate, float64(x)) }
func (x AmperePerSecond) MarshalText() ([]byte, error)   { return marshal(CurrentRate, float64(x)) }
func (x AmpereSquaredSecond) MarshalText() ([]byte, error) {
	return marshal(MeltingIntegral, float64(x))
}
func (x Degree) MarshalText() ([]byte, error) { return marshal(Angle, float64(x)) }
func (x Ratio) MarshalText() ([]byte, error)  { return marshal(Number, float64(x)) }

// UnmarshalText reads what [Parse] reads; the value is left alone on an error.
func (x *Volt) UnmarshalText(b []byte) error    { return unmarshal((*float64)(x), Voltage, b) }
func (x *Ampere) UnmarshalText(b []byte) error  { return unmarshal((*float64)(x), Current, b) }
func (x *Ohm) UnmarshalText(b []byte) error     { return unmarshal((*float64)(x), Resistance, b) }
func (x *Siemens) UnmarshalText(b []byte) error { return unmarshal((*float64)(x), Conductance, b) }
func (x *Farad) UnmarshalText(b []byte) error   { return unmarshal((*float64)(x), Capacitance, b) }
func (x *Henry) UnmarshalText(b []byte) error   { return unmarshal((*float64)(x), Inductance, b) }
func (x *Watt) UnmarshalText(b []byte) error    { return unmarshal((*float64)(x), Power, b) }
func (x *Joule) UnmarshalText(b []byte) error   { return unmarshal((*float64)(x), Energy, b) }
func (x *Celsius) UnmarshalText(b []byte) error { return unmarshal((*float64)(x), Temperature, b) }
func (x *Kelvin) UnmarshalText(b []byte) error {
	return unmarshal((*float64)(x), TemperatureDifference, b)
}
func (x *PerKelvin) UnmarshalText(b []byte) error {
	return unmarshal((*float64)(x), TemperatureCoefficient, b)
}
func (x *KelvinPerWatt) UnmarshalText(b []byte) error {
	return unmarshal((*float64)(x), ThermalResistance, b)
}
func (x *WattPerKelvin) UnmarshalText(b []byte) error {
	return unmarshal((*float64)(x), ThermalConductance, b)
}
func (x *JoulePerKelvin) UnmarshalText(b []byte) error {
	return unmarshal((*float64)(x), HeatCapacity, b)
}
func (x *Hertz) UnmarshalText(b []byte) error    { return unmarshal((*float64)(x), Frequency, b) }
func (x *Second) UnmarshalText(b []byte) error   { return unmarshal((*float64)(x), Time, b) }
func (x *Kilogram) UnmarshalText(b []byte) error { return unmarshal((*float64)(x), Mass, b) }
func (x *KilogramPerSecond) UnmarshalText(b []byte) error {
	return unmarshal((*float64)(x), MassFlow, b)
}
func (x *Pascal) UnmarshalText(b []byte) error { return unmarshal((*float64)(x), Pressure, b) }
func (x *VoltPerSecond) UnmarshalText(b []byte) error {
	return unmarshal((*float64)(x), VoltageRate, b)
}
func (x *AmperePerSecond) UnmarshalText(b []byte) error {
	return unmarshal((*float64)(x), CurrentRate, b)
}
func (x *AmpereSquaredSecond) UnmarshalText(b []byte) error {
	return unmarshal((*float64)(x), MeltingIntegral, b)
}
func (x *Degree) UnmarshalText(b []byte) error { return unmarshal((*float64)(x), Angle, b) }
func (x *Ratio) UnmarshalText(b []byte) error  { return unmarshal((*float64)(x), Number, b) }
