package command

import (
	"time"

	"boilwright/sim"
)

func (o *runOptions) document(t *target, r *sim.Result, verdicts []verdict) *runDocument {
	d := &runDocument{
		Schema: schemaName("run"), Notice: notice, Board: t.document(), Seed: o.seed,
		Status: r.Status.String(), Duration: number(r.Duration.Seconds()), Asked: number(time.Duration(o.duration).Seconds()),
		Outcomes: outcomeDocuments(r),
		Supply:   supplyDocument{number(r.Supply.Source), number(r.Supply.Wiring), number(r.Supply.Plug)},
		Heat:     heatDocument{number(r.Heat.In), number(r.Heat.Stored), number(r.Heat.Ambient), number(r.Heat.Carried)},
		Events:   []eventDocument{}, Samples: []sampleDocument{}, Requirements: []requirementDocument{},
		Stats: statsDocument{r.Stats.HalfCycles, r.Stats.Solved, r.Stats.Versions, r.Stats.Narrow, r.Stats.Approximate, seconds(r.Stats.Exact)},
	}
	for _, e := range r.Events {
		x := eventDocument{Time: number(e.Time.Seconds()), Kind: string(e.Kind), Detail: e.Detail}
		if e.Channel >= 0 {
			x.Channel = nullable(t.names[e.Channel])
		}
		d.Events = append(d.Events, x)
	}
	for _, s := range r.Samples {
		x := sampleDocument{
			Time: number(s.Time.Seconds()), Lid: number(s.Lid), Pocket: number(s.Pocket),
			Power: number(s.Power), Current: number(s.Current), Controls: s.Controls,
		}
		for _, c := range s.Channels {
			x.Channels = append(x.Channels, channelSampleDocument{
				Element: number(c.Element), Water: number(c.Water), Shell: number(c.Shell), Link: number(c.Link), Junction: number(c.Junction),
				Probe: number(c.Probe), Reading: number(c.Reading), Mass: number(c.Mass), Pressure: number(c.Pressure),
				Drive: number(c.Drive), Power: number(c.Power), Indicator: c.Indicator.String(), LinkOpen: c.LinkOpen,
			})
		}
		d.Samples = append(d.Samples, x)
	}
	for _, v := range verdicts {
		d.Requirements = append(d.Requirements, requirementDocument{v.text, v.met, v.why})
	}
	return d
}

func outcomeDocuments(r *sim.Result) []outcomeDocument {
	out := []outcomeDocument{}
	if len(r.Samples) == 0 { // interrupted before anything was simulated
		return out
	}
	for k, x := range r.Outcomes {
		out = append(out, outcomeDocument{
			Channel: x.Channel, SetPoint: number(r.Board.Channels[k].Control.SetPoint), Reached: seconds(x.Reached),
			Peak: number(x.Peak), PeakAt: number(x.PeakAt.Seconds()), Final: number(x.Final), Slope: number(x.Slope),
			LinkOpened: seconds(x.LinkOpened), Boiled: seconds(x.Boiled), Dry: seconds(x.Dry), Drifts: x.Drifts,
			Energy: number(elementEnergy(r, k)), Verdict: string(x.Verdict),
		})
	}
	return out
}
