package survival

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// BandwidthError reports a bandwidth that cannot be used on the times there
// are.
type BandwidthError struct {
	Bandwidth float64
	Longest   float64 // the longest that could be; 0: not a number above 0
}

func (e *BandwidthError) Error() string {
	if e.Longest == 0 {
		return fmt.Sprintf("a smoothed hazard over %g: the bandwidth is a number above 0", e.Bandwidth)
	}
	return fmt.Sprintf("a smoothed hazard over %g to either side needs at least twice as long a time watched; %g is the most here", e.Bandwidth, e.Longest)
}

// Smooth is the hazard itself at each of the times, the steps of the
// cumulative hazard averaged over bandwidth to either side (Ramlau-Hansen
// 1983, Ann Stat 11:453) with the kernel of Epanechnikov. Within a bandwidth
// of 0 and of LastTime the kernel is the boundary kernel of Gasser and Müller
// (1979; as in Klein and Moeschberger 2003, Survival analysis, section 6.2),
// which does not bend the estimate down there; it can fall below 0, and is
// then 0 without bounds. Variance: the sum of squares of the kernel times
// d/Y², or where clusters repeat the infinitesimal jackknife grouped by
// cluster; limits are pointwise, made on the logarithm, and know nothing of
// the error of smoothing.
//
// Rates are per unit of time. Events of a point are those within its window,
// Censored is 0. A time below 0 or after LastTime gives an error, as does a
// bandwidth above half of LastTime (*BandwidthError).
func (h *Hazard) Smooth(times []float64, bandwidth float64) ([]Point, error) {
	switch {
	case !finite(bandwidth) || bandwidth <= 0:
		return nil, &BandwidthError{Bandwidth: bandwidth}
	case bandwidth > h.LastTime/2:
		return nil, &BandwidthError{bandwidth, h.LastTime / 2}
	}
	out := make([]Point, 0, len(times))
	z := stats.NormalQuantile(0.5 + h.Level/2)
	for _, at := range times {
		if !finite(at) || at < 0 || at > h.LastTime {
			return nil, fmt.Errorf("smoothed hazard at %g, outside 0 to %g", at, h.LastTime)
		}
		p := Point{Time: at, AtRisk: h.tally.atRisk(at)}
		weight := h.window(at, bandwidth)
		variance := 0.0
		for k, w := range weight {
			s := &h.tally.steps[k]
			if s.events == 0 || math.Abs(s.time-at) > bandwidth {
				continue
			}
			p.Events += s.events
			p.Estimate += w * s.events / s.atRisk
			variance += w * w * s.events / (s.atRisk * s.atRisk)
		}
		stdErr := math.Sqrt(variance)
		if h.Clustered {
			stdErr = h.groupedWindowError(weight)
		}
		p.Estimate = math.Max(0, p.Estimate)
		p.boundRate(stdErr, z)
		out = append(out, p)
	}
	return out, nil
}

// window is the kernel at each step, over the bandwidth.
func (h *Hazard) window(at, bandwidth float64) []float64 {
	out := make([]float64, len(h.tally.steps))
	for k := range h.tally.steps {
		x := (at - h.tally.steps[k].time) / bandwidth
		if math.Abs(x) > 1 {
			continue
		}
		q := 1.0
		if at < bandwidth {
			q = at / bandwidth
		} else if rest := h.LastTime - at; rest < bandwidth {
			q, x = rest/bandwidth, -x
		}
		out[k] = boundaryKernel(q, x) / bandwidth
	}
	return out
}

// boundaryKernel is the kernel on [-1, q]; q = 1 away from the boundary.
func boundaryKernel(q, x float64) float64 {
	if x < -1 || x > q {
		return 0
	}
	d := math.Pow(1+q, 4) * (19 - 18*q + 3*q*q)
	a := 64 * (2 - 4*q + 6*q*q - 3*q*q*q) / d
	b := 240 * (1 - q) * (1 - q) / d
	return 0.75 * (1 - x*x) * (a + b*x)
}

// groupedWindowError is the grouped jackknife error of the sum of weight
// times d/Y.
func (h *Hazard) groupedWindowError(weight []float64) float64 {
	if h.clusters < 2 {
		return math.Inf(1)
	}
	d, t := h.data, h.tally
	sum := make([]float64, len(t.steps)+1) // of weight d/Y² before each step
	for k := range t.steps {
		s := &t.steps[k]
		sum[k+1] = sum[k]
		if s.events > 0 {
			sum[k+1] += weight[k] * s.events / (s.atRisk * s.atRisk)
		}
	}
	u := make([]float64, h.clusters)
	for i := range d.Time {
		to := t.last(d.Time[i])
		x := sum[t.last(d.from(i))+1] - sum[to+1]
		if d.Cause[i] > 0 {
			x += weight[to] / t.steps[to].atRisk
		}
		u[h.of[i]] += d.weight(i) * x
	}
	return rootSquares(u)
}
