package mixed_test

import (
	"fmt"

	"plybook/analysis/mixed"
)

// Four limbs measured at four visits: all shrink, each from a size and at a
// pace of its own.
func ExampleFit() {
	var (
		volume, weeks []float64
		limb          []int
	)
	for l, ml := range [][]float64{{1510, 1462, 1431, 1380}, {1325, 1301, 1290, 1268}, {1702, 1631, 1555, 1489}, {1248, 1199, 1177, 1131}} {
		for i, v := range ml {
			volume, weeks, limb = append(volume, v), append(weeks, float64(4*i)), append(limb, l+1)
		}
	}
	m, err := mixed.Fit(mixed.Data{
		Y: volume, X: [][]float64{weeks}, Names: []string{"weeks"}, Intercept: true,
		Group: limb, GroupName: "limb", RandomIntercept: true, Z: [][]float64{weeks}, ZNames: []string{"weeks"},
	}, mixed.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	slope := m.Coef[1]
	fmt.Printf("change per week %.1f ml, 95%% interval %.1f to %.1f, %.1f degrees of freedom\n", slope.Estimate, slope.Low, slope.High, slope.DF)
	fmt.Printf("scatter of one measurement: standard deviation %.1f ml\n", m.Sigma)
	fmt.Printf("limbs differ in pace: standard deviation %.1f ml per week\n", m.Variance[1].SD)
	fmt.Printf("limb 3: %+.1f ml per week beside the mean\n", m.Effects[2].Mode[1])
	// Output:
	// change per week -10.6 ml, 95% interval -19.3 to -1.8, 3.0 degrees of freedom
	// scatter of one measurement: standard deviation 5.6 ml
	// limbs differ in pace: standard deviation 5.5 ml per week
	// limb 3: -7.2 ml per week beside the mean
}

func ExampleModel_VarianceTests() {
	m, err := mixed.Fit(mixed.Data{
		Y: []float64{5, 6, 8, 3, 3, 4, 9, 11, 14, 6, 8, 8}, Intercept: true,
		X: [][]float64{{0, 1, 2, 0, 1, 2, 0, 1, 2, 0, 1, 2}}, Names: []string{"visit"},
		Group: []int{1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4}, GroupName: "limb", RandomIntercept: true,
	}, mixed.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	tests, err := m.VarianceTests()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, t := range tests {
		fmt.Printf("%s of a %s: %.2f, chi-square %d:%d, p = %.4f\n", t.Term, t.Group, t.Statistic, t.DFLow, t.DFHigh, t.P)
	}
	// Output:
	// intercept of a limb: 14.57, chi-square 0:1, p = 0.0001
}
