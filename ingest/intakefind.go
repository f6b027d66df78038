package ingest

import (
	"slices"
	"strings"
)

// foundTable is a table that the proposal sees on a sheet.
type foundTable struct {
	file, sheet string // sheet: its name; of a CSV file the file's without ending
	raw         *rawSheet
	start, end  int // header rows, as indices into raw.rows
	headers     []string
	from, to    int // columns
	rows        []rawRow
	ends        string
	skip        []string
	sideBySide  bool
	titles      string // texts above the header, with the names of sheet and file
}

// headerWeight says how much a text looks like the header of a log's column.
func headerWeight(text, lowest string) float64 {
	best := 0.0
	for _, m := range columnMatches(text, lowest) {
		best = max(best, m.score)
	}
	if code, _ := regionOf(text); code != "" {
		best = max(best, 0.8)
	}
	if _, _, ok := girthHeader(text); ok {
		best = max(best, 0.9)
	}
	return best
}

type headerScore struct {
	sum         float64
	hits, count int
}

func scoreHeader(texts []string, from, to int, lowest rawRow) headerScore {
	var s headerScore
	for c := from; c <= to && c < len(texts); c++ {
		t := texts[c]
		if t == "" || strings.HasPrefix(t, "column ") {
			continue
		}
		s.count++
		if len([]rune(t)) > 60 {
			continue
		}
		if w := headerWeight(t, strings.TrimSpace(lowest.cell(c).text)); w >= 0.6 {
			s.sum += w
			s.hits++
		}
	}
	return s
}

// isHeader is a row in which at least two cells, and two in five of those
// filled, name columns of a log.
func (s headerScore) isHeader() bool { return s.hits >= 2 && 5*s.hits >= 2*s.count }

// dataLike says how much of a row is figures and dates, as headers are not.
func dataLike(row rawRow) float64 {
	filled, data := 0, 0
	for _, c := range row.all() {
		t := strings.TrimSpace(c.text)
		if t == "" {
			continue
		}
		filled++
		_, err := readDate(t)
		if c.kind != cellText || plainNumber.MatchString(t) || err == nil {
			data++
		}
	}
	if filled == 0 {
		return 0
	}
	return float64(data) / float64(filled)
}

// spreads says whether a row has cells merged over some, not all, columns.
func spreads(raw *rawSheet, n, width int) bool {
	return slices.ContainsFunc(raw.merges, func(m merged) bool {
		return m.row1 <= n && m.row2 >= n && m.col2 > m.col1 && m.col2-m.col1+1 < width-1
	})
}

// unitsRow says whether a row holds nothing but units and forms, as some
// write below the headings: at least two units.
func unitsRow(row rawRow) bool {
	units := 0
	for _, c := range row.all() {
		t := strings.ToLower(strings.TrimSpace(c.text))
		if t == "" {
			continue
		}
		if u, ok := unitName(t); ok && u != "" {
			units++
		} else if !unitForms[t] {
			return false
		}
	}
	return units >= 2
}

// unitForms are what stands in a row of units for columns without one.
var unitForms = map[string]bool{"-": true, "text": true, "code": true, "no": true, "l/r": true, "r/l": true, "y/n": true, "date": true, "dd/mm/yy": true, "dd/mm/yyyy": true, "mm/dd/yy": true, "mm/dd/yyyy": true, "yyyy-mm-dd": true, "dd.mm.yyyy": true, "0-10": true, "0 - 10": true, "/10": true, "ply": true, "years": true}

func distinctCells(row rawRow) int {
	seen := map[string]bool{}
	for _, c := range row.all() {
		if t := strings.TrimSpace(c.text); t != "" {
			seen[t] = true
		}
	}
	return len(seen)
}

// findTables finds the tables of a sheet: one under another, and side by
// side.
func findTables(file, sheet string, raw *rawSheet) []*foundTable {
	rows := raw.rows
	type head struct {
		start, height int
		score         headerScore
	}
	all := [2]int{-1, -1}
	at := func(i int) (head, bool) {
		if i >= len(rows) || blankRow(rows[i]) || distinctCells(rows[i]) < 2 {
			return head{}, false
		}
		texts, _ := headerTexts(raw, i, 0, all)
		width := len(texts)
		best := head{i, 0, scoreHeader(texts, 0, width-1, rows[i])}
		ok := best.score.isHeader() && dataLike(rows[i]) < 0.4
		if ok && i+1 < len(rows) && rows[i+1].n == rows[i].n+1 && unitsRow(rows[i+1]) {
			return head{i, 1, best.score}, true
		}
		if i+1 < len(rows) && rows[i+1].n == rows[i].n+1 {
			below, _ := headerTexts(raw, i+1, 0, all)
			under := scoreHeader(below, 0, width-1, rows[i+1])
			merges := spreads(raw, rows[i].n, width)
			if (merges || under.isHeader()) && dataLike(rows[i]) < 0.3 && (merges || under.isHeader() && dataLike(rows[i+1]) < 0.3 && best.score.hits < under.hits+1) {
				texts, _ := headerTexts(raw, i, 1, all)
				if both := scoreHeader(texts, 0, width-1, rows[i+1]); both.isHeader() && (both.sum > best.score.sum+0.5 || merges && both.hits >= under.hits && both.sum >= best.score.sum) {
					best, ok = head{i, 1, both}, true
				}
			}
		}
		return best, ok
	}
	var heads []head
	for i := 0; i < len(rows) && i < 3000; i++ {
		h, ok := at(i)
		if !ok {
			continue
		}
		if h.height == 0 {
			if next, ok := at(i + 1); ok && next.score.sum > h.score.sum {
				continue
			}
		}
		if len(heads) > 0 {
			first := heads[0]
			a, _ := headerTexts(raw, first.start, first.height, all)
			b, _ := headerTexts(raw, i, h.height, all)
			bottom, _ := headerTexts(raw, i+h.height, 0, all)
			if sameTexts(a, bottom) || sameTexts(a, b) || h.score.hits < 3 || 5*h.score.hits < 3*h.score.count {
				continue
			}
		}
		heads = append(heads, h)
		i += h.height
	}
	var out []*foundTable
	for k, h := range heads {
		last := len(rows)
		if k+1 < len(heads) {
			last = heads[k+1].start
		}
		texts, end := headerTexts(raw, h.start, h.height, all)
		for _, seg := range segments(raw, texts, end, last) {
			headers, _ := headerTexts(raw, h.start, h.height, [2]int{seg.from, seg.to})
			t := &foundTable{file: file, sheet: sheet, raw: raw, start: h.start, end: end, headers: headers, from: seg.from, to: seg.to, sideBySide: seg.split}
			t.takeRows(last, k+1 < len(heads))
			t.titles = titleText(rows, h.start)
			if len(t.rows) > 0 {
				out = append(out, t)
			}
		}
	}
	return out
}

func titleText(rows []rawRow, start int) string {
	var titles []string
	for i := max(0, start-4); i < start; i++ {
		if distinctCells(rows[i]) > 2 {
			titles = nil // rows of the table above
			continue
		}
		for _, c := range rows[i].all() {
			if t := strings.TrimSpace(c.text); t != "" {
				titles = append(titles, t)
			}
		}
	}
	return strings.Join(titles, " ")
}

func sameTexts(a, b []string) bool {
	same, filled := 0, 0
	for c := range b {
		if b[c] == "" {
			continue
		}
		filled++
		if c < len(a) && headerKey(a[c]) == headerKey(b[c]) {
			same++
		}
	}
	return filled > 0 && 5*same >= 4*filled
}

type segment struct {
	from, to int
	split    bool
}

// segments parts a header at empty columns where both sides look like tables
// of their own, and leaves off what stands at the side.
func segments(raw *rawSheet, texts []string, end, last int) []segment {
	empty := func(c int) bool {
		if texts[c] != "" && !strings.HasPrefix(texts[c], "column ") {
			return false
		}
		filled := 0
		for _, r := range raw.rows[end+1 : last] {
			if strings.TrimSpace(r.cell(c).text) != "" {
				filled++
			}
		}
		return filled == 0
	}
	var runs []segment
	from := -1
	for c := 0; c <= len(texts); c++ {
		gap := c == len(texts) || empty(c)
		if !gap && from < 0 {
			from = c
		}
		if gap && from >= 0 {
			runs = append(runs, segment{from: from, to: c - 1})
			from = -1
		}
	}
	var out []segment
	for _, r := range runs {
		s := scoreHeader(texts, r.from, r.to, raw.rows[end])
		named := false
		for c := r.from; c <= r.to; c++ {
			for _, m := range columnMatches(texts[c], strings.TrimSpace(raw.rows[end].cell(c).text)) {
				if m.score >= 0.9 && (m.field == "person" || m.field == "socket" || m.field == "limb") {
					named = true
				}
			}
		}
		switch {
		case len(out) > 0 && named && s.isHeader():
			out = append(out, r)
		case len(out) == 0:
			out = append(out, r)
		case s.isHeader() || s.hits > 0 && s.hits == s.count:
			out[len(out)-1].to = r.to // an empty column inside a table
		}
	}
	for i := range out {
		out[i].split = len(out) > 1
	}
	return out
}

// takeRows collects the rows of data and finds out how they end.
func (t *foundTable) takeRows(last int, more bool) {
	filledIn := func(r rawRow) int {
		k := 0
		for c := t.from; c <= t.to; c++ {
			if strings.TrimSpace(r.cell(c).text) != "" {
				k++
			}
		}
		return k
	}
	first := func(r rawRow) string {
		for c := t.from; c <= t.to; c++ {
			if s := strings.TrimSpace(r.cell(c).text); s != "" {
				return s
			}
		}
		return ""
	}
	var rows []rawRow
	gapAt := -1 // rows before the first blank row
	prev := t.raw.rows[t.end].n
	for _, r := range t.raw.rows[t.end+1 : last] {
		k := filledIn(r)
		if (k == 0 || r.n > prev+1) && gapAt < 0 && len(rows) > 0 {
			gapAt = len(rows)
		}
		prev = r.n
		if k > 0 {
			rows = append(rows, r)
		}
	}
	body, total := rows[:0:0], -1
	for i, r := range rows {
		text := strings.ToLower(first(r))
		word := ""
		for _, w := range totalWords {
			if rest, ok := strings.CutPrefix(text, strings.ToLower(w)); ok && (rest == "" || !isWordRune(rest)) {
				word = w
			}
		}
		if word != "" {
			if total < 0 {
				total = i
			}
			if !slices.Contains(t.skip, word) {
				t.skip = append(t.skip, word)
			}
			continue
		}
		body = append(body, r)
	}
	// After a blank row, rows with hardly a cell filled are notes.
	if gapAt > 0 && gapAt < len(rows) {
		notes := true
		for _, r := range rows[gapAt:] {
			text := strings.ToLower(first(r))
			sum := slices.ContainsFunc(totalWords, func(w string) bool { return strings.HasPrefix(text, strings.ToLower(w)) })
			if filledIn(r) > 2 && !sum {
				notes = false
			}
		}
		if notes || more {
			t.ends = blankRowEnds
			body = body[:0:0]
			for i, r := range rows[:gapAt] {
				if total >= 0 && i >= total && slices.ContainsFunc(t.skip, func(w string) bool { return strings.HasPrefix(strings.ToLower(first(r)), strings.ToLower(w)) }) {
					continue
				}
				body = append(body, r)
			}
		}
	}
	if more && t.ends == "" {
		t.ends = blankRowEnds
	}
	if t.ends == "" && total >= 0 && total >= len(body) && len(t.skip) == 1 { // nothing but notes below
		t.ends, t.skip = t.skip[0], nil
	}
	for _, r := range body { // the header again, as on printed pages
		same, filled := 0, 0
		for c := t.from; c <= t.to; c++ {
			if s := headerKey(r.cell(c).text); s != "" {
				filled++
				if s == headerKey(t.raw.rows[t.end].cell(c).text) {
					same++
				}
			}
		}
		if same < 2 || same < filled {
			t.rows = append(t.rows, r)
		}
	}
}
