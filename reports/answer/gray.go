package answer

import (
	"errors"
	"fmt"
	"strings"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/words"
)

// causeTest is a test of one cause between groups.
type causeTest struct {
	stats.Test
	cause   cause
	grouped bool // allows for clusters
}

// incidenceTests compares the groups cause by cause: Gray's test, and where
// persons repeat the score test of a Fine-Gray model of the groups, which
// allows for it.
func (w *work) incidenceTests(l *lives, fits []incidence, cluster string) ([]causeTest, error) {
	t := tableOf("tests", text("test"), number("statistic", ""), integer("df"), number("p", ""))
	var out []causeTest
	if len(fits) > 1 {
		for k, c := range l.causes {
			if c.competes {
				continue
			}
			tests, err := w.causeTests(fits, c, k+1, cluster)
			if err != nil {
				return nil, err
			}
			out = append(out, tests...)
		}
	}
	for _, x := range out {
		t.row(x.Name, x.Statistic, int(x.DF), x.P)
	}
	w.addTable(t)
	asked := 0
	for _, c := range l.causes {
		if !c.competes {
			asked++
		}
	}
	if n := len(fits) * (len(fits) - 1) / 2 * asked; len(out) > 0 && n > 1 {
		w.caution("many-comparisons", "With %s and %s there are %d differences to look at; the largest of them looks more striking than it is. The test of all groups together comes first.",
			words.N(len(fits), "group", "groups"), words.N(asked, "reason", "reasons"), n)
	}
	return out, nil
}

func (w *work) causeTests(fits []incidence, c cause, number int, cluster string) ([]causeTest, error) {
	var data []survival.Data
	var names []string
	for _, f := range fits {
		data, names = append(data, f.data), append(names, f.name)
	}
	r, err := survival.GrayTest(data, names, number, nil)
	if err != nil {
		if errors.Is(err, survival.ErrNoComparison) || errors.Is(err, stats.ErrNoEvents) {
			w.caution("no-comparison", "The groups could not be compared for sockets %s: none was seen while more than one group was at risk.", c.past)
			return nil, nil
		}
		return nil, err
	}
	g := causeTest{Test: r.Test, cause: c}
	g.Name = "Gray's test: " + c.name
	out := []causeTest{g}
	if cluster == "" {
		return out, nil
	}
	w.caution("test-not-clustered", "Gray's test takes sockets of one person as independent. The score test beside it, of a Fine-Gray model of the groups, does not; read that one.")
	s, err := survival.FineGrayScore(groupTerms(fits), number, survival.FineGrayOptions{})
	if err != nil {
		w.caution("no-clustered-test", "The clustered score test could not be computed for sockets %s (%s).", c.past, scoreReason(err))
		return out, nil
	}
	s.Name = fmt.Sprintf("score test grouped by %s: %s", cluster, c.name)
	return append(out, causeTest{s, c, true}), nil
}

// scoreReason is why there is no score test, in a reader's words.
func scoreReason(err error) string {
	var entry *survival.EntryError
	switch {
	case errors.Is(err, survival.ErrFewClusters):
		return "there are too few persons"
	case errors.As(err, &entry):
		return "sockets that came under observation late leave a time before which nobody was followed on"
	}
	return strings.TrimPrefix(err.Error(), "Fine-Gray score test: ")
}

// groupTerms is the data of a model with the groups as terms, the first being
// what the others are compared with.
func groupTerms(fits []incidence) survival.FineGrayData {
	var d survival.FineGrayData
	for k, f := range fits {
		d.Entry = append(d.Entry, f.data.Entry...)
		d.Time = append(d.Time, f.data.Time...)
		d.Cause = append(d.Cause, f.data.Cause...)
		d.Cluster = append(d.Cluster, f.data.Cluster...)
		if k > 0 {
			d.Names = append(d.Names, f.name)
		}
	}
	at := len(fits[0].data.Time)
	for _, f := range fits[1:] {
		x := make([]float64, len(d.Time))
		for i := range f.data.Time {
			x[at+i] = 1
		}
		at += len(f.data.Time)
		d.X = append(d.X, x)
	}
	return d
}

// incidenceVerdict says what the tests came to, by the one that allows for
// clusters where there is one.
func incidenceVerdict(tests []causeTest) string {
	var parts []string
	for i, t := range tests {
		if i+1 < len(tests) && tests[i+1].grouped && tests[i+1].cause.name == t.cause.name {
			continue
		}
		verdict := "differs by more than chance alone would often give"
		if t.P >= 0.05 {
			verdict = "differs no more than chance often gives"
		}
		name, _, _ := strings.Cut(t.Name, ": ")
		parts = append(parts, fmt.Sprintf("the share ever %s %s (%s, %s)", t.cause.past, verdict, name, words.PEquals(t.P)))
	}
	if len(parts) == 0 {
		return ""
	}
	return " Between the groups, " + strings.Join(parts, "; ") + "."
}

// testWords says the tests in the methods sentence.
func testWords(tests []causeTest, cluster string) string {
	if len(tests) == 0 {
		return ""
	}
	s := " Groups were compared by Gray's test"
	for _, t := range tests {
		if t.grouped {
			return s + fmt.Sprintf(", and by the score test of a Fine-Gray model of the groups, with score residuals grouped by %s.", cluster)
		}
	}
	return s + "."
}

var testReferences = []string{
	"Gray RJ. A class of K-sample tests for comparing the cumulative incidence of a competing risk. Ann Stat 1988; 16: 1141-1154.",
	"Fine JP, Gray RJ. A proportional hazards model for the subdistribution of a competing risk. J Am Stat Assoc 1999; 94: 496-509."}
