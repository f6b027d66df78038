package answer_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"plybook/reports/answer"
	"plybook/reports/vector"
)

// What cannot be told of chance is not told: the scores of one person, or of
// a day on which everything fell, cancel out, and what rounding leaves of
// them is no error.
func TestNoIntervalFromOnePersonOrOneDay(t *testing.T) {
	one1 := lab(labOptions{persons: 30, onePer: true})
	oneDay := lab(labOptions{persons: 30, allEnd: true, sameDay: true})
	for name, c := range map[string]struct {
		log  sheets
		ask  string
		code string
	}{
		"cox of one person":        {one1, "method: cox\nby: cast_method\nprofiles: [{cast_method: hand}]\ntimes: [180d]", "one-cluster"},
		"repeats of one person":    {one1, "method: cox\nrows: sockets\nevent: {purpose: walk-in}\nrepeats: total-time\nby: cast_method", "one-cluster"},
		"fine-gray of one person":  {one1, "method: fine-gray\nby: cast_method\nprofiles: [{cast_method: hand}]\ntimes: [180d]", "one-cluster"},
		"cox of one day":           {oneDay, "method: cox\nby: cast_method", "no-errors"},
		"fine-gray of one day":     {oneDay, "method: fine-gray\nby: cast_method", "no-errors"},
		"adjusted, of one person":  {one1, "method: cox\nby: cast_method\nadjusted: yes\ntimes: [180d]", "one-cluster"},
		"contrasts, of one person": {one1, "method: cox\nby: cast_method\ncontrasts: {cast_method: every pair}", "one-cluster"},
	} {
		a := answersOnce(t, readLog(t, c.log), nil, quality, "id: q\n"+c.ask)["q"]
		if a.Error != nil {
			t.Errorf("%s: %s", name, a.Error.Text)
			continue
		}
		wantCaution(t, a, c.code)
		if !strings.Contains(a.Reading, "interval not computed") || strings.Contains(a.Reading, "such sockets are") {
			t.Errorf("%s: %s", name, a.Reading)
		}
		for _, tab := range []string{"terms", "predicted", "adjusted", "contrasts"} {
			for _, x := range a.Tables {
				if x.Name != tab {
					continue
				}
				for i := range x.Rows {
					for j, col := range x.Columns {
						if (col.Name == "low" || col.Name == "high" || col.Name == "p" || col.Name == "robust_std_error") && x.Rows[i][j] != nil {
							t.Errorf("%s: %s has a %s: %v", name, tab, col.Name, x.Rows[i][j])
						}
					}
				}
			}
		}
	}
	a := one(t, one1, quality, "method: mean-cumulative\nrows: sockets\nevent: {purpose: walk-in}\nby: cast_method")
	wantCaution(t, a, "one-cluster")
	wantCaution(t, a, "no-comparison")
	if n := len(table(t, a, "tests").Rows); n != 0 {
		t.Errorf("%d tests of the events of one person", n)
	}
	wantError(t, one(t, lab(labOptions{persons: 30, onePer: true, visits: 6}), quality, "method: watch\nahead: 90d\nadjust: [cast_method]"), "one-person", "sockets of several")
}

func TestFewValuesOfANamedCluster(t *testing.T) {
	s := lab(labOptions{persons: 60})
	for _, ask := range []string{
		"method: kaplan-meier\nby: cast_method\ncluster: side",
		"method: cumulative-incidence\ncluster: cause",
		"method: turnbull\nevent: {ply: 4..}\ncluster: cause",
		"method: cox\nby: cast_method\ncluster: cause",
		"method: fine-gray\nby: cast_method\ncluster: cause",
		"method: weibull\nby: cast_method\ncluster: cause",
		"method: mean-cumulative\nrows: sockets\nevent: {purpose: walk-in}\ncluster: cause",
		"method: cox\nrows: limbs\nby: sex\nrepeats: total-time\ncluster: cause",
	} {
		a := answersOnce(t, readLog(t, s), nil, quality, "id: q\n"+ask)["q"]
		if strings.Contains(ask, "side") {
			wantCaution(t, a, "one-cluster", "All rows are of one side")
			continue
		}
		wantCaution(t, a, "few-clusters", "Only 3 values of cause stand behind these", "fewer than 40 values of cause")
	}
	for _, ask := range []string{"method: kaplan-meier\ncluster: limb", "method: mean-cumulative\nrows: sockets\nevent: {purpose: walk-in}\ncluster: limb", "method: cox\nby: cast_method\ncluster: limb"} {
		a := answersOnce(t, readLog(t, s), nil, quality, "id: q\n"+ask)["q"]
		if x := caution(a, "few-clusters") + caution(a, "one-cluster"); x != "" || a.Error != nil {
			t.Errorf("%s: %s %v", ask, x, a.Error)
		}
	}
}

// A model's category of a few sockets has robust errors that are far too
// small, and says so; where rows are stretches of time, sockets are counted.
func TestSmallCategoriesOfAModel(t *testing.T) {
	lives := func(rare int) []life {
		var out []life
		for k := range 60 {
			g := "hand"
			if k < rare {
				g = "vacuum"
			}
			out = append(out, life{k + 1, 0, 20 + 5*(k*7%60), []string{"remake: growth", "died", "remake: growth"}[k%3], g})
		}
		return out
	}
	for _, ask := range []string{"method: cox\nby: cast_method", "method: fine-gray\nby: cast_method"} {
		wantCaution(t, one(t, lifeLog(lives(3)), quality, ask), "small-group", "The group casting method vacuum has only 3 sockets", "too narrow")
		if x := caution(one(t, lifeLog(lives(5)), quality, ask), "small-group"); x != "" {
			t.Errorf("%s: %s", ask, x)
		}
		if x := caution(one(t, lifeLog(lives(3)), "audience: annual", ask), "small-group"); x != "" {
			t.Errorf("in public, %s: %s", ask, x)
		}
	}
	s := lab(labOptions{persons: 60, method: func(i int) string { return []string{"hand", "vacuum"}[min(1, i/58)] }})
	wantCaution(t, one(t, s, quality, "method: cox\nby: cast_method\nvarying: [comfort]"), "small-group", "vacuum has only 3 sockets")
}

// The verb beside a hidden count is that of many, whatever the count.
func TestHiddenCountIsNotToldByItsVerb(t *testing.T) {
	var lives []life
	for k := range 60 {
		l := life{k + 1, 0, 100 + 5*k, "", "hand"}
		switch k {
		case 10:
			l.reason = "remake: growth"
		case 20:
			l.reason = "stopped wearing"
		case 30:
			l.reason = "lost to follow-up"
		}
		lives = append(lives, l)
	}
	for _, ask := range []string{"method: kaplan-meier", "method: kaplan-meier\nevent: died", "method: fine-gray\nby: cast_method"} {
		a := one(t, lifeLog(lives), "audience: annual\nto: 2024-12-31", ask)
		for _, s := range printed(a) {
			for _, verb := range []string{"was", "is"} {
				for _, noun := range []string{"fewer than 11 ", "fewer than 11 sockets ", "lost from sight and "} {
					if strings.Contains(strings.ToLower(s), noun+verb+" ") {
						t.Errorf("%s: %s", ask, s)
					}
				}
			}
		}
	}
	a := one(t, lifeLog(lives), "audience: annual\nto: 2024-12-31", "method: kaplan-meier")
	if !strings.Contains(a.Reading, "fewer than 11 were remade") {
		t.Errorf("reading: %s", a.Reading)
	}
	b := one(t, lifeLog(lives), quality, "method: kaplan-meier")
	if !strings.Contains(b.Reading, fmt.Sprintf("Of %d sockets, 1 was remade", len(lives))) {
		t.Errorf("reading: %s", b.Reading)
	}
}

// Bands that the axis cuts off are said to go on; what all had on the first
// day has no interval of days.
func TestCutBandsAndFirstDay(t *testing.T) {
	a := one(t, lab(labOptions{persons: 60}), quality, "method: turnbull\nevent: {comfort: ..10}")
	if !strings.Contains(a.Reading, "Half or more of them were found so on the very day that the clock starts.") || strings.Contains(a.Reading, "0 days") {
		t.Errorf("reading: %s", a.Reading)
	}
	cut := func(a answer.Answer, id string) bool {
		for _, f := range a.Figures {
			var svg bytes.Buffer
			if err := vector.SVG(&svg, f, vector.SVGOptions{}); err != nil {
				t.Fatal(err)
			}
			if f.ID == id {
				return strings.Contains(svg.String(), "goes on beyond the axis")
			}
		}
		t.Fatalf("no figure %s", id)
		return false
	}
	if !cut(one(t, calmLives(), quality, "method: kaplan-meier\nhazard: 90d"), "q-rate") {
		t.Error("a band beyond the axis of rates is not said to be cut off")
	}
	if cut(one(t, lab(labOptions{persons: 60}), quality, "method: mean-cumulative\nrows: sockets\nevent: {purpose: walk-in}"), "q") {
		t.Error("a band within the axis is said to be cut off")
	}
}

func TestNothingYetHasNoInterval(t *testing.T) {
	a := one(t, calmLives(), quality, "method: cumulative-incidence\ntimes: [10d]")
	if !strings.Contains(a.Reading, "by 10 days 0% had been remade; 100% were still in use") {
		t.Errorf("reading: %s", a.Reading)
	}
}
