package answer

import (
	"math"
	"sort"
	"strconv"

	"plybook/analysis/cohort"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// agree is the word that goes with a count in print; that of many where the
// count is hidden, which its word would otherwise tell when it is 1.
func (w *work) agree(n int, one, many string) string {
	if w.hiddenCount(n) {
		return many
	}
	return plural(n, one, many)
}

func distinct(xs []int) int {
	seen := map[int]bool{}
	for _, x := range xs {
		seen[x] = true
	}
	return len(seen)
}

// clusters gives the cluster of each life: person where persons repeat, the
// column asked for, or none.
func (w *work) clusters(l *lives) ([]int, string, error) {
	switch w.ask.Cluster {
	case "none":
		if distinct(l.Person) < len(l.Person) {
			w.caution("not-clustered", "Some persons have several sockets here, and the sockets are taken as independent because the question says so. The intervals may be too narrow.")
		}
		return nil, "", nil
	case "":
		if distinct(l.Person) == len(l.Person) {
			return nil, "", nil
		}
		return l.Person, "person", nil
	}
	c, err := w.column("cluster", w.ask.Cluster)
	if err != nil {
		return nil, "", err
	}
	codes := codesOf(c.Pick(l.logRows(w)), indices(l.Len()))
	w.fewClusters(distinct(codes), l.Len(), plainName(w.ask.Cluster), "sockets")
	return codes, w.ask.Cluster, nil
}

// codesOf numbers the values of a column; each missing value is its own.
func codesOf(c *table.Column, rows []int) []int {
	seen := map[string]int{}
	out := make([]int, len(rows))
	for j, i := range rows {
		key := "\x00" + strconv.Itoa(j)
		if !c.Missing[i] {
			key = valueText(c, i)
		}
		k, ok := seen[key]
		if !ok {
			k = len(seen)
			seen[key] = k
		}
		out[j] = k
	}
	return out
}

// valueText is a value of a column as text, for groups.
func valueText(c *table.Column, i int) string {
	switch c.Kind {
	case table.Text:
		return c.Text[i]
	case table.Date:
		return words.ISODate(c.Num[i])
	}
	return strconv.FormatFloat(c.Num[i], 'g', -1, 64)
}

// maxGroups is the number of groups beyond which curves cannot be told apart.
const maxGroups = 12

// group is one group of lives.
type group struct {
	name  string
	index []int // into the lives
	data  survival.Data
}

// groups splits the lives by the column of `by`; one group named all without.
func (w *work) groups(l *lives, cluster []int) ([]group, error) {
	if w.ask.By == "" {
		g := group{name: "all"}
		for j := range l.Time {
			g.index = append(g.index, j)
		}
		g.data = l.data(g.index, cluster)
		return []group{g}, nil
	}
	c, err := w.lifeColumn(l, "by", w.ask.By)
	if err != nil {
		return nil, err
	}
	byName := map[string]*group{}
	missing := 0
	for j := range l.Row {
		if c.Missing[j] {
			missing++
			continue
		}
		name := valueText(c, j)
		if byName[name] == nil {
			byName[name] = &group{name: name}
		}
		byName[name].index = append(byName[name].index, j)
	}
	if missing > 0 {
		w.caution("missing", "%s left out because %s is not recorded.", words.Capital(w.n(missing, "socket was", "sockets were")), label(c))
		w.steps = append(w.steps, cohort.Step{Step: "in a group", Rows: len(l.Time) - missing, Excluded: missing, Reason: label(c) + " not recorded"})
		w.Answer.Rows -= missing
	}
	if len(byName) > maxGroups {
		return nil, w.at("by", w.ask.By, notebook.CodeImpossible, "%s has %d groups, more than the %d that can be told apart; group them first", w.ask.By, len(byName), maxGroups)
	}
	names := make([]string, 0, len(byName))
	for k := range byName {
		names = append(names, k)
	}
	sortGroups(names)
	out := make([]group, 0, len(names))
	var all []int
	for _, k := range names {
		g := *byName[k]
		g.data = l.data(g.index, cluster)
		all = append(all, g.index...)
		if len(g.index) < 5 && !w.public() { // for the public it is left out altogether
			w.caution("small-group", "The group %s has only %s.", w.display(k), w.n(len(g.index), "socket", "sockets"))
		}
		out = append(out, g)
	}
	w.countEvents(l, all)
	return out, nil
}

// sortGroups sorts as numbers where all names are numbers, else as text.
func sortGroups(names []string) {
	at := make(map[string]float64, len(names))
	for _, n := range names {
		x, err := strconv.ParseFloat(n, 64)
		if err != nil || math.IsNaN(x) {
			sort.Strings(names)
			return
		}
		at[n] = x
	}
	sort.Slice(names, func(a, b int) bool {
		if at[names[a]] != at[names[b]] {
			return at[names[a]] < at[names[b]]
		}
		return names[a] < names[b]
	})
}

// groupedLives makes the lives of an ask and splits them by the column of
// `by`; it names the column whose repeats the errors allow for, if any.
func (w *work) groupedLives(split bool) (*lives, []group, string, error) {
	l, err := w.buildLives(split)
	if err != nil {
		return nil, nil, "", err
	}
	cluster, clusterName, err := w.clusters(l)
	if err != nil {
		return nil, nil, "", err
	}
	gs, err := w.groups(l, cluster)
	if err != nil {
		return nil, nil, "", err
	}
	if len(gs) == 0 || len(l.Time) == 0 {
		return nil, nil, "", stats.ErrNoRows
	}
	if gs, err = w.leaveOutSmall(l, gs); err != nil {
		return nil, nil, "", err
	}
	return l, gs, clusterName, nil
}
