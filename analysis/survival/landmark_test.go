package survival

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// liverRow is a line of the set of repeated measurements.
type liverRow map[string]float64 // missing: NaN

func liverRows(t testing.TB) []liverRow {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", "pbcseq", "data.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []liverRow
	for _, r := range all[1:] {
		row := liverRow{}
		for j, v := range r {
			x, err := strconv.ParseFloat(v, 64)
			if err != nil {
				x = math.NaN()
			}
			row[all[0][j]] = x
		}
		row["logbili"] = math.Round(math.Log(row["bili"])*1e6) / 1e6
		out = append(out, row)
	}
	return out
}

// liverKnown is the last value of a column recorded up to a day.
func liverKnown(rows []liverRow, id float64, column string, day float64) float64 {
	v := math.NaN()
	for _, r := range rows { // in order of days
		if r["id"] == id && r["day"] <= day && !math.IsNaN(r[column]) {
			v = r[column]
		}
	}
	return v
}

func liverStack(rows []liverRow, step, ahead float64, varying ...string) LandmarkData {
	var first []liverRow
	seen := map[float64]bool{}
	for _, r := range rows {
		if !seen[r["id"]] {
			seen[r["id"]] = true
			first = append(first, r)
		}
	}
	d := LandmarkData{Names: append([]string{"age"}, varying...), X: make([][]float64, 1+len(varying))}
	for s := 0.0; s <= 5000; s += step {
		var in [][]float64
		var who []liverRow
		watched := 0
		for _, r := range first {
			if r["futime"] <= s {
				continue
			}
			x := []float64{r["age"]}
			whole := true
			for _, v := range varying {
				x = append(x, liverKnown(rows, r["id"], v, s))
				whole = whole && !math.IsNaN(x[len(x)-1])
			}
			if !whole {
				continue
			}
			in, who = append(in, x), append(who, r)
			if r["futime"] >= s+ahead {
				watched++
			}
		}
		if watched < 20 {
			continue
		}
		for k, r := range who {
			d.Landmark, d.Time = append(d.Landmark, s), append(d.Time, r["futime"])
			d.Cause = append(d.Cause, []int{0, 2, 1}[int(r["status"])])
			d.Life, d.Cluster = append(d.Life, int(r["id"])), append(d.Cluster, int(r["id"]))
			for j, v := range in[k] {
				d.X[j] = append(d.X[j], v)
			}
		}
	}
	return d
}

type liverExpected struct {
	Step, Ahead              float64
	Landmarks, Rows, Persons int
	Events, Competing        int
	C                        []float64 `json:"coef"`
	R                        []float64 `json:"robust_se"`
	CC                       []float64 `json:"competing_coef"`
	CR                       []float64 `json:"competing_robust_se"`
	StackRisk                []float64 `json:"stack_risk"`
	Now                      struct{ ID, Days, Risk []float64 }
	Measures                 map[string]float64
	SlopeSE                  float64 `json:"slope_se"`
	Curve                    struct{ At, Fit, SE []float64 }
	Groups                   []struct {
		Rows                    int
		Predicted, Observed, SE float64
	}
	Boot *struct {
		Draws           int
		Optimism, SD    map[string]float64
		ErrorOfOptimism map[string]float64 `json:"error_of_optimism"`
		Spread          []float64          `json:"risk_spread"`
	}
}

func liverWant(t testing.TB) map[string]liverExpected {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "published", "pbcseq", "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all struct{ Entries map[string]liverExpected }
	if err := json.Unmarshal(b, &all); err != nil {
		t.Fatal(err)
	}
	return all.Entries
}

var measureNames = map[string]Measure{"observed": ObservedShare, "expected": ExpectedShare, "ratio": ObservedRatio, "intercept": CalibrationIntercept,
	"slope": CalibrationSlope, "c": CIndex, "brier": BrierScore, "brier_null": BrierNull, "scaled": ScaledBrier}

// Repeated measurements of primary biliary cirrhosis (testdata/published/
// pbcseq): R 4.2.2, survival 3.5-3, geepack 1.3.9, by the calls of make.R.
func TestLandmarkPublished(t *testing.T) {
	rows := liverRows(t)
	for name, e := range liverWant(t) {
		varying := []string{"logbili"}
		if name == "overlap" {
			varying = append(varying, "albumin", "edema")
		}
		d := liverStack(rows, e.Step, e.Ahead, varying...)
		l, err := FitLandmark(d, LandmarkOptions{Ahead: e.Ahead})
		if err != nil {
			t.Fatal(err)
		}
		if l.Rows != e.Rows || len(l.Landmarks) != e.Landmarks || l.Clusters != e.Persons || l.Events != e.Events || l.Competed != e.Competing {
			t.Errorf("%s: %d rows, %d landmarks, %d persons, %d events, %d competing; want %+v", name, l.Rows, len(l.Landmarks), l.Clusters, l.Events, l.Competed, e)
		}
		close := func(what string, got, want, tol float64) {
			t.Helper()
			if math.Abs(got-want) > tol*math.Max(math.Abs(want), 1e-3) {
				t.Errorf("%s %s: %.12g, want %.12g", name, what, got, want)
			}
		}
		for j := range e.C {
			close("coefficient", l.Event.Coef[j], e.C[j], 1e-8)
			close("robust error", l.Event.RobustStdErr()[j], e.R[j], 1e-8)
		}
		if (l.Competing != nil) != (len(e.CC) > 0) {
			t.Fatalf("%s: competing model %v", name, l.Competing)
		}
		for j := range e.CC {
			close("competing", l.Competing.Coef[j], e.CC[j], 1e-8)
			close("competing error", l.Competing.RobustStdErr()[j], e.CR[j], 1e-8)
		}
		for k, p := range e.StackRisk {
			close("risk", l.Risks()[97*k], p, 1e-8)
		}
		for k, id := range e.Now.ID {
			x := []float64{math.NaN()}
			for _, r := range rows {
				if r["id"] == id {
					x[0] = r["age"]
				}
			}
			for _, v := range varying {
				x = append(x, liverKnown(rows, id, v, e.Now.Days[k]))
			}
			p, err := l.Risk(e.Now.Days[k], x)
			if errors.Is(err, ErrNoneThen) && e.Now.Risk[k] == 0 {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			close("risk now", p, e.Now.Risk[k], 1e-8)
		}
		s := l.Scores()
		for n, m := range measureNames {
			if !s.Has[m] {
				t.Errorf("%s: no %s", name, m)
			}
			close(m.String(), s.Value[m], e.Measures[n], 1e-7)
		}
		curve, err := l.Curve(e.Curve.At)
		if err != nil {
			t.Fatal(err)
		}
		for k, p := range curve {
			close("curve", p.Observed, e.Curve.Fit[k], 1e-6)
			close("curve error", p.StdErr, e.Curve.SE[k], 1e-6)
		}
		gs, err := l.Groups(5)
		if err != nil {
			t.Fatal(err)
		}
		if len(gs) != len(e.Groups) {
			t.Fatalf("%s: %d groups", name, len(gs))
		}
		for k, g := range gs {
			if g.Rows != e.Groups[k].Rows {
				t.Errorf("%s: group of %d rows, want %d", name, g.Rows, e.Groups[k].Rows)
			}
			close("group", g.Predicted, e.Groups[k].Predicted, 1e-8)
			close("group observed", g.Observed.Estimate, e.Groups[k].Observed, 1e-8)
			close("group error", g.Observed.StdErr, e.Groups[k].SE, 1e-6)
		}
		if e.Boot == nil {
			continue
		}
		// Another stream of random numbers: the differences are held to what
		// chance gives two sets of samples.
		var of []Subject
		for k := range e.Boot.Spread {
			x := []float64{math.NaN()}
			for _, r := range rows {
				if r["id"] == e.Now.ID[k] {
					x[0] = r["age"]
				}
			}
			for _, v := range varying {
				x = append(x, liverKnown(rows, e.Now.ID[k], v, e.Now.Days[k]))
			}
			of = append(of, Subject{e.Now.Days[k], x})
		}
		draws := 400
		if testing.Short() {
			draws = 100
		}
		b, err := l.Resample(context.Background(), draws, 1, of)
		if err != nil {
			t.Fatal(err)
		}
		for n, m := range measureNames {
			within := 4.5 * e.Boot.ErrorOfOptimism[n] * math.Sqrt(1+float64(e.Boot.Draws)/float64(draws))
			if math.Abs(b.Optimism.Value[m]-e.Boot.Optimism[n]) > within {
				t.Errorf("%s: optimism of %s %.4f, want %.4f within %.4f", name, m, b.Optimism.Value[m], e.Boot.Optimism[n], within)
			}
			if r := b.StdErr.Value[m] / e.Boot.SD[n]; r < 0.82 || r > 1.22 {
				t.Errorf("%s: error of %s %.4f, want %.4f", name, m, b.StdErr.Value[m], e.Boot.SD[n])
			}
		}
		for k, spread := range e.Boot.Spread {
			if r := b.RiskErr[k] * 1.349 / spread; r < 0.75 || r > 1.33 {
				t.Errorf("%s: spread of a risk %.4f, want %.4f", name, b.RiskErr[k]*1.349, spread)
			}
		}
	}
}
