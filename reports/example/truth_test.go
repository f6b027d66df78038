package example

import (
	"math"
	"sort"
	"strings"
	"sync"
	"testing"

	"plybook/ingest"
)

// draws are enough logs, drawn once, to see a fault in the drawing that one
// log would hide.
var draws = sync.OnceValue(func() []*ingest.Log {
	out := make([]*ingest.Log, 24)
	for i := range out {
		out[i] = Draw(uint64(1000 + i))
	}
	return out
})

// within4 fails where an observed total is more than four standard errors
// from what the truth expects.
func within4(t *testing.T, what string, observed, expected, sd float64) {
	t.Helper()
	if !(sd > 0) {
		t.Fatalf("%s: nothing to compare (sd %v)", what, sd)
	}
	if z := (observed - expected) / sd; math.Abs(z) > 4 || math.IsNaN(z) {
		t.Errorf("%s: %.4g, want %.4g (%.1f standard errors off)", what, observed, expected, z)
	}
}

// life is a definitive socket's time at risk, read from the log alone.
type life struct {
	method, cause string
	first         bool
	entry, time   float64
	reason        string // of a remake
	end           string // any reason, empty if censored
}

// lives reads the times at risk of definitive sockets as an analysis would:
// from the later of delivery and the opening of the log to the decision to
// remake, the end, or the person's last evidence.
func lives(log *ingest.Log, truth Truth) []life {
	limbs := map[string]ingest.Limb{}
	for _, l := range log.Limbs {
		limbs[l.Limb] = l
	}
	var out []life
	for i, s := range log.Sockets {
		if s.Kind.Code != kindDefinitive || !s.Delivered.OK {
			continue
		}
		l := limbs[s.Limb]
		on := l.LastSeen
		if l.Died.OK {
			on = l.Died
		}
		if s.Ended.OK {
			on = s.Ended
		}
		if s.RemakeDecided.OK {
			on = s.RemakeDecided
		}
		x := life{
			method: s.CastMethod, cause: l.Cause.Code, first: log.Own[ingest.TableSockets][0].Text[i] == "yes",
			entry: float64(max(truth.Opens-s.Delivered.Value, 0)), time: float64(on.Value - s.Delivered.Value), end: s.EndReason.Code,
		}
		if strings.HasPrefix(s.EndReason.Code, remakeFor) {
			x.reason = s.EndReason.Code
		}
		out = append(out, x)
	}
	return out
}

func allLives() []life {
	var out []life
	for _, log := range draws() {
		out = append(out, lives(log, Known())...)
	}
	return out
}

// TestHazards compares remakes with the truth's cumulative hazard over the
// time at risk: their difference is a martingale whose variance is the
// latter. It does so in every cell of the covariates and in all.
func TestHazards(t *testing.T) {
	truth := Known()
	observed, expected := map[string]float64{}, map[string]float64{}
	for _, x := range allLives() {
		e := truth.cumulative(x.method, x.cause, x.first, x.time) - truth.cumulative(x.method, x.cause, x.first, x.entry)
		keys := []string{"all", x.method, x.cause, "later"}
		if x.first {
			keys[3] = "first"
		}
		keys = append(keys, x.method+" "+x.cause+" "+keys[3])
		if x.time > 365 {
			late := math.Max(x.entry, 365)
			expected["after a year"] += truth.cumulative(x.method, x.cause, x.first, x.time) - truth.cumulative(x.method, x.cause, x.first, late)
			if x.reason != "" {
				observed["after a year"]++
			}
		}
		for _, k := range keys {
			expected[k] += e
			if x.reason != "" {
				observed[k]++
			}
		}
	}
	if observed["all"] < 2500 {
		t.Fatalf("%g remakes are too few", observed["all"])
	}
	for k, e := range expected {
		if e >= 10 {
			within4(t, "remakes, "+k, observed[k], e, math.Sqrt(e))
		}
	}
}

// TestSurvival compares the truth's survival with the share still worn, by
// the product over remakes with delayed entry, and Incidence with its
// competing-risks analogue.
func TestSurvival(t *testing.T) {
	truth := Known()
	all := allLives()
	for _, c := range []struct {
		method, cause string
		first         bool
	}{{castHand, "trauma", false}, {castVacuum, "trauma", false}, {castHand, "vascular", true}, {castVacuum, "diabetes", false}} {
		var cell []life
		for _, x := range all {
			if x.method == c.method && x.cause == c.cause && x.first == c.first {
				cell = append(cell, x)
			}
		}
		name := c.method + " " + c.cause
		for _, days := range []float64{90, 365} {
			s, sd := product(cell, days)
			within4(t, name+" survival", s, truth.Survival(c.method, c.cause, c.first, days), sd)
			for _, reason := range []string{remakeFor + "volume loss", remakeFor + "breakage or wear"} {
				f, n := incidence(cell, days, reason)
				want := truth.Incidence(c.method, c.cause, c.first, days, reason)
				within4(t, name+" "+reason, f, want, math.Sqrt(want*(1-want)/n))
			}
		}
	}
}

// product is the product-limit survival from remakes at a time, with
// Greenwood's standard error.
func product(cell []life, days float64) (s, sd float64) {
	s = 1
	sum := 0.0
	for _, at := range timesOf(cell, days) {
		n, d := 0.0, 0.0
		for _, x := range cell {
			if x.entry < at && x.time >= at {
				n++
				if x.time == at && x.reason != "" {
					d++
				}
			}
		}
		s *= 1 - d/n
		if n > d {
			sum += d / (n * (n - d))
		}
	}
	return s, s * math.Sqrt(sum)
}

// incidence is the share remade for a reason by a time where other endings
// compete, with the fewest sockets at risk up to then: a share of so many
// that is known to the end varies no less.
func incidence(cell []life, days float64, reason string) (f, fewest float64) {
	s := 1.0
	fewest = math.Inf(1)
	for _, at := range timesOf(cell, days) {
		n, d, own := 0.0, 0.0, 0.0
		for _, x := range cell {
			if x.entry < at && x.time >= at {
				n++
				if x.time == at && x.end != "" && x.end != reasonMoved && x.end != "lost to follow-up" {
					d++
					if x.reason == reason {
						own++
					}
				}
			}
		}
		f += s * own / n
		s *= 1 - d/n
		fewest = math.Min(fewest, n)
	}
	return f, fewest
}

func timesOf(cell []life, days float64) []float64 {
	seen := map[float64]bool{}
	var out []float64
	for _, x := range cell {
		if x.end != "" && x.time <= days && x.time > x.entry && !seen[x.time] {
			seen[x.time] = true
			out = append(out, x.time)
		}
	}
	sort.Float64s(out)
	return out
}

// TestIncidenceClosedForms holds the integral against cases that have one.
func TestIncidenceClosedForms(t *testing.T) {
	truth := Known()
	total := 0.0
	for _, r := range truth.Reasons() {
		total += truth.ReasonShare(r, 123)
	}
	if math.Abs(total-1) > 1e-12 {
		t.Errorf("shares of reasons add up to %v", total)
	}
	// Without competition all reasons together are 1 - S.
	truth.OtherEnds, truth.DeathsPerYear = nil, nil
	got := truth.Incidence(castHand, "trauma", false, 365, truth.Reasons()...)
	if want := 1 - truth.Survival(castHand, "trauma", false, 365); math.Abs(got-want) > 1e-9 {
		t.Errorf("all reasons alone: %v, want %v", got, want)
	}
	// With constant hazards a (remake) and b (death): a/(a+b) (1 - exp(-(a+b) t)).
	truth.Shape, truth.ScaleDays = 1, 500
	truth.DeathsPerYear = map[string]float64{"trauma": 0.4}
	a, b := 1.0/500, 0.4/daysPerYear
	got = truth.Incidence(castHand, "trauma", false, 365, truth.Reasons()...)
	if want := a / (a + b) * (1 - math.Exp(-(a+b)*365)); math.Abs(got-want) > 1e-9 {
		t.Errorf("two constant hazards: %v, want %v", got, want)
	}
}

func TestReasonsAndOtherEnds(t *testing.T) {
	truth := Known()
	observed, expected, variance := map[string]float64{}, map[string]float64{}, map[string]float64{}
	years := 0.0
	others := map[string]float64{}
	for _, x := range allLives() {
		years += (x.time - x.entry) / daysPerYear
		others[x.end]++
		if x.reason == "" {
			continue
		}
		observed[x.reason]++
		for _, r := range truth.Reasons() {
			// The reason was drawn at the exact time, up to a day earlier.
			p := truth.ReasonShare(r, x.time-0.5)
			expected[r] += p
			variance[r] += p * (1 - p)
		}
	}
	for _, r := range truth.Reasons() {
		within4(t, r, observed[r], expected[r], math.Sqrt(variance[r]))
	}
	for _, e := range truth.OtherEnds {
		within4(t, e.Code, others[e.Code], e.Value*years, math.Sqrt(e.Value*years))
	}
}

// TestDeathsAndLoss counts among the persons who were there when the log
// opened, whose time at risk the log shows.
func TestDeathsAndLoss(t *testing.T) {
	truth := Known()
	died, years := map[string]float64{}, map[string]float64{}
	lost, all := 0.0, 0.0
	for _, log := range draws() {
		worn := map[string]bool{}
		for _, s := range log.Sockets {
			if s.Delivered.OK && s.Delivered.Value < truth.Opens {
				worn[s.Limb] = true
			}
		}
		seen := map[string]bool{}
		for _, l := range log.Limbs {
			if !worn[l.Limb] || seen[l.Person] {
				continue
			}
			seen[l.Person] = true
			end := l.LastSeen.Value
			if l.Died.OK {
				end = l.Died.Value
				died[l.Cause.Code]++
			} else if end <= truth.Closes-callWindow {
				lost++
			}
			years[l.Cause.Code] += float64(end-truth.Opens) / daysPerYear
			all += float64(end-truth.Opens) / daysPerYear
		}
	}
	for cause, rate := range truth.DeathsPerYear {
		e := rate * years[cause]
		within4(t, "deaths, "+cause, died[cause], e, math.Sqrt(e))
	}
	within4(t, "persons lost", lost, truth.LossPerYear*all, math.Sqrt(truth.LossPerYear*all))
}

func TestPracticeChangeAndMaking(t *testing.T) {
	truth := Known()
	tries, yes := [2]float64{}, [2]float64{}
	asIs, accepted := 0.0, 0.0
	vacuum, definitive := 0.0, 0.0
	n, sum := 0.0, 0.0
	for _, log := range draws() {
		cast := map[string]ingest.Date{}
		exit := map[string]ingest.Date{}
		for _, l := range log.Limbs {
			exit[l.Limb] = max(l.LastSeen.Value, l.Died.Value)
		}
		for _, s := range log.Sockets {
			cast[s.Socket] = s.CastOn.Value
			if s.Kind.Code != kindDefinitive {
				continue
			}
			definitive++
			if s.CastMethod == castVacuum {
				vacuum++
			}
			// Casts near the end of follow-up are left out: only the quick
			// ones among them are delivered in time.
			if s.Number.OK && s.Delivered.OK && s.CastOn.Value >= truth.Opens && s.CastOn.Value < exit[s.Limb]-75 {
				n++
				sum += math.Log(float64(s.Delivered.Value - s.CastOn.Value))
			}
		}
		for _, v := range log.Visits {
			if v.Accepted.Code == "" {
				continue
			}
			after := 0
			if cast[v.Socket] >= truth.PracticeChange {
				after = 1
			}
			tries[after]++
			if v.Accepted.Code != "no" {
				yes[after]++
				accepted++
			}
			if v.Accepted.Code == "yes" {
				asIs++
			}
		}
	}
	for i, p := range []float64{truth.FirstFitBefore, truth.FirstFitAfter} {
		within4(t, "check sockets accepted", yes[i], p*tries[i], math.Sqrt(tries[i]*p*(1-p)))
	}
	within4(t, "accepted as they were", asIs, truth.AsIs*accepted, math.Sqrt(accepted*truth.AsIs*(1-truth.AsIs)))
	// A few definitive sockets have no cast of their own (spares), and share
	// the cast of another: the variance is a little above the binomial one.
	within4(t, "vacuum casts", vacuum, truth.VacuumCast*definitive, 1.1*math.Sqrt(definitive*truth.VacuumCast*(1-truth.VacuumCast)))
	within4(t, "log days from cast to delivery", sum/n, truth.MakeLogMean, truth.MakeLogSD/math.Sqrt(n))
}
