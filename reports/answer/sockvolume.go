package answer

import (
	"math"
	"slices"
	"sort"

	"plybook/analysis/cohort"
	"plybook/analysis/describe"
	"plybook/analysis/limb"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
	"plybook/reports/notebook"
)

// sockVisit is a visit at which socks and volume can be held against one
// another.
type sockVisit struct {
	cohort.SockChange
	date   float64
	person int
	// worn is what the socks of the visit take of the limb's volume as last
	// measured, added what those put on since delivery take of the volume near
	// the delivery, fallen by how much that has fallen; all in percent.
	worn, added, fallen float64
	se                  float64 // of fallen, the error of measuring
	otherMeasurer       bool
}

// difference is what socks stand for beyond what was lost, in points.
func (s *sockVisit) difference() float64 { return s.added - s.fallen }

// socksAgainst is an answer of sock-volume in the making.
type socksAgainst struct {
	*work
	thickness limb.Thickness
	error     tapeError
	z         float64
	visits    []*sockVisit
	last      []*sockVisit // of each socket
	mean      regress.MeanOf
	all       map[string]int // visits with a list, by the list
	several   int            // of them with more than one sock
	unsold    int            // with a single number that is no usual sock
	one       string         // limb told of, "" for all
}

// sockVolume answers how much of a limb's loss of volume its socks stand for.
func sockVolume(w *work) error {
	s := &socksAgainst{work: w, thickness: w.ctx.Front.SockThickness.Thickness(), error: w.tapeError(), z: stats.NormalQuantile((1 + w.ask.Confidence) / 2), all: map[string]int{}}
	if err := s.read(); err != nil {
		return err
	}
	if err := w.tooFew(distinctLimbs(s.visits)); err != nil {
		return err
	}
	if err := s.pick(); err != nil {
		return err
	}
	w.Answer.Rows = len(s.visits)
	s.lastOfEach()
	d, who := make([]float64, len(s.last)), make([]int, len(s.last))
	for k, v := range s.last {
		d[k], who[k] = v.difference(), v.person
	}
	var err error
	if s.mean, err = regress.ClusterMean(d, who, w.ask.Confidence); err != nil {
		return err
	}
	s.tables()
	s.cautions()
	s.figures()
	s.prints()
	s.words()
	return nil
}

// sockGaps are the steps in which visits drop out, in the order of the cohort.
var sockGaps = []cohort.SockGap{cohort.SockNoSocket, cohort.SockNotAfter, cohort.SockNoList, cohort.SockHalf, cohort.SockNoListBefore,
	cohort.SockNoVolume, cohort.SockNoBase, cohort.SockSameMeasure, cohort.SockNoStations}

// usualSocks are the ply that single socks are commonly sold in: 3, 5 and 6,
// and 1 to fill up (a patients' manual; others may be sold, no source).
var usualSocks = []float64{1, 3, 5, 6}

// read holds the visits against the limb's measurements.
func (s *socksAgainst) read() error {
	visit, ok := s.table.Col("visit")
	if !ok {
		return stats.ErrNoRows
	}
	date, _ := s.table.Col("date")
	person, _ := s.table.Col("person")
	gaps := map[cohort.SockGap]int{}
	persons := map[string]int{}
	for _, i := range s.rows {
		c, gap := s.ctx.Cohort.SockChange(visit.Text[i])
		if (s.ask.Limb == "" || c.Limb == s.ask.Limb) && c.Now.Known && !c.Now.HalfSock {
			s.all[c.Now.Words()]++
			if len(c.Now.Ply) > 1 {
				s.several++
			}
			if len(c.Now.Ply) == 1 && !slices.Contains(usualSocks, c.Now.Ply[0]) {
				s.unsold++
			}
		}
		var v *sockVisit
		if gap == "" {
			var err error
			if v, err = s.compare(c); err != nil {
				return err
			}
		}
		if gap != "" {
			gaps[gap]++
			continue
		}
		who := "limb " + c.Limb
		if person != nil && !person.Missing[i] {
			who = valueText(person, i)
		}
		if _, ok := persons[who]; !ok {
			persons[who] = len(persons)
		}
		v.person, v.date = persons[who], math.NaN()
		if date != nil && !date.Missing[i] {
			v.date = date.Num[i]
		}
		s.visits = append(s.visits, v)
	}
	left := len(s.rows)
	for _, g := range sockGaps {
		if n := gaps[g]; n > 0 {
			left -= n
			s.steps = append(s.steps, cohort.Step{Step: "socks held against volume", Rows: left, Excluded: n, Reason: string(g)})
		}
	}
	if len(s.visits) == 0 {
		return &notebook.Error{Pos: s.ask.Pos, Code: "no-pairs", Text: "at no visit can socks be held against volume: that takes a list of socks at delivery and at the visit, such as 5+3, and girths at two stations or more near both (14 days)" + s.leftBy()}
	}
	sort.SliceStable(s.visits, func(a, b int) bool {
		x, y := s.visits[a], s.visits[b]
		if x.Limb != y.Limb {
			return byNumber(x.Limb, y.Limb) < 0
		}
		if x.Socket != y.Socket {
			return byNumber(x.Socket, y.Socket) < 0
		}
		return x.Days < y.Days
	})
	return nil
}

// compare works out what socks and volume came to.
func (s *socksAgainst) compare(c cohort.SockChange) (*sockVisit, error) {
	v := &sockVisit{SockChange: c, otherMeasurer: c.EarlierBy != c.LaterBy && c.EarlierBy != "" && c.LaterBy != ""}
	e, percent := s.error, s.error.percent
	if v.otherMeasurer && e.source == errorCommon {
		percent = otherMeasurer
	}
	if !v.otherMeasurer {
		e.tape.Measurer = 0
	}
	from, err := e.measure(c.Earlier, c.Span, limb.Cap{}, percent)
	if err != nil {
		return nil, err
	}
	to, err := e.measure(c.Later, c.Span, limb.Cap{}, percent)
	if err != nil {
		return nil, err
	}
	now, err := c.Later.Profile.Layer(c.Span, c.NowMM)
	if err != nil {
		return nil, err
	}
	then, err := c.Later.Profile.Layer(c.Span, c.ThenMM)
	if err != nil {
		return nil, err
	}
	change := to.Less(from)
	v.fallen, v.se = -change.Percent, change.PercentSE
	v.added, v.worn = 100*(now-then)/from.ML, 100*now/to.ML
	return v, nil
}

// pick keeps the visits of the limb that is asked for.
func (s *socksAgainst) pick() error {
	code := s.ask.Limb
	if code == "" {
		return nil
	}
	if !s.ctx.Names.Show {
		return s.at("limb", code, "identifying", "one limb is not told of here. %s", s.ctx.Names.Why)
	}
	var names []string
	var of []*sockVisit
	for _, v := range s.visits {
		names = append(names, v.Limb)
		if v.Limb == code {
			of = append(of, v)
		}
	}
	if len(of) == 0 {
		near := notebook.Nearest(code, names)
		text := "no visit used is of the limb \"" + code + "\""
		if near != "" {
			text += "; did you mean \"" + near + "\"?"
		}
		return &notebook.Error{Pos: s.ask.At("limb", code), Code: "unknown-limb", Text: text, Nearest: near}
	}
	s.visits, s.one = of, code
	return nil
}

// lastOfEach finds the last visit of each socket.
func (s *socksAgainst) lastOfEach() {
	for k, v := range s.visits {
		if k+1 == len(s.visits) || s.visits[k+1].Socket != v.Socket {
			s.last = append(s.last, v)
		}
	}
}

func distinctLimbs(vs []*sockVisit) int {
	seen := map[string]bool{}
	for _, v := range vs {
		seen[v.Limb] = true
	}
	return len(seen)
}

// quartiles of some numbers; ok is false without any.
func quartiles(xs []float64) (low, median, high float64, ok bool) {
	if len(xs) == 0 {
		return 0, 0, 0, false
	}
	xs = slices.Clone(xs)
	sort.Float64s(xs)
	return describe.Quantile(xs, 0.25), describe.Quantile(xs, 0.5), describe.Quantile(xs, 0.75), true
}

// overLimbs are the quartiles over limbs of what a layer takes of the limb's
// volume as last measured.
func (s *socksAgainst) overLimbs(of func(p limb.Profile, over limb.Span) float64) (low, median, high float64) {
	latest := map[string]*sockVisit{}
	for _, v := range s.visits {
		// A later socket of the limb stands further down.
		latest[v.Limb] = v
	}
	var xs []float64
	for _, name := range sortedNames(latest) {
		v := latest[name]
		if x := of(v.Later.Profile, v.Span); !math.IsNaN(x) {
			xs = append(xs, x)
		}
	}
	low, median, high, _ = quartiles(xs)
	return low, median, high
}

// layerShare is what a layer of a thickness takes of a limb's volume, in
// percent.
func layerShare(mm float64) func(p limb.Profile, over limb.Span) float64 {
	return func(p limb.Profile, over limb.Span) float64 {
		ml, err := p.Layer(over, mm)
		whole, err2 := p.VolumeOver(over)
		if err != nil || err2 != nil {
			return math.NaN()
		}
		return 100 * ml / whole
	}
}

// layerFor is the thickness in mm of the layer that makes up for a fall of the
// volume in percent of what it was.
func layerFor(fall float64) func(p limb.Profile, over limb.Span) float64 {
	return func(p limb.Profile, over limb.Span) float64 {
		whole, err := p.VolumeOver(over)
		if err != nil {
			return math.NaN()
		}
		// What is left is the limb as measured: it was larger by the fall.
		mm, err := p.ThicknessFor(over, whole*fall/(100-fall))
		if err != nil {
			return math.NaN()
		}
		return mm
	}
}

// beyondError counts sockets whose socks stand for less than was lost, for
// more, or for as much but for the error of measuring.
func (s *socksAgainst) beyondError() (less, more, as int) {
	for _, v := range s.last {
		switch d := v.difference(); {
		case d < -s.z*v.se:
			less++
		case d > s.z*v.se:
			more++
		default:
			as++
		}
	}
	return less, more, as
}
