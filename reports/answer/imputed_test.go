package answer_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// gappyLog is a log of n persons with a socket each, whose life hangs on a
// grade and an age. blank says of which the grade, or the age, is missing.
func gappyLog(n int, blank func(i int, old, soon bool) (grade, age bool), levels int) sheets {
	r := rand.New(rand.NewPCG(5, 17))
	limbs := [][]string{{"person", "limb", "side", "level", "last_seen"}}
	sockets := [][]string{{"socket", "limb", "kind", "delivered", "ended", "end_reason", "grade", "years", "score"}}
	for i := range n {
		years, grade := 30+r.IntN(50), r.IntN(levels)
		life := 20 + int(900*r.ExpFloat64()*math.Exp(-0.8*float64(grade%2)-0.02*float64(years-55)))
		ended, reason, last := day(i+life), "remake: growth", ""
		if life > 700 {
			ended, reason, last = "", "", day(i+700)
		}
		said, old := fmt.Sprintf("grade %c", 'A'+grade), fmt.Sprint(years)
		score := fmt.Sprintf("%.2f", 5+float64(grade%2)+0.05*float64(years)+r.NormFloat64())
		if g, a := blank(i, years > 55, life < 300); g || a {
			if g {
				said = ""
			}
			if a {
				old = ""
			}
		}
		limbs = append(limbs, []string{fmt.Sprintf("P%d", i), fmt.Sprintf("P%d-L", i), "left", "TT", last})
		sockets = append(sockets, []string{fmt.Sprintf("S%d", i), fmt.Sprintf("P%d-L", i), "definitive", day(i), ended, reason, said, old, score})
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets)}
}

const fillCox = "method: cox\nadjust: [grade, years]\nmissing: impute\nimputations: 20"

func some(i int, _, _ bool) (bool, bool) { return i%8 == 0, i%9 == 1 }

func TestImputedAnswers(t *testing.T) {
	a := one(t, gappyLog(240, some, 2), quality, fillCox)
	if a.Rows != 240 || !strings.Contains(a.Reading, "what was missing filled in 20 times") || !strings.Contains(a.Methods, "chained equations") {
		t.Errorf("%d rows: %s", a.Rows, a.Reading)
	}
	gone := 0
	for i := range 240 {
		if g, y := some(i, false, false); g || y {
			gone++
		}
	}
	wantCaution(t, a, "imputed", fmt.Sprintf("In %d of 240 sockets a value was missing", gone), "Nothing in the data can show", "every value")
	wantCaution(t, a, "proportionality")
	want(t, row(t, table(t, a, "imputed"), "column", "grade"), "missing", 30, "kind", "category", "share", 0.125)
	want(t, row(t, table(t, a, "imputed"), "column", "years"), "kind", "number")
	absent(t, a, "much-missing", "imputed-alone", "imputed-differs", "few-imputations", "nothing-missing", "missing")
	plain := one(t, gappyLog(240, some, 2), quality, strings.Split(fillCox, "\nmissing")[0])
	wantCaution(t, plain, "missing", fmt.Sprintf("%d of 240 sockets", gone))
	absent(t, plain, "imputed")
	whole, mine := table(t, plain, "terms"), table(t, a, "complete_case")
	for j := range whole.Rows {
		if math.Abs(whole.Rows[j][3].(float64)-mine.Rows[j][3].(float64)) > 1e-9 {
			t.Errorf("rows with every value: %v, alone %v", mine.Rows[j], whole.Rows[j])
		}
	}
	// A stratum cannot be filled in.
	s := one(t, gappyLog(240, some, 2), quality, "method: cox\nadjust: [years]\nstrata: [grade]\nmissing: impute")
	wantCaution(t, s, "missing", "30 sockets were left out because a stratum is not recorded")
	if s.Rows != 210 {
		t.Errorf("%d rows", s.Rows)
	}
}

func TestImputedDoubts(t *testing.T) {
	never := func(int, bool, bool) (bool, bool) { return false, false }
	none := one(t, gappyLog(120, never, 2), quality, fillCox)
	wantCaution(t, none, "nothing-missing")
	absent(t, none, "imputed", "proportionality")
	much := one(t, gappyLog(300, func(i int, _, _ bool) (bool, bool) { return i%2 == 0, false }, 2), quality, strings.Replace(fillCox, "20", "5", 1))
	wantCaution(t, much, "much-missing", "Grade is missing in more than 40% of the rows")
	wantCaution(t, much, "few-imputations", "5 tables are few")
	// Missing where the event came soon of the old: the rows with every value
	// tell another story.
	biased := one(t, gappyLog(400, func(i int, old, soon bool) (bool, bool) { return old && soon && i%10 < 9, false }, 2), quality, fillCox)
	wantCaution(t, biased, "imputed-differs", "more than a standard error")
}

func TestImputedRefuses(t *testing.T) {
	ask := func(s sheets, text string) answer.Answer { return one(t, s, quality, text) }
	wantError(t, ask(gappyLog(120, func(int, bool, bool) (bool, bool) { return true, false }, 2), fillCox), "never-known", "nothing can be filled in")
	wantError(t, ask(gappyLog(300, some, 14), fillCox), "impossible", "too many to fill in")
	wantError(t, ask(gappyLog(120, some, 2), fillCox+"\nkeep: {level: syme}"), "no-rows")
	wantError(t, ask(gappyLog(120, some, 2), fillCox+"\nevent: making"), "no-events")
	wantError(t, ask(gappyLog(120, some, 1), fillCox), "bad-term", "in every row")
}

func TestImputedLinear(t *testing.T) {
	text := "method: linear\nrows: sockets\noutcome: score\nadjust: [grade, years]\nmissing: impute\ncontrasts: [{years: [70, 50]}]"
	a := one(t, gappyLog(240, some, 2), quality, text)
	wantCaution(t, a, "imputed", "of 240 sockets")
	slope := row(t, table(t, a, "terms"), "term", "years")
	if b := slope["estimate"].(float64); math.Abs(b-0.05) > 0.02 || !(slope["df"].(float64) < 237) {
		t.Errorf("%v", slope)
	}
	want(t, row(t, table(t, a, "contrasts")), "estimate", 20*slope["estimate"].(float64))
	pool := row(t, table(t, a, "pooling"), "term", "years")
	total := pool["within"].(float64) + (1+1.0/20)*pool["between"].(float64)
	want(t, slope, "std_error", math.Sqrt(total))
	absent(t, a, "imputed-alone")
	public := one(t, gappyLog(240, func(i int, _, _ bool) (bool, bool) { return i < 5, i%9 == 1 }, 2), "audience: annual", text)
	scanPublic(t, "linear", public)
	few := one(t, gappyLog(240, func(i int, _, _ bool) (bool, bool) { return i < 5, false }, 2), "audience: annual", text)
	for _, said := range printed(few) {
		if strings.Contains(said, "235") {
			t.Errorf("235 of 240 tells 5: %s", said)
		}
	}
}
