package command

import (
	"time"

	"github.com/spf13/pflag"

	q "boilwright/models/quantity"
)

// durationValue is a flag for a time as people write it.
type durationValue time.Duration

var _ pflag.Value = (*durationValue)(nil)

func (d *durationValue) String() string { return q.FormatDuration(time.Duration(*d)) }
func (d *durationValue) Type() string   { return "TIME" }

func (d *durationValue) Set(text string) error {
	v, err := q.ParseDuration(text)
	if err != nil {
		return err
	}
	if v <= 0 {
		return misuse("found %s, expected more than 0", q.FormatDuration(v))
	}
	*d = durationValue(v)
	return nil
}

// quantityValue is a flag for a quantity as people write it.
type quantityValue[Q q.Quantity] struct {
	value    Q
	min, max float64 // both included
	typ      string
}

func (x *quantityValue[Q]) String() string { return q.Format(x.value.Dimension(), float64(x.value)) }
func (x *quantityValue[Q]) Type() string   { return x.typ }

func (x *quantityValue[Q]) Set(text string) error {
	v, err := q.As[Q](text)
	if err != nil {
		return err
	}
	if !(float64(v) >= x.min && float64(v) <= x.max) {
		d := v.Dimension()
		return misuse("found %s, expected %s to %s", q.Format(d, float64(v)), q.Format(d, x.min), q.Format(d, x.max))
	}
	x.value = v
	return nil
}
