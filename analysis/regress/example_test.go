package regress_test

import (
	"fmt"

	"plybook/analysis/regress"
)

// Comfort on arrival against ply worn, several visits by each of six people.
func ExampleFitLinear() {
	m, err := regress.FitLinear(regress.LinearData{
		Y:         []float64{8, 7, 6, 9, 8, 5, 6, 4, 7, 7, 6, 8, 5, 5},
		X:         [][]float64{{3, 5, 6, 1, 3, 8, 6, 10, 5, 4, 5, 2, 7, 8}},
		Names:     []string{"ply"},
		Intercept: true,
		Cluster:   []int{1, 1, 1, 2, 2, 3, 3, 3, 4, 4, 5, 5, 6, 6},
	}, regress.LinearOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	ply := m.Coef[1]
	fmt.Printf("comfort per ply %.2f, 95%% interval %.2f to %.2f (%v, %.1f degrees of freedom)\n", ply.Estimate, ply.Low, ply.High, m.Used, ply.DF)
	for _, w := range m.Warnings {
		fmt.Println(w.Code)
	}
	// Output:
	// comfort per ply -0.56, 95% interval -0.67 to -0.45 (CR2, 2.9 degrees of freedom)
	// few-clusters
	// low-df
	// low-df
}
