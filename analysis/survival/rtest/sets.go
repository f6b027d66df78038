// Package rtest makes small random data sets of the kinds that survival
// analysis meets, hands them to R with its packages survival and cmprsk, and
// reads what they answer, so that tests can hold the methods of this project
// against them on data nobody has looked at before. compare.R holds the calls.
package rtest

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
)

// Weights says what the weights of a set mean.
type Weights int

// The kinds of weights.
const (
	NoWeights Weights = iota // every row counts once
	Counts                   // whole numbers: how many equal rows the row stands for
	Shares                   // any numbers above 0, as from sampling
)

// A Set is one small data set, an entry per row. All its times are whole.
type Set struct {
	Index  int
	Scales int // from 0 to 3: of the bounds of curves, and of time in tests of proportional hazards

	Late      bool // some rows come under observation after 0
	Clustered bool // rows share clusters
	Weights   Weights
	Kind      Kind

	Entry, Time, Weight     []float64
	Cause                   []int // 0 censored, 1 and 2
	Group, Stratum, Cluster []int // groups from 0
	X                       [][]float64
	Names                   []string
	Left, Right             []float64   // the same lives as seen at visits; Right may be +Inf
	Events                  [][]float64 // of the row within (Entry, Time]: repeated ones, distinct, ascending
}

// Kind is what is odd about a set.
type Kind int

// The kinds.
const (
	Ordinary    Kind = iota
	NoEvents         // nobody has any event
	OneTime          // all rows end at one time
	EmptyGroup       // one group has no event
	LoneRow          // one group has a single row
	Constant         // a column has one value
	Separated        // nobody with x2 = 1 has an event of cause 1
	TinySet          // two to four rows
	WithZeros        // some lives last 0; nobody enters late
	OnlyOther        // every event is of cause 2
	LastMatters      // the longest life ends with an event, so that the curve falls to 0
	kinds
)

// Random makes set number index; the same at every call.
func Random(index int) *Set {
	rng := rand.New(rand.NewPCG(20240611, uint64(index)))
	s := &Set{Index: index, Scales: index % 4}
	if index%3 == 2 {
		s.Kind = Kind(1 + rng.IntN(int(kinds)-1))
	}
	s.Late = rng.IntN(3) == 0 && s.Kind != WithZeros
	s.Clustered = rng.IntN(2) == 0
	s.Weights = Weights(max(0, rng.IntN(5)-2))
	n := 10 + rng.IntN(50)
	if s.Kind == TinySet {
		n = 2 + rng.IntN(3)
	}
	spread := []float64{4, 12, 50, 400}[rng.IntN(4)]
	groups, strata := 2+rng.IntN(3), 1+rng.IntN(3)
	s.Names = []string{"x1", "x2"}
	if s.Kind == Constant {
		s.Names = append(s.Names, "x3")
	}
	s.X = make([][]float64, len(s.Names))
	for i := range n {
		s.addRow(rng, i, n, groups, strata, spread)
	}
	if s.Kind == LastMatters {
		longest := 0
		for i, t := range s.Time {
			if t > s.Time[longest] {
				longest = i
			}
		}
		for i, t := range s.Time {
			if t == s.Time[longest] {
				s.Cause[i] = 1
			}
		}
	}
	for i := range n {
		s.look(rng, i)
		s.repeat(rng, i)
	}
	return s
}

func (s *Set) addRow(rng *rand.Rand, i, n, groups, strata int, spread float64) {
	x := []float64{math.Round(10*rng.NormFloat64()) / 10, float64(rng.IntN(2)), 3}
	g := rng.IntN(groups)
	if i < groups { // none without rows
		g = i
	}
	if s.Kind == LoneRow && i >= groups && g == 0 {
		g = 1
	}
	t := math.Ceil(spread * rng.ExpFloat64() * math.Exp(-0.4*x[0]-0.5*x[1]-0.3*float64(g)))
	t = math.Max(1, math.Min(t, 9*spread))
	cause := []int{0, 0, 0, 1, 1, 1, 1, 1, 2, 2}[rng.IntN(10)]
	switch s.Kind {
	case NoEvents:
		cause = 0
	case OneTime:
		t = 7
	case EmptyGroup:
		if g == groups-1 {
			cause = 0
		}
	case Separated:
		if x[1] == 1 && cause == 1 {
			cause = 0
		}
	case WithZeros:
		if rng.IntN(6) == 0 {
			t = 0
		}
	case OnlyOther:
		cause = min(cause, 1) * 2
	}
	entry := 0.0
	if s.Late && t >= 2 && rng.IntN(2) == 0 {
		entry = math.Floor(rng.Float64() * t)
	}
	w := 1.0
	switch s.Weights {
	case Counts:
		w = float64(1 + rng.IntN(3))
	case Shares:
		w = float64(30+rng.IntN(170)) / 100
	}
	cluster := i
	if s.Clustered {
		cluster = rng.IntN(1 + n/2)
	}
	s.Entry, s.Time, s.Weight = append(s.Entry, entry), append(s.Time, t), append(s.Weight, w)
	s.Cause, s.Group, s.Stratum, s.Cluster = append(s.Cause, cause), append(s.Group, g), append(s.Stratum, rng.IntN(strata)), append(s.Cluster, cluster)
	for j := range s.X {
		s.X[j] = append(s.X[j], x[j])
	}
}

// look gives row i the interval in which visits would have placed its end.
func (s *Set) look(rng *rand.Rand, i int) {
	t := math.Max(1, s.Time[i])
	left, right := t, t
	switch k := rng.IntN(10); {
	case s.Cause[i] == 0 || k < 1:
		right = math.Inf(1)
	case k < 3:
		left, right = 0, t
	case k < 7:
		left = math.Floor(rng.Float64() * t)
		right = t + math.Floor(rng.Float64()*t)
		if right == left {
			right++
		}
	}
	s.Left, s.Right = append(s.Left, left), append(s.Right, right)
}

func (s *Set) repeat(rng *rand.Rand, i int) {
	var at []float64
	for t := s.Entry[i]; ; {
		t += math.Ceil(s.Time[i] * (0.05 + 0.9*rng.Float64()))
		if s.Time[i] == 0 || t > s.Time[i] || s.Kind == NoEvents {
			break
		}
		at = append(at, t)
	}
	s.Events = append(s.Events, at)
}

// HasEvents says whether any row has an event of the cause; 0: of any.
func (s *Set) HasEvents(cause int) bool {
	for _, c := range s.Cause {
		if c > 0 && (cause == 0 || c == cause) {
			return true
		}
	}
	return false
}

// Groups is how many groups there are.
func (s *Set) Groups() int {
	n := 0
	for _, g := range s.Group {
		n = max(n, g+1)
	}
	return n
}

// Write writes sets as one text table: a line per row, and one per repeated
// event, which names its row.
func Write(w io.Writer, sets []*Set) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"set", "row", "event", "late", "clustered", "weights", "scales", "entry", "time", "cause", "group", "stratum", "cluster", "weight", "x1", "x2", "x3", "left", "right"}); err != nil {
		return err
	}
	num := func(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }
	flag := map[bool]string{false: "0", true: "1"}
	for _, s := range sets {
		for i := range s.Time {
			line := []string{fmt.Sprint(s.Index), fmt.Sprint(i + 1), "", flag[s.Late], flag[s.Clustered], fmt.Sprint(int(s.Weights)), fmt.Sprint(s.Scales),
				num(s.Entry[i]), num(s.Time[i]), fmt.Sprint(s.Cause[i]), fmt.Sprint(s.Group[i]), fmt.Sprint(s.Stratum[i]), fmt.Sprint(s.Cluster[i]), num(s.Weight[i])}
			for j := range 3 {
				v := ""
				if j < len(s.X) {
					v = num(s.X[j][i])
				}
				line = append(line, v)
			}
			right := num(s.Right[i])
			if math.IsInf(s.Right[i], 1) {
				right = ""
			}
			if err := c.Write(append(line, num(s.Left[i]), right)); err != nil {
				return err
			}
			for _, t := range s.Events[i] {
				line := make([]string, 19)
				line[0], line[1], line[2] = fmt.Sprint(s.Index), fmt.Sprint(i+1), num(t)
				if err := c.Write(line); err != nil {
					return err
				}
			}
		}
	}
	c.Flush()
	return c.Error()
}
