package survival

import (
	"cmp"
	"math"
	"slices"
)

// Measure is one of the measures of how well predicted risks agree with what
// came, as a guide to competing events has them (van Geloven and others 2022,
// BMJ 377:e069249).
type Measure int

// The measures.
const (
	// ObservedShare is the share with the event within Ahead (Aalen and
	// Johansen), ExpectedShare the mean risk, and ObservedRatio the former
	// over the latter.
	ObservedShare Measure = iota
	ExpectedShare
	ObservedRatio
	// CalibrationIntercept is by how much the complementary log-log of the
	// risks lies too low, CalibrationSlope how far apart risks should stand
	// for each unit they do: by pseudo-values of the observed share.
	CalibrationIntercept
	CalibrationSlope
	// CIndex is the chance that of two rows, one with the event within Ahead
	// and one without (still at risk then, or ended otherwise), the former
	// has the higher risk (Blanche and others 2013, Stat Med 32:5381).
	CIndex
	// BrierScore is the mean squared distance of the risk from what came,
	// BrierNull that of the observed share for all, and ScaledBrier 1 less
	// their ratio.
	BrierScore
	BrierNull
	ScaledBrier
	Measures // how many there are
)

func (m Measure) String() string {
	return [...]string{"observed share", "expected share", "observed over expected", "calibration intercept", "calibration slope",
		"C", "Brier score", "Brier score of one share for all", "scaled Brier score"}[m]
}

// Scores are the measures that could be worked out.
type Scores struct {
	Value [Measures]float64
	Has   [Measures]bool
}

func (s *Scores) set(m Measure, x float64) {
	if finite(x) {
		s.Value[m], s.Has[m] = x, true
	}
}

// landmarkSeen is what came of the rows of a stack within Ahead of their
// landmarks, made ready for comparison with any risks.
type landmarkSeen struct {
	d      LandmarkData
	ahead  float64
	weight []float64
	total  float64
	since  []float64 // time from the landmark to the end
	share  float64   // observed
	known  bool      // somebody is watched beyond Ahead
	pseudo []float64 // pseudo-values of the share
	count  []float64 // weight over the chance of not yet being censored; 0 for rows censored before
}

// newLandmarkSeen takes weights as numbers of equal rows; nil: all 1.
func newLandmarkSeen(d LandmarkData, ahead float64, weight []float64) *landmarkSeen {
	n := len(d.Time)
	v := &landmarkSeen{d: d, ahead: ahead, weight: weight, since: make([]float64, n), pseudo: make([]float64, n), count: make([]float64, n)}
	if v.weight == nil {
		v.weight = make([]float64, n)
		for i := range v.weight {
			v.weight[i] = 1
		}
	}
	for i := range d.Time {
		v.since[i] = d.Time[i] - d.Landmark[i]
		v.total += v.weight[i]
		v.known = v.known || v.since[i] > ahead
	}
	t := count(Data{Time: v.since, Cause: d.Cause, Weight: weight}, 2)
	free := v.shareSeen(t)
	for i, s := range v.since {
		switch {
		case s > ahead:
			v.count[i] = v.weight[i] / free.at(ahead)
		case d.Cause[i] > 0:
			v.count[i] = v.weight[i] / free.before(s)
		}
	}
	return v
}

// shareSeen works out the observed share and its pseudo-values: the share
// plus the number of rows times the infinitesimal jackknife of a row. It
// returns the curve of not being censored, events at a time coming first.
//
// With F the incidence and Y at risk, a row of weight 1 moves F at the end by
// the sum of S(t-)(dN1 - Y dF1)/Y over its times less that of (F(end) - F(t))
// (dN - Y dH)/(Y - d), each d being that of the row or its expectation.
func (v *landmarkSeen) shareSeen(t *tally) *stepCurve {
	free := &stepCurve{}
	g, surv, f := 1.0, 1.0, 0.0
	steps := t.steps
	if k := t.last(v.ahead); k+1 < len(steps) {
		steps = steps[:k+1]
	}
	before := make([]float64, len(steps)) // S(t-)
	upTo := make([]float64, len(steps))   // F(t)
	for k := range steps {
		s := &steps[k]
		before[k] = surv
		f += surv * s.byCause[0] / s.atRisk
		upTo[k] = f
		if s.exhausted() {
			surv = 0
		} else {
			surv *= 1 - s.events/s.atRisk
			if s.censored > 0 {
				g *= math.Max(0, 1-s.censored/(s.atRisk-s.events))
			}
		}
		free.times, free.values = append(free.times, s.time), append(free.values, g)
	}
	v.share = f
	// What being at risk up to a step costs a row, and what an event adds.
	lost := make([]float64, len(steps)+1)
	for k := range steps {
		s := &steps[k]
		lost[k+1] = lost[k] - before[k]*s.byCause[0]/(s.atRisk*s.atRisk)
		if !s.exhausted() {
			lost[k+1] += (f - upTo[k]) * s.events / (s.atRisk * (s.atRisk - s.events))
		}
	}
	for i, at := range v.since {
		k := t.last(at)
		move := 0.0
		if k >= len(steps) {
			move = lost[len(steps)]
		} else {
			move = lost[k+1]
			s := &steps[k]
			if v.d.Cause[i] == 1 {
				move += before[k] / s.atRisk
			}
			if v.d.Cause[i] > 0 && !s.exhausted() {
				move -= (f - upTo[k]) / (s.atRisk - s.events)
			}
		}
		v.pseudo[i] = f + v.total*move
	}
	return free
}

// case says whether row i had the event within Ahead.
func (v *landmarkSeen) had(i int) bool { return v.d.Cause[i] == 1 && v.since[i] <= v.ahead }

// scores compares risks, one a row, with what came.
func (v *landmarkSeen) scores(risk []float64) Scores {
	var s Scores
	expected, brier, none := 0.0, 0.0, 0.0
	var cases, controls []weighted
	for i, p := range risk {
		expected += v.weight[i] * p / v.total
		c := v.count[i] / v.total
		switch {
		case v.count[i] == 0:
		case v.had(i):
			cases = append(cases, weighted{p, v.count[i]})
			brier += c * (1 - p) * (1 - p)
			none += c * (1 - v.share) * (1 - v.share)
		default:
			controls = append(controls, weighted{p, v.count[i]})
			brier += c * p * p
			none += c * v.share * v.share
		}
	}
	s.set(ObservedShare, v.share)
	s.set(ExpectedShare, expected)
	s.set(ObservedRatio, v.share/expected)
	if c, ok := concordantShare(cases, controls); ok {
		s.set(CIndex, c)
	}
	if v.known {
		s.set(BrierScore, brier)
		s.set(BrierNull, none)
		s.set(ScaledBrier, 1-brier/none)
	}
	z := make([]float64, len(risk))
	one := make([]float64, len(risk))
	for i, p := range risk {
		z[i], one[i] = logLog(p), 1
	}
	if f, ok := v.regress([][]float64{one}, z); ok {
		s.set(CalibrationIntercept, f.coef[0])
	}
	if f, ok := v.regress([][]float64{one, z}, nil); ok {
		s.set(CalibrationSlope, f.coef[1])
	}
	return s
}

// RiskGroup is rows of like predicted risk.
type RiskGroup struct {
	Rows, Lives, Clusters int
	Had                   int     // lives with the event within Ahead
	Predicted             float64 // mean risk
	Lowest, Highest       float64
	Observed              Point // Aalen-Johansen, errors grouped by cluster
	HasObserved           bool  // false where nobody of the group was watched so long
}

// Groups cuts the rows into so many groups of like size by their risk. Rows
// of one risk stay together, so that there may be fewer groups.
func (l *Landmark) Groups(groups int) ([]RiskGroup, error) {
	at := order(l.Rows)
	slices.SortStableFunc(at, func(a, b int) int { return cmp.Compare(l.risk[a], l.risk[b]) })
	var out []RiskGroup
	for g, from := 1, 0; g <= groups && from < len(at); g++ {
		to := max(from, len(at)*g/groups)
		for to > from && to < len(at) && l.risk[at[to]] == l.risk[at[to-1]] {
			to++
		}
		if to == from {
			continue
		}
		x, err := l.group(at[from:to])
		if err != nil {
			return nil, err
		}
		out = append(out, x)
		from = to
	}
	return out, nil
}

func (l *Landmark) group(rows []int) (RiskGroup, error) {
	g := RiskGroup{Rows: len(rows), Lowest: l.risk[rows[0]], Highest: l.risk[rows[len(rows)-1]]}
	d := Data{Time: chosen(l.seen.since, rows), Cause: chosen(l.data.Cause, rows), Cluster: chosen(l.data.Cluster, rows)}
	lives, clusters, had := map[int]bool{}, map[int]bool{}, map[int]bool{}
	for _, i := range rows {
		g.Predicted += l.risk[i] / float64(len(rows))
		lives[l.data.Life[i]], clusters[l.data.Cluster[i]] = true, true
		if l.seen.had(i) {
			had[l.data.Life[i]] = true
		}
	}
	g.Lives, g.Clusters, g.Had = len(lives), len(clusters), len(had)
	f, err := CumulativeIncidence(d, 2, CurveOptions{Level: l.Level})
	if err != nil {
		return g, err
	}
	if causes, _, ok := f.At(l.Ahead); ok {
		g.Observed, g.HasObserved = causes[0], true
	}
	return g, nil
}

// Scores are the measures of the rows that the model was fitted to, which
// flatters it: see Resample.
func (l *Landmark) Scores() Scores { return l.all }
