package figure

import (
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/plot/vg"

	"plybook/reports/words"
)

// LimbTissue is what lies under a region.
type LimbTissue int

// What lies under a region; LimbEither where the words do not say.
const (
	LimbBone LimbTissue = iota
	LimbSoft
	LimbEither
)

// LimbMark is what was found at a region in one time.
type LimbMark struct {
	Region string // as the log has it: where it stands
	Name   string // as it is printed
	Tissue LimbTissue
	Count  int     // visits with a finding
	Per100 float64 // the mark's area
	Text   string  // count and rate, as printed beside the mark
}

// LimbTime is a time whose findings are drawn on a limb of their own.
type LimbTime struct {
	Name  string // empty where there is one
	Marks []LimbMark
}

// LimbSpec says what to draw.
type LimbSpec struct {
	ID    string
	Title string
	Level string // whose limb is drawn
	What  string // what the numbers are: "visits with a finding"
	Times []LimbTime
	Notes []string
	Width vg.Length
}

// limbCell is a view with its marks and labels, laid out from its top.
type limbCell struct {
	view   *limbView
	title  string
	time   string
	sides  [2]string
	marks  []limbSpot
	height vg.Length
	edge   vg.Length // where labels begin, from the middle to either side
}

// limbSpot is a mark on the page with its label.
type limbSpot struct {
	LimbMark
	at, home vg.Point // where it stands, and where it belongs
	r        vg.Length
	left     bool
	fixed    bool // left is settled by the other time
	lines    []string
	label    vg.Length // the middle of the label
}

func (s limbSpot) tall() vg.Length { return vg.Length(len(s.lines)+1)*plain.line() + 3 }

// What stands at the left and right of the views of a right limb.
var limbEdges = [4][2]string{{"outer", "inner"}, {"inner", "outer"}, {"front", "back"}, {"back", "front"}}

// Limb draws findings by region on a limb seen from its sides: area and
// number say how often, shape and hatching what lies beneath. Two times stand
// side by side at one scale.
func Limb(spec LimbSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = "Findings by region"
	}
	d := limbDrawings[spec.Level]
	most := 0.0
	for _, t := range spec.Times {
		for _, m := range t.Marks {
			if finite(m.Per100) {
				most = max(most, m.Per100)
			}
		}
	}
	if d == nil || len(spec.Times) == 0 {
		return nothing(fig, spec.Width, "There is no drawing of this limb.")
	}
	f := &frame{scene: &scene{width: widthOr(spec.Width)}}
	f.below = -2
	f.tellHeads("View", "Region", "Findings")
	tall, biggest, gap := vg.Length(158), vg.Length(10.5), vg.Length(14)
	views := []int{0, 1, 3, 2}
	if len(spec.Times) > 1 {
		tall, biggest, gap = 122, 8.5, 10
		views = limbViews(spec, d)
		if len(views) == 4 { // a page's height
			tall, biggest = 104, 8
		}
	}
	scale := tall / vg.Length(d.height-d.top)
	radius := func(per100 float64) vg.Length {
		if most <= 0 || !finite(per100) {
			return 0
		}
		return biggest * vg.Length(math.Sqrt(per100/most))
	}
	half := f.width / 2
	if len(spec.Times) > 1 {
		for k, t := range spec.Times {
			f.paragraphCentred(half*vg.Length(k)+half/2, f.below, half-10, t.Name, head)
		}
		f.below -= f.tallest(spec.Times, half-10) + 5
	}
	for k := 0; k < len(views); {
		var row []limbCell
		if len(spec.Times) > 1 {
			row = make([]limbCell, len(spec.Times))
			sides := map[string]bool{}
			for _, i := range fullest(spec.Times, &d.views[views[k]]) {
				row[i] = f.limbCell(d, views[k], spec.Times[i], half, tall, scale, radius, sides)
			}
			k++
		} else {
			for _, v := range views[k:min(k+2, len(views))] {
				row = append(row, f.limbCell(d, v, spec.Times[0], half, tall, scale, radius, nil))
			}
			k += 2
		}
		height := tall
		for _, c := range row {
			height = max(height, c.height)
		}
		top := f.below - head.line() - 4
		for i, c := range row {
			f.limbView(c, half*vg.Length(i)+half/2, top, (height-tall)/2, scale, d.top)
		}
		f.below = top - height - gap
	}
	f.limbKey(spec, most, radius)
	f.notes(spec.Notes...)
	fig.Description, fig.Long = limbWords(spec, views, d)
	return f.finish(fig)
}

// limbViews are the views in which anything is marked, at least the front.
func limbViews(spec LimbSpec, d *limbDrawing) []int {
	var out []int
	for _, v := range []int{0, 1, 3, 2} {
		any := v == 0
		for _, t := range spec.Times {
			for _, m := range t.Marks {
				_, seen := d.views[v].spots[m.Region]
				any = any || seen
			}
		}
		if any {
			out = append(out, v)
		}
	}
	return out
}

func (f *frame) tallest(times []LimbTime, width vg.Length) vg.Length {
	n := 0
	for _, t := range times {
		lines, _ := head.wrap(t.Name, width, 0)
		n = max(n, len(lines))
	}
	return vg.Length(n) * head.line()
}

func (s *scene) paragraphCentred(x, y, width vg.Length, t string, st style) {
	lines, _ := st.wrap(t, width, 0)
	for _, l := range lines {
		y -= st.line()
		s.text(x, y+st.descent(), l, st, ink, centred)
	}
}

// limbCell settles where the marks and labels of a view go, with the top of
// the drawing at zero and its middle at zero. sides says of regions on which
// side their labels stand in the drawing of another time, and is added to.
func (f *frame) limbCell(d *limbDrawing, view int, t LimbTime, width, tall, scale vg.Length, radius func(float64) vg.Length, sides map[string]bool) limbCell {
	v := &d.views[view]
	c := limbCell{view: v, title: words.Capital(LimbSides[view]), time: t.Name, sides: limbEdges[view], height: tall}
	place := limbPlace{scale: scale, top: d.top, x: v.middle(scale)}
	left, right := v.reach()
	for _, m := range t.Marks {
		p, ok := v.spots[m.Region]
		if !ok || radius(m.Per100) <= 0 {
			continue
		}
		at := place.at(p)
		left, fixed := sides[m.Region]
		c.marks = append(c.marks, limbSpot{LimbMark: m, at: at, home: at, r: radius(m.Per100), left: left, fixed: fixed})
	}
	nudge(c.marks)
	c.edge = vg.Length(right-left)*scale/2 + 9
	for _, m := range c.marks {
		wide := m.r
		if m.Tissue == LimbBone {
			wide *= 1.26
		}
		c.edge = max(c.edge, m.at.X+wide+5, wide+5-m.at.X)
	}
	room := width/2 - c.edge - 4
	for i := range c.marks {
		m := &c.marks[i]
		m.lines, _ = plain.wrap(m.Name, room, 3)
	}
	balance(c.marks)
	c.settle(tall)
	if sides != nil {
		for _, m := range c.marks {
			sides[m.Region] = m.left
		}
	}
	return c
}

// fullest are the times in the order of how many of their marks a view has,
// the most first: what needs most room settles where labels stand.
func fullest(times []LimbTime, v *limbView) []int {
	order := make([]int, len(times))
	n := make([]int, len(times))
	for i, t := range times {
		order[i] = i
		for _, m := range t.Marks {
			if _, ok := v.spots[m.Region]; ok {
				n[i]++
			}
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return n[b] - n[a] })
	return order
}

// middle is how far the drawing's axis lies from the middle of the view.
func (v *limbView) middle(scale vg.Length) vg.Length {
	left, right := v.reach()
	return -vg.Length(left+right) / 2 * scale
}

// limbView draws a view around the middle x below a title at y, with the top
// of the limb down from there.
func (f *frame) limbView(c limbCell, x, y, down, scale vg.Length, top float64) {
	titleY := y + 4 + head.descent()
	y -= down
	f.text(x, titleY, c.title, head, ink, centred)
	w := head.width(c.title)/2 + 7
	f.text(x-w, titleY, c.sides[0], small, quiet, fromRight)
	f.text(x+w, titleY, c.sides[1], small, quiet, fromLeft)
	f.limb(c.view, limbPlace{x: x + c.view.middle(scale), y: y, scale: scale, top: top})
	edge := c.edge
	for _, m := range c.marks {
		from, to := vg.Point{X: x + edge - 2, Y: y + m.label}, vg.Point{X: x + m.at.X, Y: y + m.at.Y}
		if m.left {
			from.X = x - edge + 2
		}
		f.lines([]vg.Point{from, to}, 0.5, quiet, nil)
	}
	order := slices.Clone(c.marks)
	sort.SliceStable(order, func(a, b int) bool { return order[a].r > order[b].r })
	for _, m := range order {
		f.tell(x+m.at.X, y+m.at.Y, strings.TrimPrefix(c.time+", "+lower(c.title), ", "), m.Name, m.Text)
		f.limbMark(x+m.at.X, y+m.at.Y, m.r, m.Tissue)
	}
	for _, m := range c.marks {
		lx, a := x+edge, fromLeft
		if m.left {
			lx, a = x-edge, fromRight
		}
		ty := y + m.label + vg.Length(len(m.lines))*plain.line()/2
		for _, l := range m.lines {
			f.middle(lx, ty, l, plain, ink, a)
			ty -= plain.line()
		}
		f.middle(lx, ty, m.Text, smallBold, ink, a)
	}
}
