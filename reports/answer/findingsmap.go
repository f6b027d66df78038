package answer

import (
	"fmt"
	"math"
	"sort"

	"plybook/analysis/quality"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// placeCount is what was found at a region of a level's limbs in one time.
type placeCount struct {
	findings int
	with     int            // visits
	persons  map[string]int // visits with it, by person
	share    *quality.VisitShare
	hidden   bool
}

// placeTime is one time at a level: all of it, or that before a change, or
// since.
type placeTime struct {
	visits, checked int
	byPerson        map[string]int // visits checked
	findings        int
	any             *placeCount // a finding anywhere
	places          map[string]*placeCount
	twice           bool // withheld: how many findings there were, which tells of visits with two at one place
}

// placeLevel are the limbs of one level.
type placeLevel struct {
	level   string
	times   []*placeTime
	regions []string // with a finding in any time, the most visits first
	persons []string // seen with the skin checked in any time
	sides   map[string]map[string]bool
	hidden  bool
}

// mapJob is a map of findings in the making.
type mapJob struct {
	*work
	change *float64 // nil: one time
	names  []string // of the times, as the tables have them
	years  [2]float64
	levels []*placeLevel
	chosen bool // keep chooses among findings
}

// findingsMap answers where on the limb how much is found.
func findingsMap(w *work) error {
	j := &mapJob{work: w, names: []string{"all"}}
	if err := j.changeAsked(); err != nil {
		return err
	}
	visits, kept, err := j.visitsKept()
	if err != nil {
		return err
	}
	if err := j.countVisits(visits, kept); err != nil {
		return err
	}
	if err := j.estimate(); err != nil {
		return err
	}
	if err := j.withhold(); err != nil {
		return err
	}
	j.tables()
	j.printed()
	j.read()
	j.warn()
	j.methods()
	return nil
}

// changeAsked is the day that parts two times: that of `change`, or of the
// only decision that follows the question.
func (j *mapJob) changeAsked() error {
	w := j.work
	made := w.followed()
	switch {
	case w.ask.Change != nil:
		j.change = w.ask.Change
	case len(made) == 1:
		j.change = &made[0].On
	case len(made) > 1:
		return &notebook.Error{Pos: w.ask.Pos, Code: notebook.CodeMissingKey, Text: fmt.Sprintf("%d decisions follow this question; write under change which one is measured", len(made))}
	}
	if j.change == nil {
		return nil
	}
	j.names = []string{"before", "since"}
	return nil
}

// visitsKept are the visits that count: keep's conditions on visits, sockets,
// limbs and persons choose visits and findings alike, those on findings
// choose findings alone.
func (j *mapJob) visitsKept() (*table.Table, []bool, error) {
	w := j.work
	t, err := w.ctx.Cohort.Rows("visits")
	if err != nil {
		return nil, nil, err
	}
	ofVisits := func(cl table.Clause) bool { _, err := t.Lookup(cl.Column); return err == nil }
	var c table.Condition
	for _, cl := range w.ask.Keep.Clauses {
		if ofVisits(cl) {
			c.Clauses = append(c.Clauses, cl)
		} else {
			j.chosen = true
		}
	}
	visit, finding := 0, ""
	for _, alt := range w.ask.Keep.Any {
		for _, cl := range allClauses(alt) {
			if ofVisits(cl) {
				visit++
			} else {
				finding = cl.Column
			}
		}
	}
	switch {
	case visit > 0 && finding != "":
		return nil, nil, w.at("keep", finding, notebook.CodeImpossible,
			"alternatives that mix %s with what is known of a visit leave it open which visits count as looked at; keep findings and visits by conditions of their own", finding)
	case visit > 0:
		c.Any = w.ask.Keep.Any
	case finding != "":
		j.chosen = true
	}
	kept, err := c.Match(t)
	if err != nil {
		return nil, nil, w.conditionError("keep", err, t)
	}
	return t, kept, nil
}

// texts reads a column of text: empty where missing.
func texts(t *table.Table, name string) func(i int) string {
	c, ok := t.Col(name)
	return func(i int) string {
		if !ok || c.Kind != table.Text || c.Missing[i] {
			return ""
		}
		return c.Text[i]
	}
}

// countVisits counts visits, those at which skin was checked, and what was
// found, by level, time, region and person.
func (j *mapJob) countVisits(visits *table.Table, kept []bool) error {
	all, err := j.ctx.Cohort.Rows("findings")
	if err != nil {
		return err
	}
	// A row of any finding, or that there was none, says that somebody looked.
	looked := map[string]bool{}
	ofRow := texts(all, "visit")
	for i := range all.Rows() {
		looked[ofRow(i)] = true
	}
	found := map[string][]int{} // finding rows kept that say of something, by visit
	for _, i := range j.rows {
		if f := texts(j.table, "finding")(i); f == "none" || f == "" {
			continue
		}
		id := texts(j.table, "visit")(i)
		found[id] = append(found[id], i)
	}
	id, checked, level := texts(visits, "visit"), texts(visits, "skin_checked"), texts(visits, "level")
	person, limb, side := texts(visits, "person"), texts(visits, "limb"), texts(visits, "side")
	region := texts(j.table, "region")
	date, _ := visits.Col("date")
	at := map[string]*placeLevel{}
	first := math.Inf(1)
	for i, k := range kept {
		if !k {
			continue
		}
		l := at[level(i)]
		if l == nil {
			l = &placeLevel{level: level(i), sides: map[string]map[string]bool{}}
			for range j.names {
				l.times = append(l.times, &placeTime{byPerson: map[string]int{}, any: newPlace(), places: map[string]*placeCount{}})
			}
			at[level(i)] = l
			j.levels = append(j.levels, l)
		}
		day := date.Num[i]
		first = math.Min(first, day)
		t := l.times[0]
		if j.change != nil && day >= *j.change {
			t = l.times[1]
		}
		t.visits++
		rows := found[id(i)]
		if checked(i) != "yes" && !looked[id(i)] {
			continue
		}
		t.checked++
		who := person(i)
		t.byPerson[who]++
		if s := side(i); s != "" {
			if l.sides[s] == nil {
				l.sides[s] = map[string]bool{}
			}
			l.sides[s][limb(i)] = true
		}
		seen := map[string]bool{}
		for _, r := range rows {
			t.findings++
			name := region(r)
			if name == "none" { // a finding, and no place for it
				name = ""
			}
			p := t.places[name]
			if p == nil {
				p = newPlace()
				t.places[name] = p
			}
			p.findings++
			if !seen[name] {
				seen[name] = true
				p.add(who)
			}
		}
		if len(rows) > 0 {
			t.any.findings += len(rows)
			t.any.add(who)
		}
	}
	return j.settle(first)
}

func newPlace() *placeCount { return &placeCount{persons: map[string]int{}} }

func (p *placeCount) add(person string) {
	p.with++
	p.persons[person]++
}

// settle sorts levels and regions and refuses what has nothing to be a rate
// of.
func (j *mapJob) settle(first float64) error {
	if begin, ok := j.begin(); ok {
		first = begin
	}
	if j.change != nil {
		j.years = [2]float64{(*j.change - first) / table.DaysPerYear, (j.ctx.Today + 1 - *j.change) / table.DaysPerYear}
	}
	var sum [2]int
	visits := 0
	for _, l := range j.levels {
		total := map[string]int{}
		who := map[string]bool{}
		for k, t := range l.times {
			visits += t.visits
			sum[k] += t.checked
			for r, p := range t.places {
				total[r] += p.with
			}
			for p := range t.byPerson {
				who[p] = true
			}
		}
		l.regions = sortedKeys(total)
		for p := range who {
			l.persons = append(l.persons, p)
		}
		sort.Strings(l.persons)
	}
	checked := func(l *placeLevel) int {
		n := 0
		for _, t := range l.times {
			n += t.checked
		}
		return n
	}
	sort.SliceStable(j.levels, func(a, b int) bool {
		x, y := j.levels[a], j.levels[b]
		if checked(x) != checked(y) {
			return checked(x) > checked(y)
		}
		return x.level < y.level
	})
	if sum[0]+sum[1] == 0 {
		text := "the log has no visits among those chosen"
		if visits > 0 {
			text = "at none of the visits chosen is the skin recorded as checked, and nothing was found, so there is nothing to count findings against; write yes under skin_checked where the skin was looked at"
		}
		return &notebook.Error{Pos: j.ask.Pos, Code: "no-rows", Text: text + j.unseenHint()}
	}
	j.Answer.Rows = sum[0] + sum[1]
	for k, n := range j.names {
		if j.change != nil && (sum[k] == 0 || j.hiddenCount(sum[k])) {
			return &notebook.Error{Pos: j.ask.At("change", ""), Code: "too-few-to-compare",
				Text: fmt.Sprintf("%s the change of %s the skin was checked at %s, too few to compare", n, words.ISODate(*j.change), j.n(sum[k], "visit", "visits"))}
		}
	}
	return nil
}
