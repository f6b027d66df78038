package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// loadLog delivers n sockets a year to persons of their own, of which few
// are transfemoral.
func loadLog(n, few int, years ...int) sheets {
	var l, s strings.Builder
	l.WriteString("person,limb,side,level,sex\n")
	s.WriteString("socket,limb,kind,number,delivered\n")
	for _, y := range years {
		for i := range n {
			level := "transtibial"
			if i < few {
				level = "transfemoral"
			}
			fmt.Fprintf(&l, "P%d-%d,L%d-%d,left,%s,%s\n", y, i, y, i, level, []string{"male", "female"}[i%2])
			fmt.Fprintf(&s, "S%d-%d,L%d-%d,definitive,1,%d-%02d-11\n", y, i, y, i, y, 1+i%12)
		}
	}
	return sheets{"limbs": l.String(), "sockets": s.String()}
}

func TestCaseloadCautions(t *testing.T) {
	whole := one(t, loadLog(24, 8, 2022, 2023), quality+"\nto: 2023-12-31", "method: caseload\nby: level")
	if len(whole.Cautions) > 0 {
		t.Errorf("%v", whole.Cautions)
	}
	if want := "In 2023 24 sockets were delivered to 24 persons, for 24 limbs; 24 were a limb's first definitive, 0 a later one. In 2022 there were 24."; whole.Reading != want {
		t.Errorf("%s", whole.Reading)
	}
	part := one(t, loadLog(24, 8, 2022, 2023), quality+"\nto: 2023-11-30", "method: caseload")
	wantCaution(t, part, "incomplete-period", "2023 (to 30 November 2023)")
	want(t, row(t, table(t, part, "rows"), "period", "2023"), "sockets", 22, "complete", false)
	want(t, row(t, table(t, part, "rows"), "period", "2022"), "sockets", 24, "complete", true)
	s := loadLog(24, 8, 2022, 2023)
	s["sockets"] = strings.Replace(s["sockets"], "definitive,1,2022-03-11", "definitive,,2022-03-11", 1)
	s["sockets"] = strings.Replace(s["sockets"], "2023-04-11", "", 1)
	bare := one(t, s, quality+"\nto: 2023-12-31", "method: caseload")
	wantCaution(t, bare, "number-unknown")
	wantCaution(t, bare, "no-date")
	want(t, row(t, table(t, bare, "rows"), "period", "2022"), "sockets", 24, "first", 23, "number_not_known", 1)
}

// A small group takes another with it, and a small year another year: no
// hidden count follows from those shown.
func TestCaseloadInPublic(t *testing.T) {
	a := one(t, loadLog(30, 4, 2022, 2023), "audience: annual\nto: 2023-12-31", "method: caseload\nby: level")
	rows := table(t, a, "rows")
	want(t, row(t, rows, "period", "2023", "group", "all"), "sockets", 30)
	want(t, row(t, rows, "period", "2023", "group", "transfemoral"), "sockets", nil, "persons", nil)
	want(t, row(t, rows, "period", "2023", "group", "transtibial"), "sockets", nil, "persons", nil)
	if text := strings.Join(printed(a), "\n"); strings.Contains(text, "26") {
		t.Errorf("the small group can be worked out:\n%s", text)
	}
	if long := a.Figures[0].Long; !strings.Contains(long, "2023: 30 (Transfemoral –, Transtibial –, Withheld, together 30)") {
		t.Error(long)
	}
	s, more := loadLog(30, 0, 2022, 2023), loadLog(4, 0, 2021)
	for _, n := range []string{"limbs", "sockets"} {
		_, tail, _ := strings.Cut(more[n], "\n")
		s[n] += tail
	}
	b := one(t, s, "audience: annual\nto: 2023-12-31", "method: caseload")
	rows = table(t, b, "rows")
	shown := 0
	for _, y := range []string{"2021", "2022", "2023"} {
		if row(t, rows, "period", y)["sockets"] != nil {
			shown++
		}
	}
	if shown != 1 || row(t, rows, "period", "2021")["sockets"] != nil {
		t.Errorf("%d years shown: %v", shown, rows.Rows)
	}
	u := loadLog(40, 0, 2022)
	u["sockets"] = strings.ReplaceAll(strings.ReplaceAll(strings.ReplaceAll(u["sockets"], "definitive,1,2022-03", "definitive,,2022-03"), "definitive,1,2022-05", "preparatory,,2022-05"), "definitive,1,2022-06", "preparatory,,2022-06")
	c := one(t, u, "audience: annual\nto: 2022-12-31", "method: caseload")
	want(t, row(t, table(t, c, "rows"), "period", "2022"), "sockets", 40, "number_not_known", nil, "preparatory", nil)
	want(t, row(t, table(t, c, "fittings"), "period", "2022"), "sockets", nil, "fittings", nil)
	wantError(t, one(t, loadLog(4, 0, 2022), "audience: annual", "method: caseload"), "too-few-to-show")
}

// Groups of several columns stand in one table, and what a group withholds of
// its persons cannot be worked out from all persons: with 30 persons of whom 4
// are transfemoral, and with sockets enough of few persons.
func TestCaseloadGroupsInPublic(t *testing.T) {
	a := one(t, loadLog(30, 4, 2022, 2023), "audience: annual\nto: 2023-12-31", "method: caseload\ncolumns: [level, sex]")
	rows := table(t, a, "groups")
	for _, level := range []string{"transfemoral", "transtibial"} {
		want(t, row(t, rows, "period", "2023", "category", level), "sockets", nil, "persons", nil, "limbs", nil)
	}
	want(t, row(t, rows, "period", "2023", "category", "female"), "sockets", 15, "persons", 15, "limbs", 15)
	text := strings.Join(printed(a), "\n")
	if strings.Contains(text, "26") || !strings.Contains(text, "Persons, limbs and sockets of 2023") || !strings.Contains(text, "Sockets 2022") {
		t.Errorf("%s", text)
	}
	// 24 of the women's sockets are of eight women: no number of persons by
	// sex can stand beside the number of all.
	s := loadLog(40, 0, 2022)
	l, k := strings.Builder{}, strings.Builder{}
	l.WriteString("person,limb,side,level,sex\n")
	k.WriteString("socket,limb,kind,number,delivered\n")
	for i := range 60 {
		p, sex := 100+i, "male"
		if i >= 36 {
			p, sex = (i-36)%8, "female"
		}
		if i < 44 {
			fmt.Fprintf(&l, "P%d,L%d,left,transtibial,%s\n", p, p, sex)
		}
		fmt.Fprintf(&k, "S%d,L%d,definitive,2,2022-%02d-11\n", i, p, 1+i%12)
	}
	s["limbs"], s["sockets"] = l.String(), k.String()
	b := one(t, s, "audience: annual\nto: 2022-12-31", "method: caseload\ncolumns: [sex]")
	rows = table(t, b, "groups")
	want(t, row(t, rows, "category", "female"), "sockets", 24, "persons", nil, "limbs", nil)
	want(t, row(t, rows, "category", "male"), "sockets", 36, "persons", nil, "limbs", nil)
	want(t, row(t, table(t, b, "rows"), "group", "all"), "sockets", 60, "persons", 44)
}

func TestCaseloadRefusals(t *testing.T) {
	s := loadLog(24, 8, 2022)
	wantError(t, one(t, s, quality, "method: caseload\nby: delivered"), "impossible", "no column of categories")
	wantError(t, one(t, s, quality, "method: caseload\ncolumns: [level, delivered]"), "impossible", "no column of categories")
	wantError(t, one(t, s, quality, "method: caseload\ndated: level"), "impossible", "holds no dates")
	wantError(t, one(t, s, quality+"\nfrom: 2023-01-01", "method: caseload"), "no-rows")
	wantError(t, one(t, loadLog(2, 0, 1990, 2023), quality, "method: caseload\nperiod: month"), "impossible", "take a longer period")
}
