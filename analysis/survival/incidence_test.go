package survival

import (
	"testing"
)

func TestCumulativeIncidenceMgus2(t *testing.T) {
	s := load(t, "mgus2")
	scales := map[string]Scale{"aj_all": Log, "aj_loglog": ComplementaryLogLog, "aj_plain": Untransformed}
	for entry, scale := range scales {
		r := must(CumulativeIncidence(s.data("etime", "event"), 2, CurveOptions{Bounds: scale}))(t)
		checkIncidence(t, s, entry, r, 0)
	}
	for k, sex := range []string{"F", "M"} {
		x := s.keep(func(r map[string]string) bool { return r["sex"] == sex })
		r := must(CumulativeIncidence(x.data("etime", "event"), 2, CurveOptions{Bounds: Log}))(t)
		checkIncidence(t, s, "aj_by_sex", r, 5*k)
	}
}

// checkIncidence compares five times of an entry from the position given.
func checkIncidence(t *testing.T, s *set, entry string, r *Incidence, from int) {
	t.Helper()
	want := s.entry(entry)["r"]
	tol := s.tol(entry)
	for k := from; k < from+5; k++ {
		causes, free, ok := r.At(numbers(get(want, "time"))[k])
		if !ok {
			t.Fatalf("%s: time %d not known", entry, k)
		}
		for name, p := range map[string]Point{"event_free": free, "pcm": causes[0], "death": causes[1]} {
			near(t, entry+" "+name, p.Estimate, numbers(get(want, "p_"+name))[k], tol)
			near(t, entry+" se "+name, p.StdErr, numbers(get(want, "se_"+name))[k], tol)
			near(t, entry+" low "+name, p.Low, numbers(get(want, "lower_"+name))[k], tol)
			near(t, entry+" high "+name, p.High, numbers(get(want, "upper_"+name))[k], tol)
		}
	}
}
