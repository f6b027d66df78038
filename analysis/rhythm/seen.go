package rhythm

import "math"

// Parts is into how many parts a cycle is cut to say how much of it was seen:
// two hours of the day, a twelfth of the year.
const Parts = 12

// Arc is the stretch of the cycle from the first to the last place seen. It may
// run past the end of a cycle: from 22 to 30 is from ten in the evening to six
// in the morning. Whole says that it leaves out none of the parts.
type Arc struct {
	From, To float64
	Whole    bool
}

// In brings a place of the cycle into the arc's own turn.
func (a Arc) In(x, period float64) float64 { return a.From + wrap(x-a.From, period) }

// Holds says whether a place of the cycle lies in the arc.
func (a Arc) Holds(x, period float64) bool { return a.Whole || a.In(x, period) <= a.To }

// Seen is how much of a cycle rows lie in.
type Seen struct {
	Rows     [Parts]int // in each part
	Often    [Parts]bool
	Count    int // parts that are seen often
	Distinct int // different places
	Arc      Arc
}

// PartOf is the part in which a place lies, from 0.
func PartOf(x, period float64) int {
	return min(int(wrap(x, period)/period*Parts), Parts-1)
}

// SeenOf looks at the places of rows. A part is seen often where one row in a
// hundred lies in it and two at least: a single visit at night shows nothing of
// the night. The arc leaves out the longest run of other parts, and reaches from
// the first to the last row in the rest.
func SeenOf(x []float64, period float64) Seen {
	var s Seen
	places := map[float64]bool{}
	var first, last [Parts]float64
	for _, v := range x {
		v = wrap(v, period)
		places[v] = true
		k := PartOf(v, period)
		if s.Rows[k] == 0 {
			first[k], last[k] = v, v
		}
		first[k], last[k] = math.Min(first[k], v), math.Max(last[k], v)
		s.Rows[k]++
	}
	s.Distinct = len(places)
	need := max(2, (len(x)+99)/100)
	for k, n := range s.Rows {
		s.Often[k] = n >= need
		if s.Often[k] {
			s.Count++
		}
	}
	if s.Count == 0 {
		return s
	}
	if s.Count == Parts {
		s.Arc = Arc{From: 0, To: period, Whole: true}
		return s
	}
	longest, after := 0, 0 // after: the part that follows the longest run
	for k := range Parts {
		if !s.Often[k] || s.Often[(k+Parts-1)%Parts] {
			continue
		}
		run := 0
		for !s.Often[(k+Parts-1-run)%Parts] {
			run++
		}
		if run > longest {
			longest, after = run, k
		}
	}
	end := (after + Parts - 1 - longest) % Parts // the last part of the arc
	s.Arc.From, s.Arc.To = first[after], last[end]
	if s.Arc.To < s.Arc.From {
		s.Arc.To += period
	}
	return s
}
