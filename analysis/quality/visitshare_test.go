package quality

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/stats"
)

type shareExpected struct {
	Visits, With, Persons int
	Share                 float64
	StdError              *float64 `json:"std_error"`
	Effective, Low, High  float64
}

type changeExpected struct {
	Before, Since                      shareExpected
	Correlation, Difference, Low, High float64
}

func sameShare(t *testing.T, what string, got *VisitShare, want shareExpected) {
	t.Helper()
	if got.Visits != want.Visits || got.With != want.With || got.Persons != want.Persons {
		t.Errorf("%s: %+v, want %+v", what, got, want)
	}
	near(t, what, got.Estimate, want.Share, 1e-12)
	near(t, what+" error", got.StdErr, *want.StdError, 1e-9)
	near(t, what+" effective", got.Effective, want.Effective, 1e-8)
	near(t, what+" low", got.Low, want.Low, 1e-8)
	near(t, what+" high", got.High, want.High, 1e-8)
}

// perPerson sums visits by person and time.
func perPerson(t *testing.T, set, who, with, visits, time string, since float64) (all, before, after []PersonVisits) {
	at := map[float64]int{}
	id, y, when := column(t, set, who), column(t, set, with), column(t, set, time)
	var n []float64
	if visits != "" {
		n = column(t, set, visits)
	}
	for i := range id {
		k, ok := at[id[i]]
		if !ok {
			k = len(all)
			at[id[i]] = k
			all, before, after = append(all, PersonVisits{}), append(before, PersonVisits{}), append(after, PersonVisits{})
		}
		m := 1
		if n != nil {
			m = int(n[i])
		}
		to := &before[k]
		if when[i] >= since {
			to = &after[k]
		}
		for _, p := range []*PersonVisits{&all[k], to} {
			p.With, p.Visits = p.With+int(y[i]), p.Visits+m
		}
	}
	return all, before, after
}

// R: sandwich::vcovCL, qbeta and binom.test; see the SOURCE.md of the set.
func TestShareOfVisitsAgainstR(t *testing.T) {
	var e struct {
		Ohio, Ohio90, Cbpp shareExpected
		OhioChange         changeExpected `json:"ohio_change"`
		CbppChange         changeExpected `json:"cbpp_change"`
		Exact              struct{ None, Few, All [2]float64 }
	}
	expected(t, "visit_shares", &e)
	share := func(p []PersonVisits, level float64) *VisitShare {
		s, err := ShareOfVisits(p, level)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	children, young, old := perPerson(t, "ohio", "id", "resp", "", "age", 0)
	sameShare(t, "ohio", share(children, 0.95), e.Ohio)
	sameShare(t, "ohio at 90%", share(children, 0.9), e.Ohio90)
	herds, first, later := perPerson(t, "visit_shares", "herd", "incidence", "size", "period", 2)
	sameShare(t, "herds", share(herds, 0.95), e.Cbpp)
	for _, c := range []struct {
		what          string
		before, since []PersonVisits
		want          changeExpected
	}{{"ohio", young, old, e.OhioChange}, {"herds", first, later, e.CbppChange}} {
		got, err := ChangeOfVisits(c.before, c.since, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		sameShare(t, c.what+" before", got.Before, c.want.Before)
		sameShare(t, c.what+" since", got.Since, c.want.Since)
		near(t, c.what+" correlation", got.Correlation, c.want.Correlation, 1e-9)
		near(t, c.what+" difference", got.Difference, c.want.Difference, 1e-9)
		near(t, c.what+" low", got.Low, c.want.Low, 1e-7)
		near(t, c.what+" high", got.High, c.want.High, 1e-7)
	}
	for with, want := range map[int][2]float64{0: e.Exact.None, 3: e.Exact.Few, 30: e.Exact.All} {
		once := make([]PersonVisits, 30)
		for i := range once {
			once[i].Visits = 1
			if i < with {
				once[i].With = 1
			}
		}
		s := share(once, 0.95)
		if !s.Exact {
			t.Errorf("%d of 30: nobody was seen twice", with)
		}
		near(t, "exact low", s.Low, want[0], 1e-9)
		near(t, "exact high", s.High, want[1], 1e-9)
	}
}

func TestShareOfVisitsOfFew(t *testing.T) {
	if _, err := ShareOfVisits([]PersonVisits{{0, 0}}, 0.95); !errors.Is(err, stats.ErrNoRows) {
		t.Error(err)
	}
	if _, err := ShareOfVisits([]PersonVisits{{2, 1}}, 0.95); !errors.Is(err, ErrVisits) {
		t.Error(err)
	}
	s, err := ShareOfVisits([]PersonVisits{{2, 9}, {0, 0}}, 0.95)
	if err != nil || s.HasBounds || !math.IsNaN(s.Low) || s.Persons != 1 {
		t.Errorf("one person: %+v, %v", s, err)
	}
	s, err = ShareOfVisits([]PersonVisits{{0, 9}}, 0.95)
	if err != nil || s.Low != 0 || math.Abs(s.High-(1-math.Pow(0.025, 1.0/9))) > 1e-9 {
		t.Errorf("none of 9: %+v, %v", s, err)
	}
	s, err = ShareOfVisits([]PersonVisits{{1, 4}, {1, 4}, {2, 8}}, 0.95)
	if err != nil || !s.HasBounds || s.Effective > 16 || !(s.Low < 0.25 && s.High > 0.25) {
		t.Errorf("persons alike: %+v, %v", s, err)
	}
	if _, err := ChangeOfVisits(make([]PersonVisits, 1), make([]PersonVisits, 2), 0.95); err == nil {
		t.Error("persons that are not the same")
	}
}

// 1,500 draws of 60 persons with 1 to 12 visits whose own shares spread
// around 8 percent: the limits hold the truth of all persons' visits about 95
// times in 100, those of independent visits clearly less often.
func TestShareOfVisitsCovers(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	const draws, truth = 1500, 0.08
	held, naive := 0, 0
	for range draws {
		persons := make([]PersonVisits, 60)
		for i := range persons {
			p := 0.02
			if r.Float64() < 0.2 {
				p = 0.32
			}
			persons[i].Visits = 1 + r.IntN(12)
			for range persons[i].Visits {
				if r.Float64() < p {
					persons[i].With++
				}
			}
		}
		s, err := ShareOfVisits(persons, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if s.Low <= truth && truth <= s.High {
			held++
		}
		if low, high := ExactShare(float64(s.With), float64(s.Visits), 0.95); low <= truth && truth <= high {
			naive++
		}
	}
	if c := 100 * float64(held) / draws; c < 93 || c > 98 {
		t.Errorf("%.1f percent covered", c)
	}
	if c := 100 * float64(naive) / draws; c > 90 {
		t.Errorf("independent visits cover %.1f percent: the draws are no test", c)
	}
}
