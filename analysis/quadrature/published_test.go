package quadrature

import (
	"math"
	"os"
	"plybook/analysis/internal/lsq/lsqtest"
	"strconv"
	"testing"
)

// published reads a set as columns of text by name.
func published(t testing.TB, set string) map[string][]string {
	t.Helper()
	return lsqtest.Columns(t, os.DirFS("../../testdata/published"), set)
}

func num(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// is turns text into 1 where it is a value and 0 elsewhere.
func is(c []string, value string) []float64 {
	out := make([]float64, len(c))
	for i, v := range c {
		if v == value {
			out[i] = 1
		}
	}
	return out
}

func same(t testing.TB, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Max(1e-3, math.Abs(want))) {
		t.Errorf("%s is %.12g, want %.12g (off by %.1e)", what, got, want, got/want-1)
	}
}

// herds is one row an animal.
func herds(t testing.TB) Data {
	c := published(t, "cbpp")
	d := Data{Names: []string{"period 2", "period 3", "period 4"}, X: make([][]float64, 3)}
	for i := range c["herd"] {
		for k := range int(num(t, c["size"][i])) {
			y := 0.0
			if k < int(num(t, c["incidence"][i])) {
				y = 1
			}
			d.Y = append(d.Y, y)
			d.Group = append(d.Group, int(num(t, c["herd"][i])))
			for j, p := range []string{"2", "3", "4"} {
				v := 0.0
				if c["period"][i] == p {
					v = 1
				}
				d.X[j] = append(d.X[j], v)
			}
		}
	}
	return d
}

// The values are of lme4 1.1-31: glmer(y ~ period + (1 | herd), binomial), one
// row an animal (Lesnoff et al. 2004, Prev Vet Med 64:101), bobyqa with rhoend
// 1e-9, tolPwrss 1e-13. Standard errors there are from differences of the
// deviance.
func TestHerds(t *testing.T) {
	for _, c := range []struct {
		nodes        int
		coef, se     []float64
		sd, ll       float64
		modes, error []float64
	}{
		{1, []float64{-1.3985320056, -0.9923327364, -1.1286721834, -1.5803142433}, nil, 0.642261513521, -277.501941555656,
			[]float64{0.5900200008, -0.2988973098, 0.4062555391}, []float64{0.3482650634, 0.3655582171, 0.2973184928}},
		{5, []float64{-1.3991938317, -0.9914381465, -1.1278531978, -1.5795087704}, nil, 0.647364610023, -277.459697536731,
			[]float64{0.5929290063, -0.3002274034, 0.4078083735}, []float64{0.3488782721, 0.3666427995, 0.2977137160}},
		{25, []float64{-1.3992304481, -0.9914036776, -1.1278195094, -1.5794706897}, []float64{0.2335114837, 0.3067678745, 0.3267682423, 0.4275941836},
			0.647518481225, -277.459028721470, []float64{0.5930248354, -0.3002582787, 0.4078640090}, []float64{0.3488967022, 0.3666756311, 0.2977255773}},
	} {
		m, err := Fit(Logistic, herds(t), Options{Nodes: c.nodes})
		if err != nil {
			t.Fatal(err)
		}
		for j, v := range c.coef {
			same(t, "coefficient", m.Coef[j].Estimate, v, 5e-6)
			if c.se != nil {
				same(t, "its error", m.Coef[j].SE, c.se[j], 2e-4)
			}
		}
		same(t, "standard deviation", m.SD, c.sd, 2e-6)
		same(t, "log likelihood", m.LogLik, c.ll, 1e-10)
		same(t, "the plain one", m.LogLikPlain, -284.504859174, 1e-10)
		for j, v := range c.modes {
			same(t, "mode", m.Effects[j].Mode, v, 2e-5)
			same(t, "its error", m.Effects[j].SE, c.error[j], 1e-5)
		}
	}
}

func children(t testing.TB) Data {
	c := published(t, "ohio")
	d := Data{Names: []string{"age", "smoke"}, X: make([][]float64, 2)}
	for i := range c["id"] {
		d.Y = append(d.Y, num(t, c["resp"][i]))
		d.Group = append(d.Group, int(num(t, c["id"][i])))
		d.X[0] = append(d.X[0], num(t, c["age"][i]))
		d.X[1] = append(d.X[1], num(t, c["smoke"][i]))
	}
	return d
}

// lme4 1.1-31: glmer(resp ~ age + smoke + (1 | id), binomial, nAGQ = 25),
// tolPwrss 1e-13; data of Fitzmaurice & Laird 1993, Biometrika 80:141. There 25
// nodes are not enough for the fourth digit of the log likelihood.
func TestChildren(t *testing.T) {
	m, err := Fit(Logistic, children(t), Options{Nodes: 25})
	if err != nil {
		t.Fatal(err)
	}
	for j, v := range []float64{-3.1015272715, -0.1756276977, 0.3985647666} {
		same(t, "coefficient", m.Coef[j].Estimate, v, 2e-6)
		same(t, "its error", m.Coef[j].SE, []float64{0.21904712237, 0.06767760167, 0.27308848605}[j], 2e-4)
	}
	same(t, "standard deviation", m.SD, 2.16491253424, 2e-6)
	same(t, "log likelihood", m.LogLik, -797.64835437401, 1e-10)
	if m.Classes > 40 || m.Groups != 537 {
		t.Errorf("%d groups in %d classes", m.Groups, m.Classes)
	}
}

func wines(t testing.TB) Data {
	c := published(t, "wine")
	d := Data{Levels: 5, Names: []string{"warm", "contact"}, X: [][]float64{is(c["temp"], "warm"), is(c["contact"], "yes")}}
	for i := range c["judge"] {
		d.Y = append(d.Y, num(t, c["rating"][i])-1)
		d.Group = append(d.Group, int(num(t, c["judge"][i])))
	}
	return d
}

// ordinal 2022.11-16: clmm(rating ~ temp + contact + (1 | judge), nAGQ = 25),
// which stops where its gradient is 2e-5, hence the tolerance; data of Randall 1989, Biometrical J 31:781.
func TestWines(t *testing.T) {
	m, err := Fit(Ordinal, wines(t), Options{Nodes: 25})
	if err != nil {
		t.Fatal(err)
	}
	for j, v := range []float64{-1.623487455, 1.512796038, 4.227053453, 6.086152276, 3.061890993, 1.833433362} {
		same(t, "coefficient", m.Coef[j].Estimate, v, 5e-6)
		same(t, "its error", m.Coef[j].SE, []float64{0.6833852399, 0.6044362019, 0.8089763108, 0.9719376324, 0.5950753409, 0.5121706149}[j], 1e-5)
	}
	same(t, "standard deviation", m.SD, 1.13478329727, 5e-6)
	same(t, "log likelihood", m.LogLik, -81.53246071095, 1e-11)
	for j, v := range []float64{1.6984636583, -0.5665745572, 0.9705243617} {
		same(t, "mode", m.Effects[j].Mode, v, 1e-5)
		same(t, "its error", m.Effects[j].SE, []float64{0.5542155054, 0.6153120379, 0.5958905522}[j], 2e-6)
	}
}

func seizures(t testing.TB) Data {
	c := published(t, "epil")
	d := Data{Names: []string{"lbase", "progabide", "lage", "fourth"}, X: [][]float64{nil, is(c["trt"], "progabide"), nil, is(c["period"], "4")}}
	var base, age float64
	for i := range c["y"] {
		d.Y = append(d.Y, num(t, c["y"][i]))
		d.Group = append(d.Group, int(num(t, c["subject"][i])))
		d.X[0] = append(d.X[0], math.Log(num(t, c["base"][i])/4))
		d.X[2] = append(d.X[2], math.Log(num(t, c["age"][i])))
		base += d.X[0][i] / float64(len(c["y"]))
		age += d.X[2][i] / float64(len(c["y"]))
	}
	for i := range d.X[0] {
		d.X[0][i] -= base
		d.X[2][i] -= age
	}
	return d
}

// lme4 1.1-31: glmer(y ~ lbase + trt + lage + V4 + (1 | subject), poisson,
// nAGQ = 25) on MASS::epil (Thall & Vail 1990, Biometrics 46:657).
func TestSeizures(t *testing.T) {
	m, err := Fit(Poisson, seizures(t), Options{Nodes: 25})
	if err != nil {
		t.Fatal(err)
	}
	// MASS centres its logarithms by other means: the constant is not compared.
	for j, v := range []float64{1.0272565668, -0.3153481392, 0.3317862920, -0.1597695711} {
		same(t, "coefficient", m.Coef[j+1].Estimate, v, 5e-6)
		same(t, "its error", m.Coef[j+1].SE, []float64{0.10151055944, 0.15111779458, 0.34401701665, 0.05458370902}[j], 2e-4)
	}
	same(t, "standard deviation", m.SD, 0.517386220026, 2e-6)
}
