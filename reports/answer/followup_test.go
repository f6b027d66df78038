package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// looksLog are persons with one socket each of 365.25 days or so, of which
// those of the group "a" are seen a times and those of "b" b times.
func looksLog(persons, a, b int) sheets {
	var lives []life
	for k := range persons {
		lives = append(lives, life{k + 1, 0, 400, "remake: growth", []string{"a", "b"}[k%2]})
	}
	s := lifeLog(lives)
	var v strings.Builder
	v.WriteString("visit,socket,date,purpose,comfort\n")
	for k := range persons {
		for i := range []int{a, b}[k%2] + k%3 {
			fmt.Fprintf(&v, "V%d-%d,S%d,%s,follow-up,\n", k, i, k+1, day(20+17*i+k))
		}
	}
	s["visits"] = v.String()
	return s
}

func followUpCautions() []raised {
	const by = "method: follow-up\nby: cast_method"
	return []raised{
		{"follow-up", "seen-unequally", askOf(looksLog(40, 8, 3), by), askOf(looksLog(40, 5, 5), by)},
		{"follow-up", "few-persons-seen", askOf(looksLog(30, 5, 5), by), askOf(looksLog(40, 5, 5), by)},
	}
}

// Person 1 has two sockets that were watched together: 100 days, and from day
// 50 to 150, with visits about both on one day; person 2 one of 100 days with
// no visit, still in use at the end of the log.
func TestFollowUpAndVisitsByHand(t *testing.T) {
	s := lifeLog([]life{{1, 0, 100, "remake: growth", "hand"}, {1, 50, 100, "remake: growth", "hand"}, {2, 0, 100, "", "vacuum"}})
	s["visits"] = "visit,socket,date,purpose,comfort\n" +
		"V0,S1," + day(0) + ",delivery,\nV1,S1," + day(60) + ",follow-up,\nV2,S2," + day(60) + ",follow-up,\nV3,S2," + day(120) + ",follow-up,\nV4,S3," + day(0) + ",delivery,\n"
	s["limbs"] = limbsHead + "P1,P1L,left,TT,,\nP2,P2L,left,TT," + day(100) + ",\n"
	a := one(t, s, "audience: quality\nto: "+day(500), "method: follow-up\nby: cast_method")
	seen := table(t, a, "seen")
	want(t, row(t, seen, "group", "hand"), "persons", 1, "days_seen", 2, "person_years", 150/365.25, "estimate", 2*365.25/150, "low", nil, "high", nil)
	want(t, row(t, seen, "group", "vacuum"), "persons", 1, "days_seen", 0, "person_years", 100/365.25, "estimate", 0.0, "low", 0.0, "ratio", nil)
	visits := table(t, a, "visits")
	want(t, row(t, visits, "group", "hand"), "rows", 2, "visits", 3, "without_visit", 0, "socket_years", 200/365.25)
	want(t, row(t, visits, "group", "vacuum"), "rows", 1, "visits", 0, "without_visit", 1)
	want(t, row(t, table(t, a, "gaps"), "group", "hand"), "gaps", 3, "median", 60.0)
	want(t, row(t, table(t, a, "gaps"), "group", "vacuum"), "gaps", 0, "median", nil)
	want(t, row(t, table(t, a, "last_seen"), "group", "hand"), "in_use", 0, "over_a_year", 0, "median", nil)
	want(t, row(t, table(t, a, "last_seen"), "group", "vacuum"), "in_use", 1, "over_a_year", 1, "median", 400.0)
	want(t, row(t, table(t, a, "follow_up"), "group", "vacuum"), "completeness", 100/500.)
	if len(a.Figures) != 1 || strings.Contains(a.Reading, "NaN") || !strings.Contains(a.Reading, "3 sockets were followed") {
		t.Errorf("%d figures; %s", len(a.Figures), a.Reading)
	}

	// Without groups there is nothing to compare, and nothing drawn.
	b := one(t, s, "audience: quality\nto: "+day(500), "method: follow-up")
	want(t, row(t, table(t, b, "seen")), "persons", 2, "days_seen", 2, "ratio", nil)
	if len(b.Figures) != 0 {
		t.Errorf("%d figures of one group", len(b.Figures))
	}

	// Of few there is nothing to tell in a report that hides small counts.
	wantError(t, one(t, s, "audience: annual\nto: "+day(500), "method: follow-up"), "too-few-to-show")
	wantError(t, one(t, s, quality, "method: follow-up\nkeep: {level: transfemoral}"), "no-rows")
}

// Where small counts are hidden, how often many persons were seen is told and
// how few sockets had no visit is not; of a group of few nothing is.
func TestFollowUpWhereCountsAreHidden(t *testing.T) {
	s := looksLog(60, 0, 5)
	a := one(t, s, "audience: annual", "method: follow-up\nby: cast_method")
	r := row(t, table(t, a, "visits"), "group", "a")
	want(t, r, "without_visit", nil)
	if r["visits"] == nil || r["estimate"] == nil {
		t.Errorf("the visits of 30 persons are hidden: %v", r)
	}
	few := s.lines("sockets", func(i int, l string) string {
		if i >= 16 {
			return strings.Replace(l, ",b", ",a", 1)
		}
		return l
	})
	b := one(t, few, "audience: annual", "method: follow-up\nby: cast_method")
	for _, name := range []string{"seen", "visits", "gaps", "last_seen"} {
		for _, r := range table(t, b, name).Rows {
			for _, v := range r[1:] {
				if r[0] == "b" && v != nil {
					t.Errorf("%s tells %v of 8 persons", name, v)
				}
			}
		}
	}
}
