package survival_test

import (
	"fmt"
	"math"

	"plybook/analysis/survival"
)

// Five sockets: three were remade, two are still worn.
func ExampleKaplanMeier() {
	c, err := survival.KaplanMeier(survival.Data{
		Time:  []float64{90, 200, 200, 410, 600},
		Cause: []int{1, 1, 0, 1, 0},
	}, survival.CurveOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range c.Points {
		fmt.Printf("day %3.0f: %.0f at risk, %.2f still worn\n", p.Time, p.AtRisk, p.Estimate)
	}
	median := c.Quantile(0.5).Estimate
	fmt.Println("median", median.Value, median.OK)
	// Output:
	// day   0: 5 at risk, 1.00 still worn
	// day  90: 5 at risk, 0.80 still worn
	// day 200: 4 at risk, 0.60 still worn
	// day 410: 2 at risk, 0.30 still worn
	// day 600: 1 at risk, 0.30 still worn
	// median 410 true
}

func ExampleLogRank() {
	foam := survival.Data{Time: []float64{60, 90, 120, 200}, Cause: []int{1, 1, 1, 0}}
	gel := survival.Data{Time: []float64{110, 250, 300, 310}, Cause: []int{1, 0, 1, 0}}
	r, err := survival.LogRank([]survival.Data{foam, gel}, []string{"foam", "gel"}, survival.LogRankOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, g := range r.Groups {
		fmt.Printf("%s: %.0f events, %.2f expected\n", g.Name, g.Observed, g.Expected)
	}
	fmt.Printf("chi-square %.2f on %.0f degree of freedom\n", r.Statistic, r.DF)
	// Output:
	// foam: 3 events, 1.66 expected
	// gel: 2 events, 3.34 expected
	// chi-square 1.87 on 1 degree of freedom
}

// Cause 1 is a remake, cause 2 a death.
func ExampleCumulativeIncidence() {
	r, err := survival.CumulativeIncidence(survival.Data{
		Time:  []float64{90, 200, 200, 410, 600},
		Cause: []int{1, 2, 0, 1, 0},
	}, 2, survival.CurveOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	causes, free, _ := r.At(365)
	fmt.Printf("remade %.2f, died %.2f, neither %.2f\n", causes[0].Estimate, causes[1].Estimate, free.Estimate)
	// Output:
	// remade 0.20, died 0.20, neither 0.60
}

func ExampleFitCox() {
	c, err := survival.FitCox(survival.CoxData{
		Time:  []float64{60, 90, 110, 120, 200, 250, 300, 310},
		Event: []bool{true, true, true, true, false, false, true, false},
		X:     [][]float64{{1, 1, 0, 1, 1, 0, 0, 0}},
		Names: []string{"foam liner"},
	}, survival.CoxOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s: log hazard ratio %.3f, standard error %.3f\n", c.Names[0], c.Coef[0], c.StdErr()[0])
	// Output:
	// foam liner: log hazard ratio 1.461, standard error 1.161
}

func ExampleTurnbull() {
	never := math.Inf(1)
	c, err := survival.Turnbull(survival.IntervalData{
		Left:  []float64{0, 30, 90, 60, 180},
		Right: []float64{60, 90, 180, never, never},
	}, survival.TurnbullOptions{Draws: -1})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, m := range c.Masses {
		fmt.Printf("%.0f to %.0f: %.2f\n", m.Left, m.Right, m.Mass)
	}
	// Output:
	// 30 to 60: 0.40
	// 90 to 180: 0.30
	// 180 to +Inf: 0.30
}

// Four limbs with walk-in visits; one person died on day 200.
func ExampleMeanCumulative() {
	c, err := survival.MeanCumulative(survival.RecurrentData{
		Exit:   []float64{400, 200, 400, 400},
		Died:   []bool{false, true, false, false},
		Events: [][]float64{{100, 300}, {100}, nil, {300, 300}},
	}, survival.CurveOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	p, _ := c.At(365)
	fmt.Printf("%.2f walk-in visits a limb by one year\n", p.Estimate)
	// Output:
	// 1.25 walk-in visits a limb by one year
}
