// Package modeltest makes small random sets of visits of limbs of persons, of
// the kinds that models of repeated measurements meet, hands them to R with its
// packages lme4, nlme, MASS, ordinal and geepack, and reads what they answer, so
// that tests can hold the methods of this project against them on data nobody
// has looked at before. compare.R holds the calls.
package modeltest

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"plybook/analysis/internal/peers"
)

// A Set is one small data set, an entry per visit, the visits of a limb in the
// order of time.
type Set struct {
	Index int

	// Mixed and Residual name the linear mixed models to be fitted, of those in
	// Mixeds and Residuals; Leveled is the outcome whose model has a level of
	// each limb. Residual and Leveled may be empty. ML asks for full likelihood.
	Mixed, Residual, Leveled string
	ML                       bool

	Person, Limb, By []int // from 1; By is who measured
	T                []float64
	G                []float64 // 0 or 1, of the person
	X                []float64 // of the visit
	Y                []float64
	Yes, Count       []float64
	Level            []int     // from 0, every one occurring
	Lean             []float64 // offset of the log odds of Yes
	Years            []float64 // time at risk of Count
}

// Mixeds are the models of Y with residuals alike and independent: limbs have a
// level; a level and a slope on T, correlated or apart; limbs lie in persons;
// persons have slopes; those who measure cut across; all of these.
var Mixeds = []string{"level", "slope", "apart", "nested", "nestedslope", "personslope", "crossed", "all"}

// Residuals are those whose residuals are correlated in time, or scatter by who
// measures.
var Residuals = []string{"serial", "levelserial", "levelspread", "slopespread", "nestedserial", "serialspread"}

var outcomes = []string{"logistic", "poisson", "ordinal"}

// pick is one of some values.
func pick(rng *rand.Rand, of ...float64) float64 { return of[rng.IntN(len(of))] }

// Random makes set number index; the same at every call. Persons are from 3 to
// 16, a third of them seen on both sides, each limb up to 7 times in four or five
// weeks, many less often; what differs between persons, limbs and those who
// measure is anything from nothing to much more than the scatter of one visit.
func Random(index int) *Set {
	rng := rand.New(rand.NewPCG(20240923, uint64(index)))
	s := &Set{Index: index, Mixed: Mixeds[index%len(Mixeds)], ML: index/len(Mixeds)%2 == 1}
	if index%2 == 1 {
		s.Residual = Residuals[index/2%len(Residuals)]
	}
	if index%3 > 0 {
		s.Leveled = outcomes[index/3%3]
	}
	persons := 3 + rng.IntN(14)
	sdPerson, sdLimb := pick(rng, 0, 0.1, 1, 4), pick(rng, 0, 0.1, 1, 4)
	sdSlope, sdPersonSlope, tilt := pick(rng, 0, 0.01, 0.1, 0.3), pick(rng, 0, 0.05, 0.2), pick(rng, -0.9, 0, 0.5, 1)
	sdBy, lasting := pick(rng, 0, 0.2, 2), pick(rng, 0, 0, 1, 4)
	sdOdds, levels, measurers := pick(rng, 0, 0.3, 1, 2), 3+rng.IntN(3), 2+rng.IntN(3)
	by := make([]float64, measurers+1)
	for k := range by {
		by[k] = sdBy * rng.NormFloat64()
	}
	limb := 0
	var latent []float64
	for p := 1; p <= persons; p++ {
		up, upSlope, odds, g := sdPerson*rng.NormFloat64(), sdPersonSlope*rng.NormFloat64(), rng.NormFloat64(), float64(p%2)
		for range 1 + rng.IntN(3)/2 {
			limb++
			level := rng.NormFloat64()
			slope := tilt*level + math.Sqrt(1-tilt*tilt)*rng.NormFloat64()
			own := sdOdds * (0.6*odds + 0.8*rng.NormFloat64())
			at, before, e := float64(rng.IntN(4)), math.Inf(-1), 0.0
			for v := range 1 + rng.IntN(7) {
				if v > 0 && rng.IntN(4) == 0 { // a visit missed
					at += float64(1 + rng.IntN(5))
					continue
				}
				who := 1 + rng.IntN(measurers)
				rho := 0.0
				if lasting > 0 {
					rho = math.Exp((before - at) / lasting)
				}
				e = rho*e + math.Sqrt(1-rho*rho)*rng.NormFloat64()
				before = at
				x := math.Round(100*rng.NormFloat64()) / 100
				y := 20 + up + sdLimb*level + (sdSlope*slope+upSlope-0.1)*at + 0.5*g + 0.3*x + by[who] + (0.4+0.3*float64(who))*e
				lean, years := math.Round(10*rng.NormFloat64())/20, float64(1+rng.IntN(8))/4
				eta := -0.4 + 0.5*g + 0.4*x - 0.02*at + own
				yes, count := 0.0, 0.0
				if rng.Float64() < 1/(1+math.Exp(-eta-lean)) {
					yes = 1
				}
				for c := rng.ExpFloat64(); c < years*math.Exp(0.8+0.6*eta); c += rng.ExpFloat64() {
					count++
				}
				u := rng.Float64()
				latent = append(latent, eta+math.Log(u/(1-u)))
				s.Person, s.Limb, s.By = append(s.Person, p), append(s.Limb, limb), append(s.By, who)
				s.T, s.G, s.X, s.Y = append(s.T, at), append(s.G, g), append(s.X, x), append(s.Y, math.Round(1000*y)/1000)
				s.Yes, s.Count, s.Lean, s.Years = append(s.Yes, yes), append(s.Count, count), append(s.Lean, lean), append(s.Years, years)
				at += float64(1 + rng.IntN(5))
			}
		}
	}
	s.cut(latent, levels)
	return s
}

// cut makes levels of numbers, at places that leave none without rows.
func (s *Set) cut(latent []float64, levels int) {
	sorted := slices.Sorted(slices.Values(latent))
	for _, v := range latent {
		level := 0
		for k := 1; k < levels; k++ {
			if v >= sorted[len(sorted)*k/levels] {
				level = k
			}
		}
		s.Level = append(s.Level, level)
	}
}

// Levels is how many levels there are.
func (s *Set) Levels() int { return slices.Max(s.Level) + 1 }

// LogYears is the offset of Count.
func (s *Set) LogYears() []float64 {
	out := make([]float64, len(s.Years))
	for i, v := range s.Years {
		out[i] = math.Log(v)
	}
	return out
}

// Fits are points at which R is to say what the likelihood is: of a set, by
// the name of the model.
type Fits map[int]map[string][]float64

// Write writes sets as one text table, a line per visit, and one per fit.
func Write(w io.Writer, sets []*Set, fits Fits) error {
	c := csv.NewWriter(w)
	head := []string{"set", "mixed", "residual", "leveled", "ml", "person", "limb", "by", "t", "g", "x", "y", "yes", "count", "level", "lean", "logyears", "fit", "values"}
	if err := c.Write(head); err != nil {
		return err
	}
	num := func(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }
	for _, s := range sets {
		ml := "0"
		if s.ML {
			ml = "1"
		}
		logs := s.LogYears()
		for i := range s.Y {
			if err := c.Write([]string{strconv.Itoa(s.Index), s.Mixed, s.Residual, s.Leveled, ml, strconv.Itoa(s.Person[i]), strconv.Itoa(s.Limb[i]), strconv.Itoa(s.By[i]),
				num(s.T[i]), num(s.G[i]), num(s.X[i]), num(s.Y[i]), num(s.Yes[i]), num(s.Count[i]), strconv.Itoa(s.Level[i]), num(s.Lean[i]), num(logs[i]), "", ""}); err != nil {
				return err
			}
		}
		for name, point := range fits[s.Index] {
			line := make([]string, len(head))
			line[0], line[len(head)-2], line[len(head)-1] = strconv.Itoa(s.Index), name, strings.Trim(fmt.Sprintf("%.17g", point), "[]")
			if err := c.Write(line); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// Answers are what R made of some sets, Answer is some numbers or why there
// are none.
type (
	Answers = peers.Answers
	Answer  = peers.Answer
)

// Ask has R answer for sets, all in one process that runs script, which is
// where compare.R lies. Where R or one of its packages is not installed ok is
// false, unless need says that they must be.
func Ask(t testing.TB, need bool, script string, sets []*Set, fits Fits) (a Answers, ok bool) {
	t.Helper()
	var in bytes.Buffer
	if err := Write(&in, sets, fits); err != nil {
		t.Fatal(err)
	}
	var names []int
	for _, s := range sets {
		names = append(names, s.Index)
	}
	return peers.Ask(t, need, []string{"lme4", "nlme", "MASS", "ordinal", "geepack"}, script, names, &in)
}
