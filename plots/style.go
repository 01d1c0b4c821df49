package plots

import "image/color"

// The palette for colour-blind readers of M. Okabe and K. Ito, "Color
// Universal Design (CUD): how to make figures and presentations that are
// friendly to colorblind people", 2002, revised 2008.
var (
	black         = color.RGBA{0, 0, 0, 255}
	orange        = color.RGBA{230, 159, 0, 255}
	skyBlue       = color.RGBA{86, 180, 233, 255}
	bluishGreen   = color.RGBA{0, 158, 115, 255}
	yellow        = color.RGBA{240, 228, 66, 255}
	blue          = color.RGBA{0, 114, 178, 255}
	vermillion    = color.RGBA{213, 94, 0, 255}
	reddishPurple = color.RGBA{204, 121, 167, 255}
)

// Neutral tones.
var (
	white = color.RGBA{255, 255, 255, 255}
	ink   = color.RGBA{32, 32, 32, 255}    // text
	slate = color.RGBA{96, 96, 96, 255}    // axes, leaders, secondary text
	mist  = color.RGBA{222, 222, 222, 255} // gridlines
)

// Sizes in points. The default sheet is 512 pt (180.6 mm) wide, so that it
// fits the text width of an A4 page at full size, where the smallest text is
// 8 pt; 1600 pixels across it are 225 to the inch.
const (
	defaultWidth  = 512.0
	defaultPixels = 1600
	minWidth      = 400.0
	maxWidth      = 2000.0

	margin      = 8.0
	titleSize   = 12.5
	headSize    = 9.0
	textSize    = 8.0 // the smallest
	lineHeight  = 10.5
	titleHeight = 15.5
	tickLength  = 3.0
	leftGutter  = 46.0
)

// Heights of panels in points.
const (
	supplyPanel      = 62.0
	channelPanel     = 84.0
	gatePanel        = 38.0
	laneHeight       = 12.0
	temperaturePanel = 250.0
	powerPanel       = 56.0
	stripHeight      = 13.0
	cellPanel        = 78.0
	readingHeight    = 12.0
)

// stroke is how a line is drawn; lengths in points.
type stroke struct {
	color color.RGBA
	width float64
	dash  []float64
}

var (
	axisStroke   = stroke{color: slate, width: 0.6}
	gridStroke   = stroke{color: mist, width: 0.5}
	zeroStroke   = stroke{color: slate, width: 0.5}
	periodStroke = stroke{color: slate, width: 0.45, dash: []float64{1, 2.2}}
	leaderStroke = stroke{color: slate, width: 0.45}
	ruleStroke   = stroke{color: ink, width: 1.4}

	supplyStroke  = stroke{color: ink, width: 1.1}
	voltageStroke = stroke{color: blue, width: 1.3}
	currentStroke = stroke{color: vermillion, width: 1.1, dash: []float64{3.2, 1.4}}
	gateStroke    = stroke{color: bluishGreen, width: 1.1}
	markStroke    = stroke{color: ink, width: 0.55}
	currentFill   = tint(vermillion, 0.2)

	lidStroke    = stroke{color: slate, width: 1.1, dash: []float64{1.2, 1.8}}
	powerStroke  = stroke{color: ink, width: 0.8}
	powerFill    = tint(skyBlue, 0.35)
	eventStroke  = stroke{color: slate, width: 0.6}
	refStroke    = stroke{color: color.RGBA{198, 198, 198, 255}, width: 3.4}
	traceStroke  = stroke{color: blue, width: 1.2}
	barStroke    = stroke{color: slate, width: 0.8}
	whisker      = stroke{color: ink, width: 0.8}
	outlineInk   = stroke{color: ink, width: 0.6}
	separator    = stroke{color: mist, width: 0.7}
	outlineSlate = stroke{color: slate, width: 0.5}
)

// series are the looks of channels, in order; each differs in colour, dash and
// marker.
var series = []struct {
	color  color.RGBA
	dash   []float64
	marker marker
}{
	{blue, nil, disc},
	{vermillion, []float64{7, 2}, square},
	{bluishGreen, []float64{7, 2, 1.5, 2}, triangle},
	{reddishPurple, []float64{3, 1.6}, diamond},
	{orange, []float64{10, 2, 3, 2}, ring},
	{skyBlue, []float64{5, 1.5, 1.2, 1.5, 1.2, 1.5}, openSquare},
	{black, []float64{1.5, 1.5}, openTriangle},
}

// maxChannels is how many channels one figure can show apart.
var maxChannels = len(series)

// looks of the indicator states, for bars.
var indicatorLooks = [...]struct {
	fill    color.RGBA
	hatch   hatch
	letter  string
	text    color.RGBA
	urgency int // which state shows where several fall on one spot
}{
	IndicatorOff:     {white, noHatch, "O", ink, 0},
	IndicatorHeating: {tint(orange, 0.3), rising, "H", ink, 2},
	IndicatorInBand:  {tint(bluishGreen, 0.38), noHatch, "B", ink, 1},
	IndicatorDrifted: {tint(skyBlue, 0.25), crossed, "D", ink, 3},
	IndicatorOver:    {ink, noHatch, "T", white, 4},
}

// tint is the colour c at strength f on white paper, 0 to 1.
func tint(c color.RGBA, f float64) color.RGBA {
	mix := func(x uint8) uint8 { return uint8(255 - f*(255-float64(x)) + 0.5) }
	return color.RGBA{mix(c.R), mix(c.G), mix(c.B), 255}
}

// hatch is the pattern of an area.
type hatch int

const (
	noHatch hatch = iota
	rising
	crossed
)

// hatchPitch is the distance between hatch lines along the x axis, in points.
const hatchPitch = 4.5
