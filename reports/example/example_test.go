package example_test

import (
	"fmt"

	"plybook/reports/example"
)

// What an analysis of the drawn log should find: the share of later sockets,
// cast by hand after trauma, that would last a year if only remakes could end
// them, and the share remade for volume loss by then where other endings
// compete.
func ExampleTruth() {
	truth := example.Known()
	fmt.Printf("lasting a year: %.3f\n", truth.Survival("hand", "trauma", false, 365))
	fmt.Printf("remade for volume loss: %.3f\n", truth.Incidence("hand", "trauma", false, 365, "remake: volume loss"))
	fmt.Printf("log hazard ratio, vacuum after diabetes: %.3f\n", truth.LogHR("vacuum", "diabetes", false))
	// Output:
	// lasting a year: 0.799
	// remade for volume loss: 0.069
	// log hazard ratio, vacuum after diabetes: -0.025
}

func ExampleDraw() {
	log := example.Draw(example.Seed)
	fmt.Println(len(log.Limbs), "limbs,", len(log.Sockets), "sockets,", len(log.Visits), "visits")
	// Output:
	// 230 limbs, 754 sockets, 4021 visits
}
