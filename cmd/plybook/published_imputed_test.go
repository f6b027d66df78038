package main

import (
	"fmt"
	"math"
	"testing"
)

// The lung cancer trial with values taken away, told as a log: a death is a
// remake. R 4.2.2, mice 3.15.0 (pool), survival 3.5-3, on the tables that the
// program completes; the calls stand in testdata/published/imputed/make.R.
func TestPublishedImputed(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "imputed") {
		own := []any{"age", r.whole(t, "age"), "ward", fmt.Sprintf("W%d", i/3)}
		for _, c := range []string{"meal", "loss"} {
			if r[c] != "" {
				own = append(own, c, r.whole(t, c))
			}
		}
		if r["ecog"] != "" {
			own = append(own, "ecog", "class "+r["ecog"])
		}
		lives = append(lives, life{id: i + 1, sex: r["sex"], days: r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "event")), serial: i, own: own})
	}
	l, _ := tell(lives)
	cox := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "adjust: [own.age, sex, ecog, meal, loss]", "reference: {sex: male, ecog: class 1}"}, more...)...)
	}
	n := runLog(t, l, officeCSV, cox("complete")+cox("filled", "missing: impute", "imputations: 5", "contrasts: [{ecog: [class 2+, class 0]}]")+
		cox("ward", "missing: impute", "imputations: 5", "cluster: ward")+cox("other", "missing: impute", "imputations: 5", "seed: 2"), nil)
	want := expected(t, "imputed")
	rules := want.at("rules")
	a := n.answer(t, "filled")
	terms, pooling, whole := a.table(t, "terms"), a.table(t, "pooling"), a.table(t, "complete_case")
	complete := want.at("complete_case")
	if len(terms) != 6 || *a.Rows != 227 || *n.answer(t, "complete").Rows != 106 {
		t.Fatalf("%d terms, %d and %d rows", len(terms), *a.Rows, *n.answer(t, "complete").Rows)
	}
	for j := range 6 {
		what := fmt.Sprintf("%v %v", terms[j]["term"], terms[j]["category"])
		b, se := rules.at("estimate").list()[j], rules.at("se").list()[j]
		near(t, what, terms[j]["estimate"], b, iterated)
		near(t, what+" error", terms[j]["std_error"], se, iterated)
		near(t, what+" df", terms[j]["df"], rules.at("df").list()[j], iterated)
		near(t, what+" ratio", terms[j]["ratio"], math.Exp(b), iterated)
		near(t, what+" z", terms[j]["z"], b/se, iterated)
		for column, key := range map[string]string{"within": "within", "between": "between", "increase": "riv", "share": "lambda", "missing_information": "fmi", "df": "df"} {
			near(t, what+" "+column, pooling[j][column], rules.at(key).list()[j], iterated)
		}
		near(t, what+" complete", whole[j]["estimate"], complete.at("coef").list()[j], iterated)
		near(t, what+" complete error", whole[j]["std_error"], complete.at("se").list()[j], iterated)
		near(t, what+" complete alone", n.answer(t, "complete").table(t, "terms")[j]["estimate"], complete.at("coef").list()[j], iterated)
		// Grouped by ward: the same between, another within.
		g := n.answer(t, "ward")
		near(t, what+" within wards", g.table(t, "pooling")[j]["within"], want.at("grouped_within").list()[j], iterated)
		near(t, what+" robust", g.table(t, "terms")[j]["robust_std_error"], math.Sqrt(want.at("grouped_within").list()[j]+1.2*rules.at("between").list()[j]), iterated)
		near(t, what+" model-based", g.table(t, "terms")[j]["std_error"], se, iterated)
	}
	gone := map[string]float64{"sex": 48, "ecog": 51, "meal": 47, "loss": 14}
	for _, r := range a.table(t, "imputed") {
		near(t, "missing", r["missing"], gone[r["column"].(string)], 0)
		delete(gone, r["column"].(string))
	}
	if len(gone) > 0 {
		t.Errorf("not told: %v", gone)
	}
	c := a.row(t, "contrasts")
	near(t, "contrast", c["estimate"], terms[3]["estimate"].(float64)-terms[2]["estimate"].(float64), closed)
	if n.answer(t, "other").table(t, "terms")[1]["estimate"] == terms[1]["estimate"] {
		t.Error("another seed fills in the same")
	}
	if !a.caution("imputed") || a.caution("imputed-alone") || !n.answer(t, "ward").caution("imputed-alone") || n.answer(t, "complete").caution("imputed") {
		t.Errorf("cautions %v", a.Cautions)
	}
}
