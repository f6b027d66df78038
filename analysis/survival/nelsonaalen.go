package survival

import (
	"fmt"
	"math"
)

// HazardPoint is a cumulative hazard at one time.
type HazardPoint struct {
	Time     float64
	Estimate float64
	StdErr   float64
}

// NelsonAalen is the cumulative hazard of any event: the sum of d/Y, with
// the variance of Aalen 1978 (Ann Stat 6:701), the sum of d/Y². It has a
// point at time 0 and at each distinct time of an event or a censoring.
// Clusters are not allowed for.
func NelsonAalen(d Data) ([]HazardPoint, error) {
	if err := d.Validate(); err != nil {
		return nil, fmt.Errorf("cumulative hazard: %w", err)
	}
	var out []HazardPoint
	hazard, variance := 0.0, 0.0
	t := count(d, 0)
	if t.steps[0].time > 0 {
		out = append(out, HazardPoint{})
	}
	for k := range t.steps {
		s := &t.steps[k]
		if s.events > 0 {
			hazard += s.events / s.atRisk
			variance += s.events / (s.atRisk * s.atRisk)
		}
		out = append(out, HazardPoint{s.time, hazard, math.Sqrt(variance)})
	}
	return out, nil
}
