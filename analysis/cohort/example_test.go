package cohort_test

import (
	"fmt"

	"plybook/analysis/cohort"
	"plybook/analysis/table"
)

// A socket delivered on 1 January 2024, remade after 100 days, and its
// successor, still worn when the person was last seen.
func Example() {
	sockets := table.New(cohort.Sockets, 2)
	text := func(name string, values ...string) *table.Column {
		c := table.NewText(name, len(values))
		for i, v := range values {
			c.SetText(i, v)
		}
		return c
	}
	days := func(name string, values ...string) *table.Column {
		c := table.NewDate(name, len(values))
		for i, v := range values {
			if d, err := table.ParseDate(v); err == nil {
				c.SetNum(i, d)
			}
		}
		return c
	}
	for _, col := range []*table.Column{
		text("socket", "S1", "S2"), text("limb", "L1", "L1"), text("kind", "definitive", "definitive"),
		days("delivered", "2024-01-01", "2024-04-20"), days("ended", "2024-04-10", ""), text("end_reason", "remake: volume loss", ""),
	} {
		if err := sockets.Add(col); err != nil {
			fmt.Println(err)
		}
	}
	limbs := table.New(cohort.Limbs, 1)
	for _, col := range []*table.Column{text("person", "P1"), text("limb", "L1"), text("level", "transtibial"), days("last_seen", "2024-06-19")} {
		if err := limbs.Add(col); err != nil {
			fmt.Println(err)
		}
	}
	c, err := cohort.Build(cohort.Tables{Limbs: limbs, Sockets: sockets}, cohort.Settings{Remake: []string{"remake: volume loss"}})
	if err != nil {
		fmt.Println(err)
	}
	rows, err := c.Rows(cohort.Sockets)
	if err != nil {
		fmt.Println(err)
	}
	lives, err := c.Lives(rows, cohort.LifeSpec{})
	if err != nil {
		fmt.Println(err)
	}
	for i := range lives.Row {
		fmt.Println(lives.Time[i], "days, cause", lives.Cause[i])
	}
	fmt.Println(lives.Censored)
	// Output:
	// 100 days, cause 1
	// 60 days, cause 0
	// [{still in use when last heard of 1}]
}
