package main

import (
	"fmt"
	"os"
	"slices"
	"sort"
	"strings"
	"testing"

	"plybook/reports/notebook"
)

// countColumns are the columns of the numbers that count rows or persons, as
// page numbers.md names them.
var countColumns = strings.Fields(`rows events count sockets persons limbs fittings first later number_not_known preparatory check over open
	wrong_order not_recorded missing excluded observed competing clusters numerator denominator before since cases controls`)

// reader fills in what an attacker knows from the files of a report.
type reader struct {
	t      *testing.T
	k      *attacker
	book   *notebook.Notebook
	seen   *numbersFile // of the report
	true   *numbersFile // of a run that hides nothing
	crowds map[string]crowd
	paths  map[string]path // of unknowns
	shares []share
}

// path is what an unknown counts.
type path struct {
	crowd  crowd
	labels string // further conditions
	what   string
}

func newReader(t *testing.T, book string, folder, trueFolder string, below int) *reader {
	t.Helper()
	src, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	nb, err := notebook.Parse(book, src)
	if err != nil {
		t.Fatal(err)
	}
	r := &reader{t: t, k: &attacker{below: below, byName: map[string]int{}}, book: nb, seen: readNumbers(t, folder), true: readNumbers(t, trueFolder), crowds: map[string]crowd{}, paths: map[string]path{}}
	for _, a := range nb.Asks() {
		r.crowds[a.ID] = crowdOf(a)
	}
	r.count()
	r.bound(folder)
	r.worked()
	return r
}

// count notes the counts of the numbers and what adds up in them.
func (r *reader) count() {
	for _, a := range r.book.Asks() {
		r.answer(a)
	}
	r.nested()
}

// add notes a count that stands in an answer: v nil is withheld.
func (r *reader) add(id string, p path, v any, truth int) int {
	name := fmt.Sprintf("%s; %s; %s", p.crowd, p.labels, p.what)
	if i, ok := r.k.byName[name]; ok && r.k.unknowns[i].truth != truth {
		name += "; " + id // the same words for other rows
	}
	i := r.k.of(name, truth)
	r.paths[name] = p
	u := &r.k.unknowns[i]
	if v != nil {
		u.tell("in the numbers")
	}
	u.known = u.known || truth == 0
	u.places[id] = true
	return i
}

func labelsOf(row map[string]any) string {
	var out []string
	for n, v := range row {
		if s, ok := v.(string); ok && n != "reason" && n != "limits" && n != "signal" {
			out = append(out, n+"="+s)
		}
	}
	sort.Strings(out)
	return strings.Join(out, " ")
}

func (r *reader) answer(ask *notebook.Ask) {
	got, truth := r.seen.answer(r.t, ask.ID), r.true.answer(r.t, ask.ID)
	if got.Error != nil || truth.Error != nil {
		return
	}
	c := r.crowds[ask.ID]
	pointer := func(p *int) any {
		if p == nil {
			return nil
		}
		return *p
	}
	totals := map[string]int{}
	if truth.Rows != nil && (got.Rows == nil || *got.Rows == *truth.Rows) {
		totals["rows"] = r.add(ask.ID, path{c, "", "rows"}, pointer(got.Rows), *truth.Rows)
	}
	event := ask.Src[max(0, strings.Index(ask.Src, "event")):]
	if truth.Events != nil && (got.Events == nil || *got.Events == *truth.Events) {
		totals["events"] = r.add(ask.ID, path{c, "", "events " + strings.SplitN(event, "\n", 2)[0]}, pointer(got.Events), *truth.Events)
	}
	for name, rows := range got.Tables {
		if len(rows) > 0 && rows[0]["at_risk"] == nil {
			if _, curve := rows[0]["at_risk"]; !curve {
				r.table(ask, name, rows, truth.Tables[name], totals)
			}
		}
	}
}

// table reads the counts of a table and finds what adds up in it.
func (r *reader) table(ask *notebook.Ask, name string, rows, truth []map[string]any, totals map[string]int) {
	c := r.crowds[ask.ID]
	trueRow := map[string]map[string]any{}
	for _, t := range truth {
		trueRow[labelsOf(t)] = t
	}
	cell := map[string]int{} // labels and column
	used := map[string]map[string]any{}
	var order []string
	for _, row := range rows {
		l := labelsOf(row)
		t := trueRow[l]
		if t == nil {
			continue
		}
		used[l] = row
		order = append(order, l)
		for _, col := range countColumns {
			n, ok := t[col].(float64)
			if v, have := row[col]; ok && have && n == float64(int(n)) && (v == nil || v == n) {
				cell[l+"\x00"+col] = r.add(ask.ID, r.pathOf(ask, c, name, l, row, col), v, int(n))
			}
		}
	}
	sort.Strings(order)
	r.alongRows(cell, order)
	r.ratios(cell, order, used, trueRow, totals)
	r.means(cell, order, used, trueRow)
	for _, col := range countColumns {
		r.downColumns(ask.ID+" "+name, cell, order, used, trueRow, col, totals)
	}
	if name == "steps" {
		for i := 1; i < len(rows); i++ {
			l, before := labelsOf(rows[i]), labelsOf(rows[i-1])
			a, ok1 := cell[before+"\x00rows"]
			b, ok2 := cell[l+"\x00rows"]
			x, ok3 := cell[l+"\x00excluded"]
			if ok1 && ok2 && ok3 {
				r.k.sum(a, b, x)
			}
		}
	}
}

// pathOf says what a cell counts, so that cells of other answers are known to
// count the same.
func (r *reader) pathOf(ask *notebook.Ask, c crowd, table, l string, row map[string]any, col string) path {
	group, _ := row["group"].(string)
	category, _ := row["category"].(string)
	var cond []string
	by := ask.By
	if group != "" && group != "all" && by != "" {
		cond = append(cond, by+"="+group)
	}
	subject, _ := row["column"].(string)
	switch {
	case subject != "" && category != "":
		cond = append(cond, subject+"="+category)
	case category != "" && by != "":
		cond = append(cond, by+"="+category)
	}
	sort.Strings(cond)
	what := map[string]string{"count": "rows", "sockets": "rows"}[col]
	if what == "" {
		what = col
	}
	switch {
	case ask.Method == "summary" && (col == "rows" || col == "missing" || col == "count" && category == ""):
		if group != "" && group != "all" {
			cond = []string{by + "=" + group}
		} else {
			cond = nil
		}
		if what = "rows"; col != "rows" {
			what = col + " " + subject
		}
	case ask.Method == "summary" || ask.Method == "pareto":
	case slices.Contains([]string{"rates", "follow_up", "shares", "fit"}, table) && (col == "rows" || col == "events"):
		if col == "events" {
			event := ask.Src[max(0, strings.Index(ask.Src, "event")):]
			what = "events " + strings.SplitN(event, "\n", 2)[0]
		}
	case table == "steps" && col == "rows":
		return path{c, table + " " + l, col}
	default:
		return path{c, ask.ID + " " + table + " " + l, col}
	}
	return path{c, strings.Join(cond, " "), what}
}

// alongRows tries which columns are sums of others, in every row.
func (r *reader) alongRows(cell map[string]int, order []string) {
	var columns []string
	for _, col := range countColumns {
		if slices.ContainsFunc(order, func(l string) bool { _, ok := cell[l+"\x00"+col]; return ok }) {
			columns = append(columns, col)
		}
	}
	for _, whole := range columns {
		for size := 2; size <= min(5, len(columns)-1); size++ {
			choose(columns, size, func(parts []string) {
				var found []sumToNothing
				for _, l := range order {
					w, ok := cell[l+"\x00"+whole]
					if !ok {
						continue
					}
					left := r.k.unknowns[w].truth
					s := sumToNothing{map[int]int{w: 1}}
					for _, p := range parts {
						i, have := cell[l+"\x00"+p]
						if ok = ok && have && i != w; !ok {
							break
						}
						left -= r.k.unknowns[i].truth
						s.coef[i]--
					}
					if !ok {
						continue
					}
					if left != 0 {
						return
					}
					found = append(found, s)
				}
				r.k.sums = append(r.k.sums, found...)
			})
		}
	}
}

func choose(from []string, n int, do func([]string)) {
	if n == 0 {
		do(nil)
		return
	}
	for i := 0; i+n <= len(from); i++ {
		choose(from[i+1:], n-1, func(rest []string) { do(append([]string{from[i]}, rest...)) })
	}
}

// downColumns tries which cells of a column are sums of others that differ in
// one label, or make up a total of the answer or of their row.
func (r *reader) downColumns(where string, cell map[string]int, order []string, used, trueRow map[string]map[string]any, col string, totals map[string]int) {
	labels := map[string]bool{}
	for _, row := range used {
		for n, v := range row {
			if _, ok := v.(string); ok {
				labels[n] = true
			}
		}
	}
	for label := range labels {
		classes := map[string][]string{}
		for _, l := range order {
			row := used[l]
			if _, ok := cell[l+"\x00"+col]; !ok {
				continue
			}
			rest := map[string]any{}
			for n, v := range row {
				if n != label {
					rest[n] = v
				}
			}
			classes[labelsOf(rest)] = append(classes[labelsOf(rest)], l)
		}
		for _, class := range classes {
			whole, parts, missing := -1, []int{}, -1
			var sibling []int
			for _, l := range class {
				i := cell[l+"\x00"+col]
				if used[l][label] == "all" {
					whole = i
					continue
				}
				if !slices.Contains(parts, i) {
					parts = append(parts, i)
				}
				if m, ok := cell[l+"\x00missing"]; ok && col == "count" {
					missing = m
				}
				if m, ok := cell[l+"\x00rows"]; ok && col == "count" {
					sibling = append(sibling, m)
				}
			}
			if len(parts) < 2 {
				continue
			}
			r.wholeOf(where, class, cell, col, parts, used, trueRow)
			for _, t := range []int{whole, r.total(totals, "rows"), r.total(totals, "events")} {
				if t >= 0 && !slices.Contains(parts, t) {
					r.k.sum(t, parts...)
				}
			}
			if len(sibling) > 0 {
				if !r.k.sum(sibling[0], parts...) && missing >= 0 {
					r.k.sum(sibling[0], append(slices.Clone(parts), missing)...)
				}
			}
		}
	}
}

func (r *reader) total(totals map[string]int, name string) int {
	if i, ok := totals[name]; ok {
		return i
	}
	return -1
}

// nested relates counts of which the one is known to be part of the other, by
// a difference that stands nowhere.
func (r *reader) nested() {
	var names []string
	for n := range r.paths {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, a := range names {
		for _, b := range names {
			p, q := r.paths[a], r.paths[b]
			i, j := r.k.byName[a], r.k.byName[b]
			if i == j || p.what != q.what || p.labels != q.labels || strings.Contains(p.what, "missing") || !q.crowd.within(p.crowd) {
				continue
			}
			d := r.k.unknowns[i].truth - r.k.unknowns[j].truth
			if d <= 0 {
				continue
			}
			r.k.sum(i, j, r.k.of("those of ("+a+") not of ("+b+")", d))
		}
	}
}
