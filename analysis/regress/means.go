package regress

import (
	"math"

	"plybook/analysis/stats"
)

// MeanOf is the mean of some rows with an interval that allows for several
// rows of one cluster. SE, DF, Low and High are NaN where the data allow no
// error: one cluster, or all rows the same.
type MeanOf struct {
	Mean, SE, DF, Low, High float64
	SD                      float64 // of the rows; NaN of one alone
	Rows, Clusters          int
}

// ClusterMean is the mean of y, clusters numbered by any numbers: a linear
// model of the constant alone, whose error is CR2 with Satterthwaite's degrees
// of freedom. Without repeats it is the mean's usual error, s / sqrt(n), on
// n - 1 degrees of freedom. No rows give stats.ErrNoRows.
func ClusterMean(y []float64, cluster []int, level float64) (MeanOf, error) {
	nan := math.NaN()
	m := MeanOf{SE: nan, DF: nan, Low: nan, High: nan, SD: nan, Rows: len(y)}
	if len(y) == 0 {
		return m, stats.ErrNoRows
	}
	seen := map[int]bool{}
	for _, c := range cluster {
		seen[c] = true
	}
	m.Clusters = len(seen)
	same := true
	for _, v := range y {
		m.Mean += v / float64(len(y))
		same = same && v == y[0]
	}
	if same { // sums of equal parts would be off by rounding
		m.Mean = y[0]
	}
	if len(y) > 1 {
		ss := 0.0
		for _, v := range y {
			ss += (v - m.Mean) * (v - m.Mean)
		}
		m.SD = math.Sqrt(ss / float64(len(y)-1))
	}
	if m.Clusters < 2 || same {
		return m, nil
	}
	fit, err := FitLinear(LinearData{Y: y, Intercept: true, Cluster: cluster}, LinearOptions{Level: level, Robust: CR2})
	if err != nil {
		return m, err
	}
	if c := fit.Coef[0]; c.Tested {
		m.Mean, m.SE, m.DF, m.Low, m.High = c.Estimate, c.SE, c.DF, c.Low, c.High
	}
	return m, nil
}

// ShareOf is a share of rows with its interval.
type ShareOf struct {
	Events, Rows, Clusters int
	Share, Low, High       float64
	Effective              float64 // independent rows that would tell as much
}

// ClusterShare is the share of rows that are true. Low and High are the exact
// binomial limits for the number of independent rows that would tell as much:
// the rows divided by the design effect, the squared error of ClusterMean over
// p (1 - p) / (n - 1), made smaller by the square of the ratio of Student's
// quantiles on n - 1 and on Satterthwaite's degrees of freedom, and never more
// than the rows. Without repeats, they are the exact limits as they stand.
// Where all rows are alike, repeats cannot be weighed, and each cluster counts
// once.
//
// Source: Korn EL, Graubard BI. Confidence intervals for proportions with small
// expected number of positive counts estimated from survey data. Survey
// Methodology 1998; 24: 193-201.
func ClusterShare(is []bool, cluster []int, level float64) (ShareOf, error) {
	y := make([]float64, len(is))
	s := ShareOf{Rows: len(is)}
	for i, v := range is {
		if v {
			y[i] = 1
			s.Events++
		}
	}
	m, err := ClusterMean(y, cluster, level)
	if err != nil {
		return s, err
	}
	n := float64(s.Rows)
	s.Clusters, s.Share, s.Effective = m.Clusters, float64(s.Events)/n, n
	switch {
	case s.Clusters == s.Rows:
	case math.IsNaN(m.SE) || m.SE == 0:
		s.Effective = float64(s.Clusters)
	default:
		effect := m.SE * m.SE / (s.Share * (1 - s.Share) / (n - 1))
		t := stats.StudentQuantile(1-(1-level)/2, n-1) / stats.StudentQuantile(1-(1-level)/2, m.DF)
		s.Effective = math.Min(n, n/effect*t*t)
	}
	s.Low, s.High = stats.ExactShare(s.Share*s.Effective, s.Effective, level)
	return s, nil
}
