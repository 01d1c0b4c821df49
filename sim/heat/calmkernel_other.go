//go:build !amd64

package heat

func calmBegin(g *calmLanes, p *rhythm, factor float64, nodes []float64) (near int) {
	return calmBeginPlain(g, p, factor, nodes)
}

func calmMeans(g *calmLanes, means *Lanes, p *rhythm, scale *Lanes) {
	calmMeansPlain(g, means, p, scale)
}

func calmAdvance(g *calmLanes, p *rhythm, element, link *Lanes, power float64, nodes []float64) (out int) {
	return calmAdvancePlain(g, p, element, link, power, nodes)
}

func calmDrawn(g *calmLanes) { calmDrawnPlain(g) }

func calmRedraw(g *calmLanes, p *rhythm, element, link *Lanes) (carried float64) {
	return calmRedrawPlain(g, p, element, link)
}

func spanJoin(s, first, then *calmSpan, d float64) { spanJoinPlain(s, first, then, d) }

func rhythmTotals(g *calmLanes, p *rhythm, s *calmSums, paces []Pace) (together int) {
	return rhythmTotalsPlain(g, p, s, paces)
}

func rhythmRespond(s *calmSums, paces []Pace, spans []calmSpan) {
	rhythmRespondPlain(s, paces, spans)
}

func rhythmGather(g *calmLanes, p *rhythm, s *calmSums) { rhythmGatherPlain(g, p, s) }
