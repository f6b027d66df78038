package numbers

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"

	"plybook/analysis/withhold"
	"plybook/reports/answer"
)

// Before is what an earlier edition of a report has shown.
type Before struct {
	File    string // as read
	Bytes   []byte
	answers map[string]beforeAnswer // by id and method
}

// beforeAnswer is an answer of numbers.json, as far as its counts go.
type beforeAnswer struct {
	ID, Method   string
	Rows, Events *int
	Tables       map[string][]map[string]any
}

// ReadBefore reads the numbers.json of an earlier edition of a report that
// hides counts below a number, and whose questions are asks (id and method).
// What it says of a file that does not serve names the file and what was
// expected.
func ReadBefore(path string, below int, asks [][2]string) (*Before, error) {
	raw, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("there is no file %s: expected the numbers.json of the earlier edition's report", path)
	}
	if err != nil {
		return nil, fmt.Errorf("the earlier edition: %w", err)
	}
	var in struct {
		Schema    *int
		HideBelow *int `json:"hide_below"`
		Answers   []beforeAnswer
	}
	if err := json.Unmarshal(raw, &in); err != nil || in.Schema == nil {
		return nil, fmt.Errorf("%s is no numbers.json: expected that of the earlier edition's report", path)
	}
	if *in.Schema != Schema {
		return nil, fmt.Errorf("%s has numbers of layout %d: expected layout %d", path, *in.Schema, Schema)
	}
	if in.HideBelow == nil {
		return nil, fmt.Errorf("%s does not say below which number it hides counts: expected a numbers.json with hide_below; run the earlier edition again with this release", path)
	}
	if *in.HideBelow != below {
		return nil, fmt.Errorf("%s hides counts below %d: expected an edition that hides them below %d, as this one does", path, *in.HideBelow, below)
	}
	b := &Before{File: path, Bytes: raw, answers: map[string]beforeAnswer{}}
	for _, a := range in.Answers {
		b.answers[a.ID+"\x00"+a.Method] = a
	}
	shared := false
	for _, ask := range asks {
		_, ok := b.answers[ask[0]+"\x00"+ask[1]]
		shared = shared || ok
	}
	if !shared {
		return nil, fmt.Errorf("%s has none of this notebook's questions (by id and method): expected the earlier edition of the same report", path)
	}
	return b, nil
}

// edition relates the counts of a report with those that an earlier edition has
// shown in the same place, or told by sums: a difference that is few is protected
// as a count of its own. It reports whether something was withheld at once, as
// counts of curves are, which stand in no sum.
func (r *register) edition(raw []answer.Answer, b *Before, sums []withhold.Relation, also answer.Withheld) bool {
	then := map[int]int{} // by entry
	told := map[[2]int]bool{}
	news := false
	for k := range raw {
		old, ok := b.answers[raw[k].ID+"\x00"+raw[k].Method]
		if !ok || raw[k].Error != nil {
			continue
		}
		old.shown(&raw[k], func(table string, row int, column string, now, was int) {
			p, ok := r.place[placeOf{k, table, row, column}]
			switch {
			case !ok:
				if r.few(max(now-was, was-now)) && now >= r.below {
					news = also.Add(raw[k].ID, now, answer.Altogether) || news
				}
			case !told[[2]int{p.cell, was}]:
				// The same rows now may have been others then, in another place.
				told[[2]int{p.cell, was}] = true
				r.since(p.cell, was)
				if _, have := then[p.cell]; !have {
					then[p.cell] = was
				}
			}
		})
	}
	r.follows(then, sums)
	for i := range r.cells {
		if was, ok := then[i]; ok && !told[[2]int{i, was}] {
			r.since(i, was)
		}
	}
	r.unseen(then, sums)
	return news
}

// shown goes through the counts of an answer that stand in the earlier one too.
func (old beforeAnswer) shown(a *answer.Answer, each func(table string, row int, column string, now, was int)) {
	if old.Rows != nil {
		each("", -1, "rows", a.Rows, *old.Rows)
	}
	if old.Events != nil && a.HasEvents {
		each("", -1, "events", a.Events, *old.Events)
	}
	for _, t := range a.Tables {
		then := map[string][]map[string]any{}
		for _, row := range old.Tables[t.Name] {
			key := wordsOf(t, func(j int) any { return row[t.Columns[j].Name] })
			then[key] = append(then[key], row)
		}
		for i, row := range t.Rows {
			key := wordsOf(t, func(j int) any { return row[j] })
			if len(then[key]) == 0 {
				continue
			}
			was := then[key][0]
			then[key] = then[key][1:]
			for j, c := range t.Columns {
				n, ok := a.CountAt(&t, i, j)
				x, shown := was[c.Name].(float64)
				if ok && shown && n > 0 {
					each(t.Name, i, c.Name, n, int(x))
				}
			}
		}
	}
}

// follows adds the counts of the earlier edition that are what its sums leave:
// what adds up now did so then.
func (r *register) follows(then map[int]int, sums []withhold.Relation) {
	for again := true; again; {
		again = false
		for _, s := range sums {
			left, open := 0, -1
			for n, i := range append([]int{s.Whole}, s.Parts...) {
				was, ok := then[i]
				switch {
				case !ok && open >= 0:
					open = -2
				case !ok && open == -1:
					open = i
				case n == 0:
					left += was
				default:
					left -= was
				}
				if open == -2 {
					break
				}
			}
			if open < 0 {
				continue
			}
			if open == s.Whole {
				left = -left
			}
			if left >= 0 {
				then[open], again = left, true
			}
		}
	}
}

// since relates a count with the one known from an earlier edition.
func (r *register) since(i, was int) {
	now := r.cells[i].Count
	if now >= was {
		// A reader may take it that what is counted only grows.
		r.cells[i].Low = max(r.cells[i].Low, was)
	}
	d := max(now-was, was-now)
	if !r.few(d) || was == 0 { // all that is new is the count itself
		return
	}
	n := len(r.cells)
	r.cells = append(r.cells,
		entry{of: "known from before", by: [][]string{{"-"}}, Cell: withhold.Cell{Count: was, Low: was, High: was, Loss: 1}},
		entry{of: "more or fewer than before", by: [][]string{{"-"}}, Cell: withhold.Cell{Count: d, Loss: 1}})
	if now > was {
		r.relate(i, []int{n, n + 1})
	} else {
		r.relate(n, []int{i, n + 1})
	}
}

// unseen relates the parts of a sum that the earlier edition did not tell: how
// many they were together followed from the others, and follows again.
func (r *register) unseen(then map[int]int, sums []withhold.Relation) {
	for _, s := range sums {
		was, ok := then[s.Whole]
		if !ok {
			continue
		}
		now := 0
		var open []int
		for _, i := range s.Parts {
			if n, ok := then[i]; ok {
				was -= n
				continue
			}
			now += r.cells[i].Count
			open = append(open, i)
		}
		if len(open) < 2 || len(open) == len(s.Parts) || was <= 0 || !r.few(max(now-was, was-now)) {
			continue
		}
		i := len(r.cells)
		r.cells = append(r.cells, entry{of: "not told before", by: [][]string{{"-"}}, Cell: withhold.Cell{Count: now, Loss: 1}})
		r.relate(i, open)
		r.since(i, was)
	}
}

// wordsOf is what a row of a table is about: its words, and in a curve its
// time.
func wordsOf(t answer.Table, value func(column int) any) string {
	var b strings.Builder
	for j, c := range t.Columns {
		switch {
		case c.Type == answer.TypeText:
			s, _ := value(j).(string)
			b.WriteString(s)
		case c.Name == "time" || c.Name == "station_mm":
			b.WriteString(strconv.FormatFloat(numberOf(value(j)), 'g', 9, 64))
		}
		b.WriteByte(0)
	}
	return b.String()
}
