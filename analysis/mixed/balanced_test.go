package mixed

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq/lsqtest"
)

// In balanced data restricted likelihood gives the estimates of analysis of
// variance (Searle, Casella & McCulloch 1992, Variance Components, section
// 4.6): closed forms that no optimiser has touched.
func TestBalancedInterceptIsAnalysisOfVariance(t *testing.T) {
	d, _ := sleep(t)
	d.Z, d.ZNames = nil, nil
	m, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	const g, n = 18.0, 10.0
	x := d.X[0]
	mean, mx := floats.Sum(d.Y)/(g*n), 4.5
	group := make([]float64, 18)
	sxx, sxy, total := 0.0, 0.0, 0.0
	for i, y := range d.Y {
		group[d.Group[i]] += y / n
		sxx += (x[i] - mx) * (x[i] - mx)
		sxy += (x[i] - mx) * y
		total += (y - mean) * (y - mean)
	}
	between := 0.0
	for _, v := range group {
		between += n * (v - mean) * (v - mean)
	}
	s2 := (total - between - sxy*sxy/sxx) / (g*n - g - 1)
	sb := (between/(g-1) - s2) / n
	lsqtest.Close(t, "residual variance", m.Sigma*m.Sigma, s2, 1e-10)
	lsqtest.Close(t, "variance between", m.Variance[0].Variance, sb, 1e-10)
	lsqtest.Close(t, "slope", m.Coef[1].Estimate, sxy/sxx, 1e-12)
	lsqtest.Close(t, "standard error", m.Coef[1].SE, math.Sqrt(s2/sxx), 1e-10)
	// The slope is judged by scatter within groups: exact degrees of freedom.
	lsqtest.Close(t, "df of the slope", m.Coef[1].DF, g*n-g-1, 1e-7)
	// The mean at the centre of x is judged by the groups alone.
	c, err := m.Contrast([]float64{1, mx})
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "standard error of the mean", c.SE, math.Sqrt(between/(g-1)/(g*n)), 1e-10)
	lsqtest.Close(t, "df of the mean", c.DF, g-1, 1e-7)
}

// With the same columns in every group, the groups' own least-squares lines
// hold all there is to know: their covariance is the random covariance plus
// that of their scatter, and the fixed effects are judged by them alone.
func TestBalancedSlopesAreTwoStage(t *testing.T) {
	for name, c := range map[string]struct {
		d      Data
		strata int // groups of groups with fixed effects of their own
	}{
		"sleepstudy": {first(sleep(t)), 1},
		"orthodont":  {first(ortho(t)), 2},
	} {
		m, err := Fit(c.d, Options{})
		if err != nil {
			t.Fatal(name, err)
		}
		x, y := c.d.X[0], c.d.Y
		groups := map[int][]int{}
		for i, g := range c.d.Group {
			groups[g] = append(groups[g], i)
		}
		rss, free, sxx, mx, n := 0.0, 0.0, 0.0, 0.0, 0.0
		line := map[int][2]float64{}
		for g, rows := range groups {
			n = float64(len(rows))
			sx, sy, xx, xy := 0.0, 0.0, 0.0, 0.0
			for _, i := range rows {
				sx, sy = sx+x[i]/n, sy+y[i]/n
			}
			for _, i := range rows {
				xx += (x[i] - sx) * (x[i] - sx)
				xy += (x[i] - sx) * y[i]
			}
			b := xy / xx
			line[g] = [2]float64{sy - b*sx, b}
			for _, i := range rows {
				e := y[i] - sy - b*(x[i]-sx)
				rss += e * e
			}
			free, sxx, mx = free+n-2, xx, sx
		}
		s2 := rss / free
		// Scatter of the groups' lines about the mean of their stratum.
		stratum := func(g int) int {
			if c.strata == 1 {
				return 0
			}
			return int(c.d.X[1][groups[g][0]])
		}
		mean, count := make([][2]float64, c.strata), make([]float64, c.strata)
		for g, l := range line {
			s := stratum(g)
			count[s]++
			mean[s][0], mean[s][1] = mean[s][0]+l[0], mean[s][1]+l[1]
		}
		var cov [2][2]float64
		for g, l := range line {
			s := stratum(g)
			for j := range 2 {
				for k := range 2 {
					cov[j][k] += (l[j] - mean[s][j]/count[s]) * (l[k] - mean[s][k]/count[s]) / float64(len(line)-c.strata)
				}
			}
		}
		slope := cov[1][1]
		cov[0][0] -= s2 * (1/n + mx*mx/sxx)
		cov[1][1] -= s2 / sxx
		cov[0][1] += s2 * mx / sxx
		lsqtest.Close(t, name+" residual variance", m.Sigma*m.Sigma, s2, 1e-10)
		lsqtest.Close(t, name+" intercept variance", m.RandomCov[0][0], cov[0][0], 1e-9)
		lsqtest.Close(t, name+" slope variance", m.RandomCov[1][1], cov[1][1], 1e-9)
		lsqtest.Close(t, name+" covariance", m.RandomCov[0][1], cov[0][1], 1e-9)
		last := m.Coef[len(m.Coef)-1]
		inverse := 0.0
		for _, k := range count {
			inverse += 1 / k
		}
		lsqtest.Close(t, name+" standard error of "+last.Name, last.SE, math.Sqrt(slope*inverse), 1e-9)
		lsqtest.Close(t, name+" df of "+last.Name, last.DF, float64(len(line)-c.strata), 1e-7)
	}
}

func first(d Data, _ []string) Data { return d }
