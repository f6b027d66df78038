package quality

import "plybook/analysis/stats"

// At is the fitted value of a period, had the change come about or not.
func (l *SegmentedLines) At(k int, changed bool) float64 {
	sum := 0.0
	for j, v := range l.fit.row(k, changed) {
		sum += v * l.Coef[j].Value
	}
	return sum
}

// Level is At in the middle of the season.
func (l *SegmentedLines) Level(k int, changed bool) float64 {
	sum := 0.0
	for j, v := range l.fit.row(k, changed)[:4] {
		sum += v * l.Coef[j].Value
	}
	return sum
}

// Effect is how far the new line lies from the old one carried on, in a
// period.
func (l *SegmentedLines) Effect(k int) SegmentedEstimate {
	t := float64(k - l.fit.data.Start)
	v := l.Cov[2][2] + 2*t*l.Cov[2][3] + t*t*l.Cov[3][3]
	return l.fit.estimates([]float64{l.Coef[2].Value + t*l.Coef[3].Value}, [][]float64{{v}})[0]
}

// SlopeAfter is the slope of the new line.
func (l *SegmentedLines) SlopeAfter() SegmentedEstimate {
	v := l.Cov[1][1] + 2*l.Cov[1][3] + l.Cov[3][3]
	return l.fit.estimates([]float64{l.Coef[1].Value + l.Coef[3].Value}, [][]float64{{v}})[0]
}

// Interval is an interval about an estimate.
func (e SegmentedEstimate) Interval(confidence float64) (low, high float64) {
	d := stats.StudentQuantile(0.5+confidence/2, e.DF) * e.StdErr
	return e.Value - d, e.Value + d
}
