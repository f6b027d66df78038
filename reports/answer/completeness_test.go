package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// filledLog is a log of visits by year, of each year so many with a comfort
// out of so many.
func filledLog(years ...[2]int) sheets {
	visits := [][]string{{"Visit", "Socket", "Date", "Purpose", "Comfort", "Ply"}}
	for y, n := range years {
		for k := range n[1] {
			comfort := ""
			if k < n[0] {
				comfort = fmt.Sprint(4 + k%5)
			}
			visits = append(visits, []string{fmt.Sprintf("V%d-%d", y, k), "S1", fmt.Sprintf("%d-%02d-%02d", 2021+y, 1+k%12, 1+k/12%28), "follow-up", comfort, "3"})
		}
	}
	return sheets{"limbs": "Person,Limb,Side,Level\nP1,P1L,left,transtibial\n", "sockets": "Socket,Limb,Kind,Delivered\nS1,P1L,definitive,2020-12-01\n", "visits": csvText(visits)}
}

const strip = "method: completeness\nrows: visits\ncolumns: [comfort, ply]\n"

func TestCompletenessByHand(t *testing.T) {
	a := one(t, filledLog([2]int{30, 40}, [2]int{45, 50}), "from: 2021-01-01\nto: 2022-12-31", strip+"goal: 90%")
	rows := table(t, a, "rows")
	want(t, row(t, rows, "column", "comfort", "period", "all"), "rows", 90, "known", 75, "percent", 75.0/90*100)
	want(t, row(t, rows, "column", "comfort", "period", "2021"), "rows", 40, "known", 30, "percent", 75.0)
	want(t, row(t, rows, "column", "ply", "period", "2022"), "rows", 50, "known", 50, "percent", 100.0)
	if !strings.Contains(a.Reading, "comfort on arrival is recorded least often (83%)") || !strings.Contains(a.Reading, "Under the goal of 90%: comfort") {
		t.Error(a.Reading)
	}
	for _, code := range []string{"recorded-less", "never-recorded", "undated"} {
		if c := caution(a, code); c != "" {
			t.Errorf("%s: %s", code, c)
		}
	}
}

func TestCompletenessCautions(t *testing.T) {
	a := one(t, filledLog([2]int{40, 40}, [2]int{30, 40}), "from: 2021-01-01\nto: 2022-12-31", strip)
	wantCaution(t, a, "recorded-less", "of 100% in 2021 and of 75% in 2022")
	a = one(t, filledLog([2]int{0, 40}), "from: 2021-01-01\nto: 2021-12-31", strip)
	wantCaution(t, a, "never-recorded", "is recorded of no visit")
	// The last year is half a year, and its recording is not held against the one before.
	a = one(t, filledLog([2]int{40, 40}, [2]int{30, 40}), "from: 2021-01-01\nto: 2022-06-30", strip)
	if c := caution(a, "recorded-less"); c != "" {
		t.Error(c)
	}
}

func TestCompletenessInPublic(t *testing.T) {
	log := filledLog([2]int{37, 40}, [2]int{20, 50}, [2]int{25, 60})
	a := answersOf(t, readLog(t, log), nil, "audience: annual\nfrom: 2021-01-01\nto: 2023-12-31", "id: q\n"+strip)["q"]
	if a.Error != nil {
		t.Fatal(a.Error)
	}
	rows := table(t, a, "rows")
	want(t, row(t, rows, "column", "comfort", "period", "2021"), "known", nil, "percent", nil)
	hidden := 0
	for _, h := range a.Hidden {
		if h.Column == "known" {
			hidden++
		}
	}
	if hidden < 2 {
		t.Errorf("%d hidden: the small one follows from the others and all", hidden)
	}
	for _, line := range printed(a) {
		if strings.Contains(line, "92%") || strings.Contains(line, "93%") {
			t.Error(line)
		}
	}
}

func TestCompletenessRefusals(t *testing.T) {
	log := filledLog([2]int{30, 40}, [2]int{45, 50})
	wantError(t, one(t, log, "from: 2021-01-01\nto: 2022-12-31", strip+"period: month"), "impossible", "more than the 12")
	wantError(t, one(t, log, "", "method: completeness\nrows: limbs\ncolumns: [cause]\nperiod: year"), "missing-key", "dated")
	a := one(t, log, "", "method: completeness\nrows: limbs\ncolumns: [cause, level]")
	want(t, row(t, table(t, a, "rows"), "column", "level"), "period", "all", "known", 1)
}
