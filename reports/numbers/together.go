package numbers

import (
	"cmp"
	"encoding/binary"
	"slices"
	"sort"
	"strings"

	"plybook/analysis/withhold"
	"plybook/reports/answer"
)

// Together holds all counts of a report against each other, raw as they are
// and answers as they stand once small ones are withheld, and adds to also
// what is to be withheld with them; it reports whether that was anything. The
// answers are then to be made anew, so that words, tables and figures keep to
// it, until nothing is added.
//
// Counts are the same where they are of the same rows of the log, in whatever
// answer they stand. They add up where rows are parted: by a column with its
// categories and what is not recorded, into groups and all, into those used
// and those left out, with and without the event. Where the rows of one count
// are, by what is asked, some of those of another, and the rest are few, the
// rest is protected as a count of its own, though it stands nowhere.
//
// Counts are also held against those that each of the earlier editions has shown
// in the same place.
func Together(raw, answers []answer.Answer, below int, also answer.Withheld, before []*Before) bool {
	if below <= 1 {
		return false
	}
	r := register{below: below, at: map[string]int{}, related: map[string]bool{}}
	for k := range answers {
		r.answer(k, &answers[k], also[answers[k].ID])
		r.opaque(k, &raw[k], &answers[k], also[answers[k].ID])
	}
	for k := range answers {
		r.sums(k, &answers[k])
		r.figures(k, &raw[k], &answers[k])
	}
	r.differences()
	news := false
	sums := r.sum
	for _, b := range before {
		news = r.edition(raw, b, sums, also) || news
	}
	return r.settle(answers, also) || news
}

// register are the counts of a report, each with its rows.
type register struct {
	below   int
	cells   []entry
	at      map[string]int // by what is counted
	place   map[placeOf]placed
	sum     []withhold.Relation
	related map[string]bool
}

// entry is one number of rows, wherever it stands.
type entry struct {
	withhold.Cell
	of      string
	rows    answer.Set
	by      [][]string // in each place
	asked   [][]string // of rows that visits had to tell of: what is asked
	answers []int      // in which it stands
	own     bool       // of an answer its rows or events
}

type placeOf struct {
	answer int
	table  string
	row    int
	column string
}

// placed is the entry that stands at a place, and how its rows are said there.
type placed struct {
	cell int
	by   []string
}

// cell is the entry of some rows.
func (r *register) cell(of string, rows answer.Set, by []string) int {
	key := rows.Key(of)
	i, ok := r.at[key]
	if !ok {
		i = len(r.cells)
		r.at[key] = i
		r.cells = append(r.cells, entry{of: of, rows: rows, Cell: withhold.Cell{Count: rows.Len(), Loss: 1}})
	}
	if e := &r.cells[i]; !slices.ContainsFunc(e.by, func(b []string) bool { return slices.Equal(b, by) }) {
		e.by = append(e.by, by)
		asked := slices.DeleteFunc(slices.Clone(by), func(c string) bool { return c == "start" || strings.HasPrefix(c, answer.LookedAt) })
		if len(asked) < len(by)-1 {
			e.asked = append(e.asked, asked)
		}
	}
	return i
}

// What a place counts for among the losses: an answer's own number is in its
// captions and sentences, a cell of a table is one of many.
const (
	lossOfAnswer = 8
	lossOfCell   = 3
)

func (r *register) answer(k int, a *answer.Answer, also map[int]answer.How) {
	if r.place == nil {
		r.place = map[placeOf]placed{}
	}
	if a.Error != nil {
		return
	}
	for _, c := range a.Counted {
		i := r.cell(c.Of, c.Rows, c.By)
		e := &r.cells[i]
		r.place[placeOf{k, c.Table, c.Row, c.Column}] = placed{i, c.By}
		if !slices.Contains(e.answers, k) {
			e.answers = append(e.answers, k)
		}
		loss, shown := 1, false
		if c.Row == answer.Printed {
			shown = also[c.Count] == answer.Told
		} else if c.Table == "" {
			loss, shown, e.own = lossOfAnswer, !withheld(*a, c.Column), true
		} else if t := tableOf(a, c.Table); t != nil {
			shown = r.isShown(a, t, c.Row, column(*t, c.Column), c.Count, also)
			loss = lossOfCell * (1 + goesWith(*t, c.Row, column(*t, c.Column), c.Count < r.below))
		}
		e.stands(shown, loss, also[c.Count])
	}
}

// isShown says whether a count of a table is shown, in the numbers or on the
// page. What the numbers alone withhold beside a small count, since its column
// adds up, stands on the page unless the answer was told to withhold it.
func (r *register) isShown(a *answer.Answer, t *answer.Table, row, col, count int, also map[int]answer.How) bool {
	if t.Rows[row][col] != nil {
		return true
	}
	if r.few(count) || also[count] != answer.Told || isCurve(*t) || t.Name == "steps" {
		return false
	}
	_, own := a.Masked[answer.HiddenCell{Table: t.Name, Row: row, Column: t.Columns[col].Name}]
	return !own
}

// stands notes a place where an entry stands.
func (e *entry) stands(shown bool, loss int, how answer.How) {
	e.Printed = true
	e.Loss += loss
	e.Shown = e.Shown || shown
	e.Coarse = e.Coarse || !shown && how == answer.Rounded
}

func tableOf(a *answer.Answer, name string) *answer.Table {
	for i := range a.Tables {
		if a.Tables[i].Name == name {
			return &a.Tables[i]
		}
	}
	return nil
}

// sums finds what adds up within the tables of an answer: cells of a column
// whose rows differ in one label, and share no row of the log.
func (r *register) sums(k int, a *answer.Answer) {
	for _, t := range a.Tables {
		for label, c := range t.Columns {
			if c.Type == answer.TypeText {
				r.sumsOver(k, t, label)
			}
		}
	}
}

func (r *register) sumsOver(k int, t answer.Table, label int) {
	for _, c := range t.Columns {
		if c.Type != answer.TypeCount {
			continue
		}
		parts, by := map[string][]int{}, map[string][]string{}
		var order []string
		for row, values := range t.Rows {
			if values[label] == nil || isTotal(t, values) && values[label] == "all" {
				continue
			}
			at, ok := r.place[placeOf{k, t.Name, row, c.Name}]
			if !ok {
				continue
			}
			i := at.cell
			var others []string
			for j, v := range values {
				if s, ok := v.(string); ok && j != label && t.Columns[j].Type == answer.TypeText {
					others = append(others, t.Columns[j].Name+"="+s)
				}
			}
			key := strings.Join(others, "\x00")
			if parts[key] == nil {
				order = append(order, key)
				by[key] = at.by
			}
			if !slices.Contains(parts[key], i) {
				parts[key] = append(parts[key], i)
			}
		}
		for _, key := range order {
			r.union(parts[key], by[key])
		}
	}
}

// union notes that cells without a row in common add up to those of all.
func (r *register) union(parts []int, by []string) {
	if len(parts) < 2 {
		return
	}
	if slices.ContainsFunc(parts, func(i int) bool { return r.cells[i].rows == nil }) {
		return
	}
	first := r.cells[parts[0]]
	all := slices.Clone(first.rows)
	n := first.Count
	for _, i := range parts[1:] {
		e := r.cells[i]
		if e.of != first.of {
			return
		}
		for w := range all {
			all[w] |= e.rows[w]
		}
		n += e.Count
	}
	if all.Len() != n {
		return // some row is in two of them
	}
	r.relate(r.cell(first.of, all, by), parts)
}

func (r *register) relate(whole int, parts []int) {
	parts = slices.Clone(parts)
	sort.Ints(parts)
	var b strings.Builder
	for _, i := range append([]int{whole}, parts...) {
		b.Write(binary.LittleEndian.AppendUint32(nil, uint32(i)))
	}
	if !r.related[b.String()] && !slices.Contains(parts, whole) {
		r.related[b.String()] = true
		r.sum = append(r.sum, withhold.Relation{Whole: whole, Parts: parts})
	}
}

// differences relates cells of which one is, by what is asked, a part of the
// other: with the rest where that is counted too, or is few.
//
// Of lives watched at visits a reader may take those of a narrower question for
// a part, though lives are among them of which no visit could tell. Where both
// are the number of an answer, the difference is then protected as the rest
// that it would be.
func (r *register) differences() {
	order := make([]int, len(r.cells))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return -cmp.Compare(r.cells[a].Count, r.cells[b].Count) })
	for n, i := range order {
		for _, k := range order[n+1:] {
			whole, part := &r.cells[i], &r.cells[k]
			if whole.of != part.of || whole.rows == nil || part.Count == 0 || whole.Count == part.Count {
				continue
			}
			few := whole.Count-part.Count < r.below
			switch {
			case narrower(whole.by, part.by):
				if !part.rows.Within(whole.rows) {
					continue
				}
				rest := whole.rows.Less(part.rows)
				d, ok := r.at[rest.Key(whole.of)]
				if !ok && few {
					d, ok = r.cell(whole.of, rest, append([]string{"less"}, part.by[0]...)), true
				}
				if ok {
					r.relate(i, []int{k, d})
				}
			case few && whole.own && part.own && narrower(whole.asked, part.by):
				r.relate(i, []int{k, len(r.cells)})
				r.cells = append(r.cells, entry{of: "what would be the rest", by: [][]string{{"-"}}, Cell: withhold.Cell{Count: whole.Count - part.Count, Loss: 1}})
			}
		}
	}
}

// narrower says whether one of the ways in which rows are said is by all the
// columns of a way in which others are, and so can be known to be of them.
func narrower(whole, part [][]string) bool {
	for _, w := range whole {
		for _, p := range part {
			if !slices.ContainsFunc(w, func(c string) bool { return !slices.Contains(p, c) }) {
				return true
			}
		}
	}
	return false
}

// settle withholds what has to be, and adds it to also.
func (r *register) settle(answers []answer.Answer, also answer.Withheld) bool {
	s := withhold.System{Below: r.below, Relations: r.sum}
	for _, e := range r.cells {
		s.Cells = append(s.Cells, e.Cell)
	}
	s.Protect()
	news := false
	for i, c := range s.Cells {
		if c.Shown || r.few(c.Count) {
			continue
		}
		for _, k := range r.cells[i].answers {
			how := answer.Altogether
			if c.Coarse {
				how = answer.Rounded
			}
			if r.cells[i].Shown || c.Coarse != r.cells[i].Coarse {
				news = also.Add(answers[k].ID, c.Count, how) || news
			}
		}
	}
	return news
}

func (r *register) few(n int) bool { return n > 0 && n < r.below }
