package faults

import (
	"slices"

	q "boilwright/models/quantity"
)

// catalogue is every fault, by part. Where a text says "common practice", it
// is a fact of the trade without a published source.
var catalogue = slices.Concat(triacFaults, optoFaults, gateFaults, driveFaults, contaminationFaults, loadFaults, boilerFaults, supplyFaults)

// Keys that several faults share.

func polarityKey(doc string) Key {
	return Key{Name: "polarity", Dimension: q.Number, Default: +1, Min: -1, Max: +1, Doc: doc,
		Choices: []Choice{{"positive", +1}, {"negative", -1}}}
}

func pathKey(ohms float64, doc string) Key {
	return Key{Name: "resistance", Dimension: q.Resistance, Default: ohms, Min: leastResistance, Max: nothing,
		Doc: "resistance " + doc + " at full severity"}
}

func thresholdKey(own string) Key {
	return Key{Name: "threshold", Dimension: q.Voltage, Own: own, Min: 0, Max: 400, Doc: "voltage above which the path conducts"}
}

func slopeKey(own string) Key {
	return Key{Name: "resistance", Dimension: q.Resistance, Own: own + ", at least 1 mΩ", Min: leastResistance, Max: nothing,
		Doc: "resistance of the path above its threshold at full severity"}
}

func factorKey(v float64, doc string) Key {
	return Key{Name: "factor", Dimension: q.Number, Default: v, Min: 1, Max: 1000, Doc: "factor " + doc}
}
