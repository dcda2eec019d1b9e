package main

import (
	"bytes"
	"image/color"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// The size of the picture and of its parts, in points of 1/72 in.
const (
	width       vg.Length = 720
	height      vg.Length = 345
	legendWidth vg.Length = 138
	margin      vg.Length = 8
	letters     vg.Length = 10.5
)

// aim is what the slowest of 100 pages must keep to, in ms, for many users.
const aim = 50

// styles tell pages apart by colour, by mark and by dashes, so that nothing hangs on colour alone. The colours are those of
// Okabe and Ito (Color Universal Design, 2008), which people with any colour vision can tell apart; the yellow, too pale for a
// line on white, is left out.
var (
	colours = []color.Color{
		color.RGBA{0, 0, 0, 255}, color.RGBA{230, 159, 0, 255}, color.RGBA{86, 180, 233, 255}, color.RGBA{0, 158, 115, 255},
		color.RGBA{0, 114, 178, 255}, color.RGBA{213, 94, 0, 255}, color.RGBA{204, 121, 167, 255},
	}
	marks = []draw.GlyphDrawer{
		draw.CircleGlyph{}, draw.SquareGlyph{}, draw.TriangleGlyph{}, draw.RingGlyph{}, draw.BoxGlyph{}, draw.PyramidGlyph{}, draw.CrossGlyph{},
	}
	grey = color.Gray{Y: 205}
	dark = color.Gray{Y: 70}
)

// style gives the look of the page n of drawn.
func style(n int) (draw.LineStyle, draw.GlyphStyle) {
	l := draw.LineStyle{Color: colours[n%len(colours)], Width: vg.Points(1.6)}
	if n >= len(colours) {
		l.Dashes = []vg.Length{vg.Points(5), vg.Points(2.5)}
	}
	return l, draw.GlyphStyle{Color: l.Color, Radius: vg.Points(3.2), Shape: marks[(n+n/len(colours)*3)%len(marks)]}
}

// drawAll gives the picture as SVG.
func drawAll(all []panel) ([]byte, error) {
	plot.DefaultFont = font.Font{Typeface: "Liberation", Variant: "Sans"}
	canvas := vgsvg.New(width, height)
	c := draw.New(canvas)
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	low, high := span(all)
	legend := plot.NewLegend()
	legend.Top, legend.Left, legend.Padding, legend.ThumbnailWidth = true, true, vg.Points(3), vg.Points(26)
	legend.TextStyle.Font.Size = letters
	each := (width - legendWidth) / vg.Length(len(all))
	for i, p := range all {
		chart, err := p.chart(low, high, &legend, i == 0)
		if err != nil {
			return nil, err
		}
		left := each * vg.Length(i)
		chart.Draw(draw.Crop(c, left+margin, left+each-width-margin, margin, -margin))
	}
	legend.Draw(draw.Crop(c, width-legendWidth+margin, -margin, margin, -4*margin))
	var b bytes.Buffer
	_, err := canvas.WriteTo(&b)
	// Where the typeface is missing, another one without serifs stands in.
	return bytes.ReplaceAll(b.Bytes(), []byte("font-family:Liberation Sans;"), []byte("font-family:Liberation Sans,Arial,Helvetica,sans-serif;")), err
}

// span gives the decades of ms that hold every time.
func span(all []panel) (low, high float64) {
	low, high = math.Inf(1), aim
	for _, p := range all {
		for _, s := range p.series {
			for _, x := range s.points {
				low, high = min(low, x.millis), max(high, x.millis)
			}
		}
	}
	return below(low), above(high)
}

// below and above round to 1, 2 or 5 of a decade.
func below(x float64) float64 {
	decade := math.Pow(10, math.Floor(math.Log10(x)))
	for _, by := range []float64{5, 2} {
		if by*decade <= x {
			return by * decade
		}
	}
	return decade
}

func above(x float64) float64 {
	decade := math.Pow(10, math.Floor(math.Log10(x)))
	for _, by := range []float64{1, 2, 5} {
		if by*decade >= x {
			return by * decade
		}
	}
	return 10 * decade
}

// chart draws one panel; the first one fills the legend.
func (p panel) chart(low, high float64, legend *plot.Legend, first bool) (*plot.Plot, error) {
	c := plot.New()
	c.Title.Text, c.X.Label.Text, c.Y.Label.Text = p.title, "fryers in the fleet", "ms"
	for _, s := range []*text.Style{&c.Title.TextStyle, &c.X.Label.TextStyle, &c.Y.Label.TextStyle, &c.X.Tick.Label, &c.Y.Tick.Label} {
		s.Font.Size = letters
	}
	c.Title.TextStyle.Font.Size, c.Title.Padding = letters+1, vg.Points(8)
	c.X.Scale, c.Y.Scale = plot.LogScale{}, plot.LogScale{}
	sizes := p.sizes()
	c.X.Min, c.X.Max, c.Y.Min, c.Y.Max = sizes[0]*0.8, sizes[len(sizes)-1]*1.25, low, high
	c.X.Tick.Marker, c.Y.Tick.Marker = plot.ConstantTicks(ticks(sizes)), plot.ConstantTicks(ticks(decades(low, high)))
	grid := plotter.NewGrid()
	grid.Horizontal.Color, grid.Vertical.Color = grey, grey
	c.Add(grid)
	if err := p.aimAt(c); err != nil {
		return nil, err
	}
	for _, s := range p.series {
		line, points, err := plotter.NewLinePoints(s.xys())
		if err != nil {
			return nil, err
		}
		line.LineStyle, points.GlyphStyle = style(slices.Index(drawn, s.page))
		c.Add(line, points)
		if first {
			legend.Add(s.page, line, points)
		}
	}
	return c, nil
}

// aimAt draws the limit that the times of many users must keep to.
func (p panel) aimAt(c *plot.Plot) error {
	if p.measure != "p99" {
		return nil
	}
	limit, err := plotter.NewLine(plotter.XYs{{X: c.X.Min, Y: aim}, {X: c.X.Max, Y: aim}})
	if err != nil {
		return err
	}
	limit.LineStyle = draw.LineStyle{Color: dark, Width: vg.Points(1), Dashes: []vg.Length{vg.Points(1.5), vg.Points(2)}}
	c.Add(limit)
	return nil
}

func (s series) xys() plotter.XYs {
	list := make(plotter.XYs, len(s.points))
	for i, x := range s.points {
		list[i] = plotter.XY{X: x.fryers, Y: x.millis}
	}
	return list
}

// sizes lists the sizes of fleets that a panel has times of.
func (p panel) sizes() []float64 {
	var list []float64
	for _, s := range p.series {
		for _, x := range s.points {
			list = append(list, x.fryers)
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// decades lists 1, 2 and 5 of every decade of an axis.
func decades(low, high float64) []float64 {
	const slack = 1.01 // for what rounding leaves
	var list []float64
	for at := math.Pow(10, math.Floor(math.Log10(low))); at <= high*slack; at *= 10 {
		for _, by := range []float64{1, 2, 5} {
			if low <= at*by*slack && at*by <= high*slack {
				list = append(list, at*by)
			}
		}
	}
	return list
}

func ticks(at []float64) []plot.Tick {
	list := make([]plot.Tick, len(at))
	for i, x := range at {
		list[i] = plot.Tick{Value: x, Label: number(x)}
	}
	return list
}

// number writes a number with thousands apart.
func number(x float64) string {
	s := strconv.FormatFloat(x, 'g', 6, 64)
	if x < 1000 {
		return s
	}
	s = strconv.FormatFloat(x, 'f', 0, 64)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}
