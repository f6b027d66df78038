package answer

import (
	"errors"
	"fmt"
	"strings"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/words"
)

var weightings = map[string]survival.Weighting{
	"log-rank":                  survival.EqualWeights,
	"gehan-breslow":             survival.GehanBreslow,
	"tarone-ware":               survival.TaroneWare,
	"peto-peto":                 survival.PetoPeto,
	"peto-prentice":             survival.PetoPrentice,
	"fleming-harrington-middle": survival.MiddleWeights,
	"fleming-harrington-late":   survival.LateWeights,
}

// compared are the tests of the groups against one another.
type compared struct {
	tests   []stats.Test
	asked   []string
	verdict int // of tests: the one to read, that allows for persons where they repeat; -1: none
	trend   int // of tests: the test of trend to read; -1: none
	rises   bool
	order   []string // the groups in the order of the trend
	strata  []string // labels of the columns within which groups are compared
}

// survivalTests compares the groups: the tests asked for, and where persons
// repeat the score test that allows for it.
func (w *work) survivalTests(l *lives, fits []fitted, clustered, shares bool) (*compared, error) {
	t := tableOf("tests", text("test"), number("statistic", ""), integer("df"), number("p", ""))
	defer func() { w.addTable(t) }()
	out := &compared{verdict: -1, trend: -1}
	if len(fits) < 2 {
		if w.ask.Trend != nil || len(w.ask.Strata) > 0 || len(w.ask.Tests) > 0 {
			w.caution("no-comparison", "There is one group only, so nothing is compared.")
		}
		return out, nil
	}
	data, strata, err := w.testData(l, fits, out)
	if err != nil {
		return nil, err
	}
	scores, err := w.trendScores(l, fits, out)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, f := range fits {
		names = append(names, f.name)
	}
	asked := w.ask.Tests
	if len(asked) == 0 {
		asked = []string{"log-rank"}
	}
	if shares {
		asked = nil // their variances count rows
	}
	out.asked = asked
	for k, a := range asked {
		r, err := survival.LogRank(data, names, survival.LogRankOptions{Weighting: weightings[a], Strata: strata})
		if errors.Is(err, survival.ErrNoComparison) || errors.Is(err, stats.ErrNoEvents) || errors.Is(err, stats.ErrNoRows) {
			w.caution("no-comparison", "The groups could not be compared%s: no event was seen while more than one group was at risk.", within(out.strata))
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		r.Name += within(out.strata)
		out.tests = append(out.tests, r.Test)
		if k == 0 {
			out.verdict = 0
		}
		if k > 0 || scores == nil {
			continue
		}
		if x, err := r.Trend(scores); err == nil {
			out.trend, out.rises = len(out.tests), x.Rises
			out.tests = append(out.tests, x.Test)
		} else {
			w.caution("no-trend", "No trend over the groups could be tested: too few events were seen while groups of different rank were at risk.")
		}
	}
	if clustered || shares {
		w.groupedScores(data, strata, scores, out)
	}
	for _, x := range out.tests {
		t.row(x.Name, x.Statistic, int(x.DF), x.P)
	}
	if len(asked) > 1 {
		w.caution("several-tests", "%d tests of one question stand here, each of which looks harder at another part of the curves. The one to read is the one chosen before looking; to pick the smallest of several p-values finds differences that are chance.", len(asked))
	}
	if len(fits) > 2 {
		w.caution("many-comparisons", "With %d groups there are %d differences to look at; the largest of them looks more striking than it is. The test of all groups together comes first.",
			len(fits), len(fits)*(len(fits)-1)/2)
	}
	return out, nil
}

func within(strata []string) string {
	if len(strata) == 0 {
		return ""
	}
	return " within " + words.List(strata)
}

// groupedScores adds the tests that allow for several sockets of a person.
func (w *work) groupedScores(data []survival.Data, strata [][]int, scores []float64, out *compared) {
	s, err := clusteredScore(data, strata, nil)
	if err != nil && len(out.tests) == 0 {
		w.caution("no-comparison", "The groups could not be compared: too few persons, or a group without events.")
		return
	}
	if err != nil {
		w.caution("no-clustered-test", "The log-rank test takes sockets of one person as independent, and the score test that does not could not be computed: too few persons, or a group without events. Read its p-value with care.")
		return
	}
	s.Name = "score test grouped by person" + within(out.strata)
	out.verdict = len(out.tests)
	out.tests = append(out.tests, s)
	if out.verdict > 0 {
		w.caution("test-not-clustered", "The log-rank test takes sockets of one person as independent. The clustered score test beside it does not; read that one.")
	}
	if out.trend < 0 {
		return
	}
	if x, err := clusteredScore(data, strata, scores); err == nil {
		x.Name = "score test for trend grouped by person" + within(out.strata)
		out.trend = len(out.tests)
		out.tests = append(out.tests, x)
	}
}

// clusteredScore is the score test, with grouped score residuals, of a Cox
// model with the groups as terms, or with their scores as one column.
func clusteredScore(data []survival.Data, strata [][]int, scores []float64) (stats.Test, error) {
	var d survival.CoxData
	for k, g := range data {
		for i := range g.Time {
			d.Entry = append(d.Entry, g.Entry[i])
			d.Time = append(d.Time, g.Time[i])
			d.Event = append(d.Event, g.Cause[i] > 0)
			d.Cluster = append(d.Cluster, g.Cluster[i])
			if g.Weight != nil {
				d.Weight = append(d.Weight, g.Weight[i])
			}
			if strata != nil {
				d.Strata = append(d.Strata, strata[k][i])
			}
		}
	}
	column := func(of func(group int) float64) {
		x := make([]float64, 0, len(d.Time))
		for k, g := range data {
			for range g.Time {
				x = append(x, of(k))
			}
		}
		d.X, d.Names = append(d.X, x), append(d.Names, fmt.Sprint("group ", len(d.X)))
	}
	if scores != nil {
		column(func(k int) float64 { return scores[k] })
	} else {
		for j := 1; j < len(data); j++ {
			column(func(k int) float64 {
				if k == j {
					return 1
				}
				return 0
			})
		}
	}
	c, err := survival.FitCox(d, survival.CoxOptions{})
	if err != nil {
		return stats.Test{}, err
	}
	if !c.HasRobustScore {
		return stats.Test{}, errors.New("too few persons")
	}
	return c.RobustScore, nil
}

// testData are the lives of each group that tests compare, and their strata:
// nil without any. Lives whose stratum is not known are left out of tests.
func (w *work) testData(l *lives, fits []fitted, out *compared) ([]survival.Data, [][]int, error) {
	var data []survival.Data
	if len(w.ask.Strata) == 0 {
		for _, f := range fits {
			data = append(data, f.data)
		}
		return data, nil, nil
	}
	var columns []*table.Column
	for _, name := range w.ask.Strata {
		c, err := w.lifeColumn(l, "strata", name)
		if err != nil {
			return nil, nil, err
		}
		columns, out.strata = append(columns, c), append(out.strata, label(c))
	}
	number, groupsOf := map[string]int{}, map[int]map[int]bool{}
	var strata [][]int
	missing := 0
	for k, f := range fits {
		var d survival.Data
		var codes []int
		for i, j := range f.index {
			key, known := "", true
			for _, c := range columns {
				known = known && !c.Missing[j]
				key += valueText(c, j) + "\x00"
			}
			if !known {
				missing++
				continue
			}
			if _, ok := number[key]; !ok {
				number[key] = len(number)
				groupsOf[number[key]] = map[int]bool{}
			}
			groupsOf[number[key]][k] = true
			codes = append(codes, number[key])
			d.Entry, d.Time, d.Cause = append(d.Entry, f.data.Entry[i]), append(d.Time, f.data.Time[i]), append(d.Cause, f.data.Cause[i])
			if f.data.Weight != nil {
				d.Weight = append(d.Weight, f.data.Weight[i])
			}
			if f.data.Cluster != nil {
				d.Cluster = append(d.Cluster, f.data.Cluster[i])
			}
		}
		data, strata = append(data, d), append(strata, codes)
	}
	if missing > 0 {
		w.caution("missing-strata", "%s drawn but left out of the tests, because %s is not recorded.", words.Capital(w.n(missing, "socket is", "sockets are")), words.List(out.strata))
	}
	alone, all := 0, 0
	for _, codes := range strata {
		for _, c := range codes {
			all++
			if len(groupsOf[c]) < 2 {
				alone++
			}
		}
	}
	if float64(alone) > 0.1*float64(all) {
		w.caution("lone-strata", "%s no socket of another group beside %s with the same %s, and %s nothing to the comparison.", words.Capital(w.n(alone, "socket has", "sockets have")), w.agree(alone, "it", "them"), words.List(out.strata), w.agree(alone, "adds", "add"))
	}
	return data, strata, nil
}

// comparedSentences say what the tests say.
func (w *work) comparedSentences(c *compared, ev cause) []string {
	var out []string
	if c.verdict >= 0 {
		t := c.tests[c.verdict]
		verdict := "The curves differ by more than chance alone would often give"
		if t.P >= 0.05 {
			verdict = "The difference between the curves is no larger than chance often gives"
		}
		out = append(out, fmt.Sprintf("%s (%s, %s).", verdict, t.Name, words.PEquals(t.P)))
	}
	if c.trend >= 0 {
		t, names := c.tests[c.trend], make([]string, len(c.order))
		for i, n := range c.order {
			names[i] = w.display(n)
		}
		along, how := strings.Join(names, " to "), "later"
		if c.rises {
			how = "sooner"
		}
		if t.P < 0.05 {
			out = append(out, fmt.Sprintf("From %s, sockets were %s %s from one group to the next, by more than chance alone would often give (%s, %s); that it goes up or down evenly is taken for granted.", along, ev.past, how, t.Name, words.PEquals(t.P)))
		} else {
			out = append(out, fmt.Sprintf("From %s, no rise or fall is seen beyond what chance often gives (%s, %s).", along, t.Name, words.PEquals(t.P)))
		}
	}
	return out
}

// comparedMethods say how the groups were compared.
func (w *work) comparedMethods(c *compared) string {
	if len(c.tests) == 0 {
		return ""
	}
	var names []string
	for _, t := range c.tests {
		names = append(names, "the "+strings.TrimPrefix(t.Name, "the "))
	}
	s := fmt.Sprintf(" Groups were compared by %s.", words.List(names))
	if c.trend >= 0 && w.ask.Trend.Order != nil {
		s += fmt.Sprintf(" For the trend the groups were scored 1 to %d in the order written.", len(w.ask.Trend.Order))
	} else if c.trend >= 0 {
		s += " For the trend each group's number was its score."
	}
	if len(c.strata) > 0 {
		s += " Tests compare sockets only with others of the same " + words.List(c.strata) + "; the curves are of all together."
	}
	return s
}

var testPapers = map[string]string{
	"log-rank":                  "Mantel N. Evaluation of survival data and two new rank order statistics arising in its consideration. Cancer Chemother Rep 1966; 50: 163-170.",
	"gehan-breslow":             "Gehan EA. A generalized Wilcoxon test for comparing arbitrarily singly-censored samples. Biometrika 1965; 52: 203-223.",
	"tarone-ware":               "Tarone RE, Ware J. On distribution-free tests for equality of survival distributions. Biometrika 1977; 64: 156-160.",
	"peto-peto":                 "Peto R, Peto J. Asymptotically efficient rank invariant test procedures. J R Stat Soc A 1972; 135: 185-207.",
	"peto-prentice":             "Prentice RL. Linear rank tests with right censored data. Biometrika 1978; 65: 167-179.",
	"fleming-harrington-middle": flemingHarrington,
	"fleming-harrington-late":   flemingHarrington,
}

const flemingHarrington = "Fleming TR, Harrington DP. Counting processes and survival analysis. New York: Wiley; 1991."

func (w *work) comparedReferences(c *compared) []string {
	if len(c.tests) == 0 {
		return nil
	}
	var out []string
	seen := map[string]bool{}
	for _, a := range c.asked {
		if p := testPapers[a]; !seen[p] {
			seen[p] = true
			out = append(out, p)
		}
	}
	if c.trend >= 0 {
		out = append(out, "Tarone RE. Tests for trend in life table analysis. Biometrika 1975; 62: 679-682.")
	}
	return out
}
