package regress

import (
	"math"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// unbalanced is the set that cr2.R cuts out of the orthodont data, with age
// as a factor of three columns.
func unbalanced(t testing.TB) LinearData {
	c := lsqtest.Columns(t, published, "orthodont")
	d := LinearData{Names: []string{"10", "12", "14", "male"}, Terms: []int{0, 0, 0, 1}, TermNames: []string{"age", "male"}, Intercept: true}
	d.X = make([][]float64, 4)
	var subject []string
	y, age := lsqtest.Numbers(t, c["distance"]), lsqtest.Numbers(t, c["age"])
	for i := range y {
		if (i+1)%7 == 0 || c["Subject"][i] == "M01" && age[i] > 8 {
			continue
		}
		d.Y = append(d.Y, y[i])
		subject = append(subject, c["Subject"][i])
		for j, yes := range []bool{age[i] == 10, age[i] == 12, age[i] == 14, c["Sex"][i] == "Male"} {
			v := 0.0
			if yes {
				v = 1
			}
			d.X[j] = append(d.X[j], v)
		}
	}
	d.Cluster = lsqtest.Groups(subject)
	return d
}

// The dense formula in R (testdata/published/robust/cr2.R).
func TestCR2AgainstFormula(t *testing.T) {
	var want map[string]struct {
		Coef, SE, DF []float64
		Tests        [][]float64
	}
	lsqtest.Expected(t, published, "robust", "cr2.json", &want)

	weighted := unbalanced(t)
	for i := range weighted.Y {
		weighted.Weight = append(weighted.Weight, 1+float64((i+1)%3))
	}
	subjects := unbalanced(t)
	n := 0
	for _, g := range subjects.Cluster {
		n = max(n, g)
	}
	// male is replaced by the subjects, in the order of their clusters; which
	// subject is the reference changes nothing for the ages.
	subjects.X, subjects.Names, subjects.Terms = subjects.X[:3], subjects.Names[:3], subjects.Terms[:3]
	subjects.TermNames = []string{"age", "subject"}
	for g := 1; g <= n; g++ {
		col := make([]float64, len(subjects.Y))
		for i, k := range subjects.Cluster {
			if k == g {
				col[i] = 1
			}
		}
		subjects.X, subjects.Names, subjects.Terms = append(subjects.X, col), append(subjects.Names, "subject"), append(subjects.Terms, 1)
	}
	for name, d := range map[string]LinearData{"sleepstudy": sleep(t), "orthodont": ortho(t), "unbalanced": unbalanced(t),
		"weighted": weighted, "subjects": subjects} {
		w := want[name]
		m, err := FitLinear(d, LinearOptions{})
		if err != nil {
			t.Fatal(name, err)
		}
		if m.Used != CR2 {
			t.Fatalf("%s: used %v, want CR2", name, m.Used)
		}
		for j, b := range m.Coef {
			if name == "subjects" && (j == 0 || j > 3) {
				if b.Tested {
					t.Errorf("%s: %s rests on one cluster and is tested", name, b.Name)
				}
				continue
			}
			lsqtest.Close(t, name+" "+b.Name, b.Estimate, w.Coef[j], 1e-9)
			lsqtest.Close(t, name+" CR2 "+b.Name, b.SE, w.SE[j], 1e-8)
			lsqtest.Close(t, name+" df "+b.Name, b.DF, w.DF[j], 1e-8)
		}
		if len(m.Terms) != len(w.Tests) {
			t.Fatalf("%s: %d tests, want %d", name, len(m.Terms), len(w.Tests))
		}
		for j, f := range m.Terms {
			lsqtest.Close(t, name+" Wald", f.Statistic, w.Tests[j][0], 1e-8)
			lsqtest.Close(t, name+" Wald df1", f.DF1, w.Tests[j][1], 0)
			lsqtest.Close(t, name+" Wald df2", f.DF2, w.Tests[j][2], 1e-8)
			lsqtest.Close(t, name+" Wald p", f.P, w.Tests[j][3], 1e-8)
			if f.Name != "age" {
				t.Errorf("%s: the term is called %q", name, f.Name)
			}
		}
	}
}

// Two groups of clusters of equal size: CR2 of the difference is the variance
// of Welch's comparison of the cluster means, and its Satterthwaite degrees
// of freedom, under the model of independent rows, are Welch's with equal
// variances (Bell & McCaffrey 2002, section 4; Imbens & Kolesar 2016, Rev
// Econ Stat 98:701).
func TestCR2IsWelchForBalancedGroups(t *testing.T) {
	means := [][]float64{{3, 5.5, 4.1}, {7.2, 6.1, 9.4, 8.8, 5.2, 6.6, 7.9}}
	within := []float64{-1.5, 0.25, 0.5, 0.75}
	var d LinearData
	d.X, d.Names, d.Intercept = make([][]float64, 1), []string{"group"}, true
	cluster := 0
	for g, list := range means {
		for c, m := range list {
			for _, e := range within {
				d.Y = append(d.Y, m+e*float64(1+c))
				d.X[0] = append(d.X[0], float64(g))
				d.Cluster = append(d.Cluster, 100-cluster)
			}
			cluster++
		}
	}
	m, err := FitLinear(d, LinearOptions{})
	if err != nil {
		t.Fatal(err)
	}
	variance, n := [2]float64{}, [2]float64{}
	mean := [2]float64{}
	for g, list := range means {
		n[g] = float64(len(list))
		for _, v := range list {
			mean[g] += v / n[g]
		}
		for _, v := range list {
			variance[g] += (v - mean[g]) * (v - mean[g]) / (n[g] - 1)
		}
	}
	b := m.Coef[1]
	lsqtest.Close(t, "difference", b.Estimate, mean[1]-mean[0], 1e-13)
	lsqtest.Close(t, "standard error", b.SE, math.Sqrt(variance[0]/n[0]+variance[1]/n[1]), 1e-12)
	sum := 1/n[0] + 1/n[1]
	df := sum * sum / (1/(n[0]*n[0]*(n[0]-1)) + 1/(n[1]*n[1]*(n[1]-1)))
	lsqtest.Close(t, "degrees of freedom", b.DF, df, 1e-12)
	// The mean of the reference group has its clusters less one.
	lsqtest.Close(t, "degrees of freedom of the mean", m.Coef[0].DF, n[0]-1, 1e-12)
}

// A one-sample mean with one row per cluster: CR2 is the ordinary variance of
// a mean and the degrees of freedom are rows less one.
func TestCR2OfAMean(t *testing.T) {
	y := []float64{1, 4, 2, 8, 5, 7}
	m, err := FitLinear(LinearData{Y: y, Intercept: true, Cluster: []int{1, 2, 3, 4, 5, 6}}, LinearOptions{})
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "standard error", m.Coef[0].SE, m.Sigma/math.Sqrt(6), 1e-13)
	lsqtest.Close(t, "degrees of freedom", m.Coef[0].DF, 5, 1e-12)
	// One row per cluster: CR2 is HC2, CR0 is HC0.
	lsqtest.Close(t, "CR2", m.Cov.CR2[0][0], m.Cov.HC2[0][0], 1e-13)
	lsqtest.Close(t, "CR0", m.Cov.CR0[0][0], m.Cov.HC0[0][0], 1e-13)
}
