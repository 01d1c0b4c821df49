package rules

import (
	"fmt"
	"slices"
	"strings"

	"boilwright/models"
	"boilwright/sim/population/evidence"
)

// Arguments that may be left out.
const (
	meterArg   = "meter"
	clampArg   = "clamp"
	channelArg = "channel"
	pointArg   = "point"
	leadArg    = "lead"
)

// inHand reports whether the observable is read with the meter in hand.
func (r *reference) inHand() bool {
	return len(r.args) == len(r.form.Args)-1 && slices.Contains(r.form.Args, meterArg)
}

// find returns the observable on channel k (-1 for none) with meter m in hand:
// a point without a channel is one of this channel, and a channel that is left
// out is this one; a clamp that is left out is the board's only one.
func (r *reference) find(b *models.Board, k, m int) (evidence.Observable, error) {
	args := slices.Clone(r.args)
	if len(args) == len(r.form.Args)-1 {
		for j, name := range r.form.Args {
			switch {
			case name == meterArg && m < len(b.Meters):
				args = slices.Insert(args, min(j, len(args)), b.Meters[m].Name)
			case name == clampArg && len(b.Clamps) == 1:
				args = slices.Insert(args, min(j, len(args)), b.Clamps[0].Name)
			case name == channelArg && k >= 0:
				args = slices.Insert(args, min(j, len(args)), b.Channels[k].Name)
			}
		}
	}
	if k >= 0 && len(args) > 0 && (r.form.Args[0] == pointArg || r.form.Args[0] == leadArg) && !strings.Contains(args[0], ":") {
		if o, err := evidence.Find(b, r.form.Name, args...); err == nil {
			return o, nil
		}
		args[0] = b.Channels[k].Name + ":" + args[0]
	}
	return evidence.Find(b, r.form.Name, args...)
}

// told turns the error of an observable into a mistake.
func told(ref *reference, err error) fault {
	f := fault{at: ref.at, found: err.Error(), expected: written(ref.form)}
	text := strings.TrimPrefix(err.Error(), ref.form.Name+": ")
	if found, expected, ok := strings.Cut(strings.TrimPrefix(text, "found "), ", expected "); ok {
		f.found, f.expected = found, short(expected)
	}
	return f
}

// short leaves out most of a long list of names.
func short(expected string) string {
	const most = 8
	list, meant, _ := strings.Cut(expected, "; ")
	names := strings.Split(list, ", ")
	if len(names) <= most+1 {
		return expected
	}
	list = strings.Join(names[:most], ", ") + fmt.Sprintf(" … (%d in all)", len(names))
	if meant != "" {
		list += "; " + meant
	}
	return list
}
