package modeltest

import (
	"math"
	"slices"

	"plybook/analysis/mixed"
	"plybook/analysis/quadrature"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
)

// fitted are the models under test of one set.
type fitted struct {
	set                *Set
	mixed, residual    *mixed.Model
	leveled            *quadrature.Model
	mixedErr           error
	residualErr, lvErr error
	working            map[string]*regress.GLM
	workingErr         map[string]error
}

func fitAll(s *Set) *fitted {
	f := &fitted{set: s, working: map[string]*regress.GLM{}, workingErr: map[string]error{}}
	f.mixed, f.mixedErr = fitMixed(s, s.Mixed)
	if s.Residual != "" {
		f.residual, f.residualErr = fitMixed(s, s.Residual)
	}
	if s.Leveled != "" {
		family := quadrature.Family(slices.Index(outcomes, s.Leveled))
		d := quadrature.Data{Y: s.Yes, X: s.columns(), Names: names, Group: s.Limb}
		switch family {
		case quadrature.Poisson:
			d.Y, d.Offset = s.Count, s.LogYears()
		case quadrature.Ordinal:
			d.Y, d.Levels = floats(s.Level), s.Levels()
		}
		f.leveled, f.lvErr = quadrature.Fit(family, d, quadrature.Options{})
	}
	for family, name := range outcomes[:2] {
		for kind, cor := range workings {
			what := "gee_" + name + "_" + cor
			f.working[what], f.workingErr[what] = regress.FitGLM(regress.Family(family), s.counts(regress.Family(family)), regress.GLMOptions{Correlation: regress.Correlation(kind)})
		}
	}
	return f
}

var (
	names    = []string{"t", "g", "x"}
	workings = []string{"independence", "exchangeable", "ar1"}
)

func (s *Set) columns() [][]float64 { return [][]float64{s.T, s.G, s.X} }

func floats(of []int) []float64 {
	out := make([]float64, len(of))
	for i, v := range of {
		out[i] = float64(v)
	}
	return out
}

// fitMixed fits one of Mixeds or Residuals, as the list kinds of compare.R has it.
func fitMixed(s *Set, kind string) (*mixed.Model, error) {
	d := mixed.Data{Y: s.Y, X: s.columns(), Names: names, Intercept: true, Group: s.Limb, GroupName: "limb", RandomIntercept: kind != "serial"}
	o := mixed.Options{ML: s.ML, Uncorrelated: kind == "apart"}
	switch kind {
	case "slope", "apart", "nestedslope", "slopespread", "all":
		d.Z, d.ZNames = d.X[:1], names[:1]
	}
	switch kind {
	case "nested", "nestedslope", "personslope", "nestedserial", "all":
		d.Above = &mixed.Level{Name: "person", Labels: s.Person}
	}
	switch kind {
	case "personslope":
		d.Above.Z, d.Above.ZNames = d.X[:1], names[:1]
	case "crossed", "all":
		d.Crossed = []mixed.Level{{Name: "by", Labels: s.By}}
	case "serial", "levelserial", "nestedserial", "serialspread":
		d.Time, o.Correlation = s.T, mixed.ContinuousAR1
	}
	switch kind {
	case "levelspread", "slopespread", "serialspread":
		d.Spread = s.By
	}
	return mixed.Fit(d, o)
}

// points are the estimates as compare.R takes them.
func (f *fitted) points() map[string][]float64 {
	out := map[string][]float64{}
	for name, m := range map[string]*mixed.Model{"mixed": f.mixed, "residual": f.residual} {
		if m != nil {
			out[name] = point(m, map[string]string{"mixed": f.set.Mixed, "residual": f.set.Residual}[name])
		}
	}
	if m := f.leveled; m != nil {
		for _, c := range m.Coef {
			out["leveled"] = append(out["leveled"], c.Estimate)
		}
		out["leveled"] = append(out["leveled"], m.SD)
	}
	for what, m := range f.working {
		if m != nil && !held(m) {
			out[what] = []float64{m.Alpha}
		}
	}
	return out
}

// held says that the correlation was held within what is possible: nothing
// solves the equations there, and geepack runs off.
func held(m *regress.GLM) bool {
	return slices.ContainsFunc(m.Warnings, func(w stats.Warning) bool { return w.Code == "correlation-bound" })
}

const unit = 10 // of the slopes in compare.R

func point(m *mixed.Model, kind string) []float64 {
	base := m.Sigma
	if len(m.Spread) > 0 {
		base = m.Spread[0].SD
	}
	var out []float64
	for _, l := range m.Layers {
		lower := factor(l.Cov, base)
		for c := range lower {
			for r := c; r < len(lower); r++ {
				if kind != "apart" || r == c || l.Name != "limb" {
					out = append(out, lower[r][c])
				}
			}
		}
	}
	switch kind {
	case "serial", "levelserial", "nestedserial", "serialspread":
		out = append(out, math.Log(math.Max(m.Range, 1e-3))) // 0: residuals came out as independent
	}
	for k, v := range m.Spread {
		if k > 0 {
			out = append(out, math.Log(v.SD/base))
		}
	}
	return out
}

// factor is the Cholesky factor of a covariance of level and slope, which may
// be singular, over that of the residuals, of ten times the slope.
func factor(cov [][]float64, sd float64) [][]float64 {
	lower := make([][]float64, len(cov))
	for r := range cov {
		lower[r] = make([]float64, len(cov))
		for c := range r + 1 {
			v := cov[r][c] / (sd * sd)
			if r > 0 {
				v *= unit
			}
			if c > 0 {
				v *= unit
			}
			for k := range c {
				v -= lower[r][k] * lower[c][k]
			}
			switch {
			case r == c:
				lower[r][c] = math.Sqrt(math.Max(v, 0))
			case lower[c][c] > 0:
				lower[r][c] = v / lower[c][c]
			}
		}
	}
	return lower
}
