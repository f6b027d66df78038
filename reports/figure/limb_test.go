package figure

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/plot/vg"
)

// sampleLimb marks regions of a level, the first the most; all of them where
// none are named.
func sampleLimb(level string, regions ...string) LimbSpec {
	s := LimbSpec{ID: "limb", Title: "Findings by region", Level: level, What: "visits with a finding", Times: []LimbTime{{}}}
	if regions == nil {
		regions = LimbRegions(level)
	}
	for i, r := range regions {
		n := 41 / (i + 1)
		if n == 0 {
			n = 1
		}
		s.Times[0].Marks = append(s.Times[0].Marks, LimbMark{Region: r, Name: upper(r), Tissue: LimbTissue(i % 3), Count: n, Per100: float64(n) / 4, Text: fmt.Sprintf("%d (%.1f)", n, float64(n)/4)})
	}
	return s
}

func sampleLimbTimes() LimbSpec {
	s := sampleLimb("transtibial", "anterior distal tibia", "fibular head", "tibial crest", "patellar tendon", "distal fibula", "patella", "distal end", "popliteal area")
	since := LimbTime{Name: "Since 2 March 2025 (388 visits with the skin checked)"}
	for _, m := range s.Times[0].Marks[1:5] {
		m.Per100, m.Text = m.Per100*0.6, "9 (2.3)"
		since.Marks = append(since.Marks, m)
	}
	s.Times[0].Name = "Before 2 March 2025 (412 visits with the skin checked)"
	s.Times = append(s.Times, since)
	s.Notes = []string{"Right and left limbs are drawn on one right limb. A region seen from two sides is marked on both and counted once."}
	return s
}

// sampleLimbs are the limbs of the contact sheet.
func sampleLimbs() map[string]*Figure {
	narrow := sampleLimb("transtibial", "fibular head", "anterior distal tibia")
	narrow.Width = HalfWidth * 1.4
	out := map[string]*Figure{
		"limb-times":  Limb(sampleLimbTimes()),
		"limb-narrow": Limb(narrow),
		"limb-bare":   Limb(LimbSpec{Level: "transfemoral", What: "visits with a finding", Times: []LimbTime{{}}}),
		"limb-none":   Limb(LimbSpec{Level: "partial foot"}),
		"limb":        Limb(sampleLimb("transtibial", "anterior distal tibia", "fibular head", "tibial crest", "patellar tendon", "distal fibula", "patella", "distal end", "scar")),
	}
	for _, level := range []string{"transtibial", "transfemoral", "knee disarticulation", "transradial", "transhumeral"} {
		out["limb-all-"+level] = Limb(sampleLimb(level))
	}
	return out
}

// within says whether a point lies in a polygon (even-odd).
func within(p vg.Point, poly []vg.Point) bool {
	in := false
	for i, a := range poly {
		b := poly[(i+len(poly)-1)%len(poly)]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < (b.X-a.X)*(p.Y-a.Y)/(b.Y-a.Y)+a.X {
			in = !in
		}
	}
	return in
}

// Every region stands on the skin of its drawing, and the outer side where
// the edges of the views say.
func TestRegionsStandOnTheLimb(t *testing.T) {
	for level, d := range limbDrawings {
		for k := range d.views {
			v := &d.views[k]
			at := limbPlace{scale: 1}
			var body []vg.Point
			for _, piece := range v.outline {
				body = append(body, at.all(curved(piece, piece[0] == piece[len(piece)-1]))...)
			}
			body = append(body, at.all(curved(v.cut, false))...)
			for r, p := range v.spots {
				if !within(at.at(p), body) {
					t.Errorf("%s, %s: %s at %v lies beside the limb", level, LimbSides[k], r, p)
				}
			}
			for _, bone := range v.bones {
				for _, p := range at.all(bone) {
					if !within(p, body) && p.Y > -95 && p.Y < -2 {
						t.Errorf("%s, %s: bone at %v lies beside the limb", level, LimbSides[k], p)
					}
				}
			}
		}
		for _, s := range []struct {
			view       int
			region     string
			left, need bool
		}{{0, "lateral brim", true, true}, {0, "medial brim", false, true}} {
			if p, ok := d.views[s.view].spots[s.region]; ok != s.need || (p[0] < 0) != s.left {
				t.Errorf("%s: %s stands at %v", level, s.region, p)
			}
		}
		for front, back := range map[string]string{"fibular head": "fibular head", "greater trochanter": "greater trochanter", "acromion": "acromion", "medial epicondyle": "medial epicondyle"} {
			p, ok := d.views[0].spots[front]
			q, seen := d.views[1].spots[back]
			if ok && seen && p[0]*q[0] >= 0 {
				t.Errorf("%s: the %s does not change sides between front and back", level, front)
			}
		}
	}
}

func area(pts []vg.Point) float64 {
	sum := 0.0
	for i, a := range pts {
		b := pts[(i+1)%len(pts)]
		sum += float64(a.X*b.Y - b.X*a.Y)
	}
	return math.Abs(sum) / 2
}

// A mark over bone has the area of one over soft tissue for the same rate,
// and four times the rate has four times the area.
func TestAreaOfAMark(t *testing.T) {
	of := func(r vg.Length, tissue LimbTissue, mark int) float64 {
		s := &scene{}
		s.limbMark(0, 0, r, tissue)
		switch m := s.marks[mark].(type) {
		case fill:
			var pts []vg.Point
			for _, c := range m.path {
				if c.Type != vg.CloseComp {
					pts = append(pts, c.Pos)
				}
			}
			return area(pts)
		}
		t.Fatal("no filled mark")
		return 0
	}
	bone, soft := of(10, LimbBone, 1), of(10, LimbSoft, 1)
	if math.Abs(bone/soft-1) > 0.01 || math.Abs(bone/(math.Pi*100)-1) > 1e-9 {
		t.Errorf("bone %.1f, soft %.1f", bone, soft)
	}
	if math.Abs(of(20, LimbBone, 1)/bone-4) > 1e-9 {
		t.Error("the area does not go with the square of the radius")
	}
	// The radius goes with the root of the rate.
	d := limbDrawings["transtibial"]
	f := &frame{scene: &scene{width: FullWidth}}
	c := f.limbCell(d, 0, sampleLimb("transtibial", "tibial crest", "patella").Times[0], FullWidth/2, 158, 158/97.0, func(x float64) vg.Length { return vg.Length(math.Sqrt(x)) }, nil)
	if r := float64(c.marks[0].r / c.marks[1].r); math.Abs(r*r-41.0/20) > 1e-9 {
		t.Errorf("rates of 41 to 20 are drawn as %.3f", r*r)
	}
}

// Labels keep apart and their leaders do not cross; marks stay near to where
// they belong.
func TestLimbLabelsKeepApart(t *testing.T) {
	for level, d := range limbDrawings {
		for k := range d.views {
			f := &frame{scene: &scene{width: FullWidth}}
			scale := vg.Length(158 / 97.0)
			c := f.limbCell(d, k, sampleLimb(level).Times[0], FullWidth/2, 158, scale, func(x float64) vg.Length { return 10 * vg.Length(math.Sqrt(x/10)) }, nil)
			for i, a := range c.marks {
				if off := hypot(a.at.X-a.home.X, a.at.Y-a.home.Y); off > 5.6 {
					t.Errorf("%s, %s: %s moved by %.1f", level, LimbSides[k], a.Region, off)
				}
				for _, b := range c.marks[:i] {
					if a.left != b.left {
						continue
					}
					if gap := math.Abs(float64(a.label - b.label)); gap < float64(a.tall()+b.tall())/2-0.01 {
						t.Errorf("%s, %s: the labels of %s and %s are %.1f apart", level, LimbSides[k], a.Region, b.Region, gap)
					}
					x := c.edge
					if a.left {
						x = -x
					}
					if crossing(vg.Point{X: x, Y: a.label}, a.at, vg.Point{X: x, Y: b.label}, b.at) {
						t.Errorf("%s, %s: the leaders of %s and %s cross", level, LimbSides[k], a.Region, b.Region)
					}
				}
			}
		}
	}
}

// A region's label stands on one side in both drawings of two times, whichever
// has more of them, so that the eye need not search.
func TestLimbLabelsOfTwoTimesKeepTheirSides(t *testing.T) {
	for level, d := range limbDrawings {
		all := sampleLimb(level).Times[0]
		for cut := range all.Marks {
			times := []LimbTime{{Marks: all.Marks[cut:]}, all}
			for k := range d.views {
				f := &frame{scene: &scene{width: FullWidth}}
				sides := map[string]bool{}
				of := map[string]bool{}
				order := fullest(times, &d.views[k])
				for n, i := range order {
					c := f.limbCell(d, k, times[i], FullWidth/2, 104, 104/97.0, func(x float64) vg.Length { return 8 * vg.Length(math.Sqrt(x/10)) }, sides)
					for _, m := range c.marks {
						if left, ok := of[m.Region]; n > 0 && ok && left != m.left {
							t.Errorf("%s, %s, %d left out: %s changes sides", level, LimbSides[k], cut, m.Region)
						}
						of[m.Region] = m.left
					}
				}
			}
		}
	}
}
