package answer_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"plybook/reports/answer"
	"plybook/reports/document"
)

// treatedLab is a log of limbs of three sites, seen a few times each.
func treatedLab(limbs int) sheets {
	r := rand.New(rand.NewPCG(9, 2))
	v, s := "visit,socket,date,purpose,mass_kg,clinic,seen_by\n", socketsHead
	for i := range limbs {
		s += fmt.Sprintf("S%d,P%dL,definitive,%s,,,,,\n", i+1, i+1, day(0))
		level := 3 * r.NormFloat64()
		for k := range 2 + i%3 {
			v += fmt.Sprintf("V%d-%d,S%d,%s,follow-up,%.4f,%s,%s\n", i, k, i+1, day(20*k+i), 80+level+0.5*r.NormFloat64(), []string{"north", "south", "west"}[i%3], []string{"A1", "B2"}[(i+k)%2])
		}
	}
	return sheets{"limbs": plainLimbs(limbs), "sockets": s, "visits": v}
}

func TestMixedFreedom(t *testing.T) {
	all := answersOf(t, readLog(t, treatedLab(9)), nil, quality, "id: small\n"+followed+"by: own.clinic\nfreedom: kenward-roger\nprofiles: [{own.clinic: north}]",
		"id: plain\n"+followed+"by: own.clinic\nprofiles: [{own.clinic: north}]")
	a, b := all["small"], all["plain"]
	for k, r := range table(t, a, "terms").Rows {
		other := table(t, b, "terms").Rows[k]
		if se, was := r[4].(float64), other[4].(float64); !(se >= was) {
			t.Errorf("term %v: error %g, without adjustment %g", r[0], se, was)
		}
	}
	want(t, row(t, table(t, a, "fit")), "freedom", "kenward-roger")
	want(t, row(t, table(t, b, "fit")), "freedom", "satterthwaite")
	x, y := table(t, a, "term_tests").Rows, table(t, b, "term_tests").Rows
	if len(x) != 1 || len(y) != 1 || x[0][3] != 2.0 || !(x[0][6].(float64) < 1) || y[0][6] != 1.0 || !(x[0][5].(float64) > y[0][5].(float64)) {
		t.Errorf("tests of clinic: %v and %v", x, y)
	}
	if x, y := row(t, table(t, a, "predicted")), row(t, table(t, b, "predicted")); !(x["std_error"].(float64) > y["std_error"].(float64)) {
		t.Errorf("means: %v and %v", x, y)
	}
	if !strings.Contains(a.Methods, "method of Kenward and Roger") || strings.Contains(a.Methods, "by Satterthwaite's method") || !strings.Contains(a.Methods, "Limits of standard deviations are from chi-square") || !strings.Contains(b.Methods, "by the method of Fai and Cornelius") || !strings.Contains(b.Methods, "Satterthwaite's method") {
		t.Errorf("%s | %s", a.Methods, b.Methods)
	}
	refs := strings.Join(a.References, " ")
	if !strings.Contains(refs, "Biometrics 1997; 53: 983-997") || strings.Contains(refs, "Fai AHT") || !strings.Contains(strings.Join(b.References, " "), "Fai AHT") {
		t.Errorf("references: %s", refs)
	}
	said := ""
	for _, p := range a.Print {
		if t, ok := p.(document.Table); ok {
			said += strings.Join(t.Notes, " ")
		}
	}
	if !strings.Contains(said, "as a whole: F ") || !strings.Contains(said, "on 2 and ") {
		t.Errorf("notes: %s", said)
	}
}

func TestMixedFreedomRefused(t *testing.T) {
	log := treatedLab(9)
	for more, why := range map[string]string{
		"estimate: ml":        "does not go with `estimate: ml`; take `satterthwaite`",
		"correlation: ar1":    "does not allow for `correlation: ar1`; take `satterthwaite`",
		"scatter_by: seen_by": "does not allow for `scatter_by`; take `satterthwaite`",
	} {
		wantError(t, one(t, log, quality, followed+"freedom: kenward-roger\n"+more), "impossible", why)
		if a := one(t, log, quality, followed+"freedom: satterthwaite\n"+more); a.Error != nil {
			t.Errorf("%s: %v", more, a.Error.Text)
		}
	}
}

// With hardly more limbs than clinics nothing can be adjusted, and with as many
// nothing shows how limbs differ.
func TestMixedFreedomOfFew(t *testing.T) {
	wantError(t, one(t, treatedLab(3), quality, followed+"by: own.clinic"), "groupings", "tell every limb from every other")
	const few = "\nslopes: [days_since_delivery]\nfreedom: kenward-roger"
	wantError(t, one(t, treatedLab(4), quality, followed+"adjust: [own.clinic, seen_by]\ninteract: [[own.clinic, seen_by]]"+few), "freedom", "needs more limbs than there are; take `satterthwaite`")
	wantCaution(t, one(t, treatedLab(4), quality, followed+"by: own.clinic"+few), "term-not-tested", "Clinic is not tested as a whole", "too few limbs")
	if c := caution(one(t, treatedLab(9), quality, followed+"by: own.clinic"+few), "term-not-tested"); c != "" {
		t.Error(c)
	}
}

func TestMixedSmallErrors(t *testing.T) {
	const asked = followed + "by: own.clinic\n"
	wantCaution(t, one(t, treatedLab(29), quality, asked), "small-errors", "With 29 limbs the errors of clinic, which does not vary within one,", "`freedom: kenward-roger`")
	for name, a := range map[string]answer.Answer{
		"adjusted": one(t, treatedLab(29), quality, asked+"freedom: kenward-roger"), "ml": one(t, treatedLab(29), quality, asked+"estimate: ml"),
		"many": one(t, treatedLab(30), quality, asked), "varies": one(t, treatedLab(29), quality, followed+"by: seen_by")} {
		if c := caution(a, "small-errors"); c != "" {
			t.Errorf("%s: %s", name, c)
		}
	}
}
