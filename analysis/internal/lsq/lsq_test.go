package lsq

import (
	"errors"
	"math"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
	"plybook/analysis/stats"
)

func TestFactor(t *testing.T) {
	x := [][]float64{{1, 2, 3, 4, 6}, {1, 0, 1, 0, 1}}
	y := []float64{1, 3, 2, 5, 4}
	w := []float64{1, 2, 1, 0.5, 3}
	f, err := New(x, []string{"a", "b"}, 5, true, w)
	if err != nil {
		t.Fatal(err)
	}
	for j := range f.Q {
		for k := range f.Q {
			dot, want := 0.0, 0.0
			for i := range f.Q[j] {
				dot += f.Q[j][i] * f.Q[k][i]
			}
			if j == k {
				want = 1
			}
			if math.Abs(dot-want) > 1e-14 {
				t.Errorf("columns %d and %d of Q: %g", j, k, dot)
			}
		}
	}
	// L L' is the inverse of X'WX.
	cov := f.Cov(nil)
	design := [][]float64{{1, 1, 1, 1, 1}, x[0], x[1]}
	for j := range design {
		for k := range design {
			sum, want := 0.0, 0.0
			for m := range design {
				xx := 0.0
				for i := range w {
					xx += w[i] * design[m][i] * design[k][i]
				}
				sum += cov[j][m] * xx
			}
			if j == k {
				want = 1
			}
			if math.Abs(sum-want) > 1e-13 {
				t.Errorf("inverse times X'WX at %d,%d: %g", j, k, sum)
			}
		}
	}
	// The determinant of X'WX by the rule for three rows.
	det := func() float64 {
		var m [3][3]float64
		for j := range design {
			for k := range design {
				for i := range w {
					m[j][k] += w[i] * design[j][i] * design[k][i]
				}
			}
		}
		return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) - m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) + m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
	}()
	lsqtest.Close(t, "log determinant", f.LogDet, math.Log(det), 1e-13)
	coef, res, err := f.Solve(y)
	if err != nil {
		t.Fatal(err)
	}
	for i := range y {
		lsqtest.Close(t, "fitted plus residual", coef[0]+coef[1]*x[0][i]+coef[2]*x[1][i]+res[i], y[i], 1e-14)
	}
	for _, c := range design {
		s := 0.0
		for i := range c {
			s += w[i] * c[i] * res[i]
		}
		if math.Abs(s) > 1e-13 {
			t.Errorf("residuals are not orthogonal to a column: %g", s)
		}
	}
}

func TestFactorErrors(t *testing.T) {
	names := []string{"a", "b"}
	for name, c := range map[string]struct {
		x    [][]float64
		w    []float64
		want error
	}{
		"short":       {[][]float64{{1, 2, 3}, {1, 2}}, nil, ErrInput},
		"NaN":         {[][]float64{{1, 2, 3}, {1, 2, math.NaN()}}, nil, ErrInput},
		"zero weight": {[][]float64{{1, 2, 3}, {1, 2, 5}}, []float64{1, 0, 1}, ErrInput},
		"few weights": {[][]float64{{1, 2, 3}, {1, 2, 5}}, []float64{1}, ErrInput},
		"names":       {[][]float64{{1, 2, 3}}, nil, ErrInput},
		"constant":    {[][]float64{{1, 2, 3}, {5, 5, 5}}, nil, stats.ErrSingular},
		"dependent":   {[][]float64{{1, 2, 3}, {3, 5, 7}}, nil, stats.ErrSingular},
	} {
		if _, err := New(c.x, names, 3, true, c.w); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	f, err := New([][]float64{{1, 2, 4}}, []string{"a"}, 3, true, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, y := range [][]float64{{1, 2}, {1, 2, math.Inf(1)}} {
		if _, _, err := f.Solve(y); !errors.Is(err, ErrInput) {
			t.Errorf("response %v: %v", y, err)
		}
	}
	// More columns than rows end as dependent columns, not as a panic.
	if _, err := New([][]float64{{1, 2}, {2, 1}}, names, 2, true, nil); !errors.Is(err, stats.ErrSingular) {
		t.Errorf("more columns than rows: %v", err)
	}
	text := (&SingularError{Dependent: []Dependent{{"d", []string{"a", "b", "c"}}, {"e", nil}}}).Error()
	if text != "column d is given exactly by a, b and c; column e is given exactly by the constant; leave one of them out" {
		t.Errorf("message %q", text)
	}
}

// Values near the ends of the number range must not overflow in the sums.
func TestExtremeScales(t *testing.T) {
	f, err := New([][]float64{{1e200, 2e200, 3e200, 5e200}, {1e-200, 3e-200, 2e-200, 1e-200}}, []string{"a", "b"}, 4, true, nil)
	if err != nil {
		t.Fatal(err)
	}
	coef, _, err := f.Solve([]float64{1 + 2 + 3, 1 + 4 + 9, 1 + 6 + 6, 1 + 10 + 3})
	if err != nil {
		t.Fatal(err)
	}
	for j, want := range []float64{1, 2e-200, 3e200} {
		if math.Abs(coef[j]/want-1) > 1e-13 {
			t.Errorf("coefficient %d = %g, want %g", j, coef[j], want)
		}
	}
}

// Factored without its orthonormal columns a design gives the same.
func TestLean(t *testing.T) {
	const n = 400
	x, y := make([][]float64, 3), make([]float64, n)
	for j := range x {
		x[j] = make([]float64, n)
	}
	for i := range n {
		v := float64(i)
		x[0][i], x[1][i] = 20000+v, math.Sin(v)
		x[2][i] = x[1][i] + 0.1*math.Cos(3*v)
		y[i] = 3 + 0.01*v - x[1][i] + math.Sin(v*v)
	}
	names := []string{"a", "b", "c"}
	for _, intercept := range []bool{true, false} {
		a, err := New(x, names, n, intercept, nil)
		if err != nil {
			t.Fatal(err)
		}
		b, ok := Lean(x, n, intercept)
		if !ok || b.Q != nil {
			t.Fatal("not factored")
		}
		lsqtest.Close(t, "log determinant", b.LogDet, a.LogDet, 1e-12)
		want, wantLeft, _ := a.Solve(y)
		got, left, err := b.Solve(y)
		if err != nil {
			t.Fatal(err)
		}
		for j := range want {
			lsqtest.Close(t, "coefficient", got[j], want[j], 1e-12)
			for k := range want {
				lsqtest.Close(t, "covariance", b.Cov(nil)[j][k], a.Cov(nil)[j][k], 1e-9)
			}
		}
		var cols [][]float64
		if intercept {
			one := make([]float64, n)
			for i := range one {
				one[i] = 1
			}
			cols = append(cols, one)
		}
		for _, c := range x {
			cols = append(cols, append([]float64(nil), c...))
		}
		b.Orthonormal(cols)
		for i := range y {
			if math.Abs(left[i]-wantLeft[i]) > 1e-11 {
				t.Fatalf("row %d: residual %g, want %g", i, left[i], wantLeft[i])
			}
			for k := range cols {
				if math.Abs(cols[k][i]-a.Q[k][i]) > 1e-10 {
					t.Fatalf("row %d: column %d is %g, want %g", i, k, cols[k][i], a.Q[k][i])
				}
			}
		}
	}
	for what, x := range map[string][][]float64{
		"a column twice":   {x[0], x[0]},
		"nearly the same":  {x[1], append(append([]float64(nil), x[1][:n-1]...), x[1][n-1]+1e-4)},
		"a constant":       {make([]float64, n)},
		"not finite":       {append([]float64{math.NaN()}, x[0][1:]...)},
		"beyond all sizes": {append([]float64{math.Inf(1)}, x[0][1:]...)},
		"short":            {x[0][1:]},
	} {
		if _, ok := Lean(x, n, true); ok {
			t.Errorf("%s: factored", what)
		}
	}
}
