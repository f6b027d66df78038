package answer

import (
	"fmt"
	"math"

	"plybook/analysis/cohort"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// counted is how many sockets of the group had the event, whatever they
// weigh.
func (f fitted) counted() int {
	n := 0
	for _, c := range f.data.Cause {
		if c > 0 {
			n++
		}
	}
	return n
}

// weigh gives the lives of each group their weights, if any, and leaves out
// those that have none. It says whether they are shares: weights that are not
// whole do not count rows, so that errors come from the jackknife.
func (w *work) weigh(l *lives, gs []group) (shares bool, err error) {
	name := w.ask.Weights
	if name == "" {
		return false, nil
	}
	if w.public() {
		return false, w.at("weights", name, notebook.CodeImpossible, "this report hides small counts, and weights would pass for counts; answer this in a report for the lab alone")
	}
	c, err := w.lifeColumn(l, "weights", name)
	if err != nil {
		return false, err
	}
	if c.Kind != table.Number {
		return false, w.at("weights", name, notebook.CodeImpossible, "%s holds no numbers, so it cannot say how much a socket counts", label(c))
	}
	out, all := 0, []int(nil)
	for k := range gs {
		g := &gs[k]
		var index []int
		for _, j := range g.index {
			switch {
			case c.Missing[j] || c.Num[j] == 0:
				out++
				continue
			case !(c.Num[j] > 0) || math.IsInf(c.Num[j], 0):
				return false, w.at("weights", name, notebook.CodeImpossible, "a weight is above 0; %s is %s for one of the sockets", label(c), words.Plain(c.Num[j]))
			}
			shares = shares || c.Num[j] != math.Trunc(c.Num[j])
			index = append(index, j)
		}
		if len(index) == 0 {
			return false, w.at("weights", name, notebook.CodeImpossible, "%s has no weight above 0 for any socket%s", label(c), inGroup(w, g.name))
		}
		clusters := map[int]int{}
		if g.data.Cluster != nil {
			for i, j := range g.index {
				clusters[j] = g.data.Cluster[i]
			}
		}
		g.index = index
		all = append(all, index...)
		had := g.data.Cluster != nil
		g.data = l.data(index, nil)
		for _, j := range index {
			g.data.Weight = append(g.data.Weight, c.Num[j])
			if had {
				g.data.Cluster = append(g.data.Cluster, clusters[j])
			}
		}
	}
	for _, key := range []string{"tests", "trend"} {
		if p, ok := w.ask.KeyPos[key]; ok && shares {
			return false, &notebook.Error{Pos: p, Code: notebook.CodeImpossible,
				Text: fmt.Sprintf("`%s` counts sockets, and the weights of %s are not whole numbers; leave out `%s`, and groups are compared by the score test", key, label(c), key)}
		}
	}
	if shares { // each life on its own where persons do not repeat
		for k := range gs {
			if g := &gs[k]; g.data.Cluster == nil {
				g.data.Cluster = append([]int(nil), g.index...)
			}
		}
	}
	w.countEvents(l, all)
	w.Answer.Rows = len(all)
	if out > 0 {
		w.caution("no-weight", "%s left out because %s is not recorded, or 0.", words.Capital(w.n(out, "socket was", "sockets were")), label(c))
		w.steps = append(w.steps, cohort.Step{Step: "with a weight", Rows: len(all), Excluded: out, Reason: label(c) + " not recorded, or 0"})
	}
	return shares, nil
}

func inGroup(w *work, name string) string {
	if w.ask.By == "" {
		return ""
	}
	return " of the group " + w.display(name)
}

// weightedMethods say what the weights are taken for.
func (w *work) weightedMethods(shares bool) string {
	switch {
	case w.ask.Weights == "":
		return ""
	case shares:
		return fmt.Sprintf(" Sockets were weighted by %s, which is not a count, so that standard errors are by the infinitesimal jackknife and groups are compared by the score test alone; what is at risk is a sum of weights.", w.columnLabel(w.ask.Weights))
	}
	return fmt.Sprintf(" Sockets were weighted by %s, each standing for so many equal sockets; what is at risk is a sum of weights.", w.columnLabel(w.ask.Weights))
}
