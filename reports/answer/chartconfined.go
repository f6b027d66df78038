package answer

import (
	"slices"

	"plybook/analysis/cohort"
	"plybook/analysis/table"
	"plybook/reports/words"
)

// unknown says of each row of the rows-table whether a value that the
// condition tests is missing, so that it can neither be met nor not, and names
// the columns tested. Tests of whether a value is there are always answered.
func (w *work) unknown(key string, cond table.Condition) ([]bool, []*table.Column, error) {
	out := make([]bool, w.table.Rows())
	var tested []*table.Column
	for _, cl := range allClauses(cond) {
		if cl.Test == table.IsMissing || cl.Test == table.IsKnown {
			continue
		}
		c, err := w.column(key, cl.Column)
		if err != nil {
			return nil, nil, err
		}
		if !slices.Contains(tested, c) {
			tested = append(tested, c)
		}
		for i, gone := range c.Missing {
			out[i] = out[i] || gone
		}
	}
	return out, tested, nil
}

// dropUnknown leaves out the rows, of those among which is counted, that can
// neither count nor not: what the numerator tests is not known of them. Where
// the question says `denominator: count`, they stay, and do not count. Of a
// count or a rate they are only told, as far as they are not counted anyway.
func (w *work) dropUnknown(among, hit []bool, share bool) error {
	n, d := w.ask.Numerator, w.ask.Denominator
	if n == nil || n.All || d != nil && d.All && !d.Implied {
		return nil
	}
	unknown, tested, err := w.unknown("numerator", n.Condition)
	if err != nil {
		return err
	}
	var rows []int
	gone := 0
	for _, i := range w.rows {
		if among[i] && unknown[i] && (share || !hit[i]) {
			gone++
			continue
		}
		rows = append(rows, i)
	}
	if gone == 0 {
		return nil
	}
	one, many := w.nouns()
	var by, of []string
	for _, c := range tested {
		by, of = append(by, c.Name), append(of, label(c))
	}
	what := words.List(of)
	if share {
		w.caution("missing", "%s left out because %s is not known. To take %s not to count, write denominator: count.",
			words.Capital(w.n(gone, one+" was", many+" were")), what, plural(gone, "it", "them"))
	} else {
		w.caution("missing", "%s not counted because %s is not known: the true number may be higher.", words.Capital(w.n(gone, one+" was", many+" were")), what)
	}
	w.steps = append(w.steps, cohort.Step{Step: "known to count or not", Rows: len(rows), Excluded: gone, Reason: "not known: " + what})
	w.rows = rows
	w.rests(rows, append(w.keepColumns(), by...)...)
	return nil
}

// ofShare says whether the rows that do not count are counted as well, so that
// a row must be known to be one or the other.
func (j *chartJob) ofShare() bool {
	a := j.ask
	switch {
	case a.Exposure != "":
		return false
	case a.Method != "control-chart":
		return true
	case a.Chart == "g":
		return a.Between != "days"
	}
	return a.Chart == "" || a.Chart == "p" || a.Chart == "u"
}

// confine takes out of the numerator of a rate what has no part in its
// exposure: rows of sockets or visits that do not make it up, rows of days on
// which the socket was not in use, and rows without a value of the column that
// is summed.
func (j *chartJob) confine() error {
	if j.expo == nil {
		return nil
	}
	part, why := j.inExposure, j.outsideWords()
	if c := j.expo.column; c != nil {
		part = func(i int) bool { return j.among[i] && !c.Missing[i] && c.Num[i] >= 0 }
	} else if err := j.expo.index(j.work); err != nil {
		return err
	}
	out := 0
	for _, i := range j.work.rows {
		counts := j.hit != nil && j.hit[i] || j.y != nil && !j.y.Missing[i] && j.among[i]
		if !counts || part(i) {
			continue
		}
		out++
		if j.hit != nil {
			j.hit[i] = false
		}
		if j.y != nil {
			j.among[i] = false
		}
	}
	if out > 0 {
		one, many := j.nouns()
		j.caution("outside-exposure", "%s not counted, since the exposure has no part of %s: %s.", words.Capital(j.n(out, one+" was", many+" were")), plural(out, "it", "them"), why)
	}
	return nil
}

// outsideWords says what a row outside the exposure is.
func (j *chartJob) outsideWords() string {
	switch j.ask.Exposure {
	case exposureMonths:
		if j.work.table.Name == "sockets" {
			return "of a socket that is not among those of the exposure"
		}
		return "of a socket that is not among those of the exposure, or of a day on which the socket was not in use"
	case exposureVisits:
		return "not of a visit of the exposure"
	}
	if d := j.ask.Denominator; d != nil && !d.All {
		return "not among the denominator, or without " + label(j.expo.column)
	}
	return label(j.expo.column) + " is not recorded"
}

// index notes by which column rows belong to what makes up the exposure: the
// nearest that both have, of visit, socket, limb and person.
func (e *exposure) index(w *work) error {
	for _, name := range []string{"visit", "socket", "limb", "person"} {
		of, ok := e.table.Col(name)
		own, here := w.table.Col(name)
		if !ok || !here || of.Text == nil || own.Text == nil {
			continue
		}
		e.owner, e.byOwner = own, map[string][]int{}
		for k, i := range e.rows {
			if !of.Missing[i] {
				e.byOwner[of.Text[i]] = append(e.byOwner[of.Text[i]], k)
			}
		}
		return nil
	}
	return w.at("exposure", w.ask.Exposure, "impossible", "%s name no visit, socket, limb or person, so that nothing says which of them belong to the exposure", w.table.Name)
}

// inExposure says whether a row belongs to a socket or visit that makes up the
// exposure, and lies within the days of it. A socket's own row may be dated
// before it was in use, on the day of its cast.
func (j *chartJob) inExposure(i int) bool {
	e := j.expo
	if e.owner.Missing[i] {
		return false
	}
	of := e.byOwner[e.owner.Text[i]]
	if e.spans == nil || j.work.table.Name == "sockets" || j.dated == nil || j.dated.Missing[i] {
		return len(of) > 0
	}
	day := j.dated.Num[i]
	return slices.ContainsFunc(of, func(k int) bool { return e.spans[k].from <= day && day <= e.spans[k].to })
}
