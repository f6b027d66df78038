package survival

import (
	"errors"
	"fmt"

	"plybook/analysis/stats"
)

// Trend is a test for trend over ordered groups.
type Trend struct {
	stats.Test
	// Rises says that events came faster than expected in the groups of
	// higher score, and slower in those of lower.
	Rises bool
}

// Trend tests whether the hazard rises or falls along the scores of the
// groups, one a group in their order: with U = sum of score (observed -
// expected) and V its variance from the same log-rank test, U²/V has one
// degree of freedom (Tarone 1975, Biometrika 62:679; Klein and Moeschberger
// 2003, Survival analysis, section 7.4). Only the spacing of the scores
// matters. Errors: scores that are of the wrong number, not finite or all
// equal; ErrNoComparison.
func (r *LogRankResult) Trend(scores []float64) (Trend, error) {
	if len(scores) != len(r.Groups) {
		return Trend{}, fmt.Errorf("trend: %d groups but %d scores", len(r.Groups), len(scores))
	}
	same := true
	for _, s := range scores {
		if !finite(s) {
			return Trend{}, errors.New("trend: a score is not a finite number")
		}
		same = same && s == scores[0]
	}
	if same {
		return Trend{}, errors.New("trend: the groups all have one score")
	}
	// Scores from the first group on: the test is the same, and large
	// scores that differ by little lose no digits.
	u, v, scale := 0.0, 0.0, 0.0
	for a, g := range r.Groups {
		x := scores[a] - scores[0]
		u += x * (g.Observed - g.Expected)
		for b := range r.Groups {
			v += x * r.Variance[a][b] * (scores[b] - scores[0])
		}
		scale += x * x * r.Variance[a][a]
	}
	if !(v > 1e-12*scale) {
		return Trend{}, fmt.Errorf("trend: %w", ErrNoComparison)
	}
	t := Trend{Rises: u > 0}
	t.Name, t.Statistic, t.DF = r.Name+" for trend", u*u/v, 1
	t.P = stats.ChiSquareP(t.Statistic, 1)
	return t, nil
}
