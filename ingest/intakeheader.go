package ingest

import (
	"fmt"
	"strings"
)

// findHeader looks for the header in the rows that the intake names, else
// for the first rows below the top that hold all columns named, else for
// those that hold most. It is false where no row holds half of them.
func (b *block) findHeader() bool {
	names, _ := b.spec.wanted()
	height := b.spec.HeaderEnd - b.spec.Header
	best, bestCount := -1, 0
	try := func(first int) bool {
		headers, last := headerTexts(&b.raw, first, height, b.spec.Columns)
		columns := headerColumns(headers)
		count := 0
		for _, name := range names {
			if _, ok := columns[headerKey(name)]; ok {
				count++
			}
		}
		if count > bestCount {
			best, bestCount = first, count
			b.start, b.header, b.headers, b.columns = first, last, headers, columns
		}
		return count == len(names)
	}
	for i, row := range b.raw.rows {
		if row.n == b.spec.Header && try(i) {
			return true
		}
	}
	for i := range b.raw.rows {
		if i > 5000 || try(i) {
			break
		}
	}
	return best >= 0 && 2*bestCount >= len(names)
}

// headerTexts joins the header of one or more rows into a text for each
// column: an upper text that is merged over several columns, or stands alone
// above them, belongs to each. Columns with values but no header are called
// after their letter, and a text that stands twice is numbered.
func headerTexts(raw *rawSheet, first, height int, columns [2]int) (texts []string, last int) {
	rows := raw.rows
	last = first
	for last+1 < len(rows) && rows[last+1].n <= rows[first].n+height {
		last++
	}
	width := 0
	for _, r := range rows[first:] {
		width = max(width, r.width())
	}
	from, to := 0, width-1
	if columns[0] >= 0 {
		from, to = columns[0], min(columns[1], width-1)
	}
	texts = make([]string, width)
	clean := func(i, col int) string { return strings.Join(strings.Fields(rows[i].cell(col).text), " ") }
	for i := first; i <= last; i++ {
		own := map[int]string{} // texts spread over columns
		spread := false
		for _, m := range raw.merges {
			if m.row1 <= rows[i].n && m.row2 >= rows[i].n && m.col2 > m.col1 {
				spread = true
				for c := m.col1; c <= min(m.col2, width-1); c++ {
					own[c] = clean(i, m.col1)
				}
			}
		}
		carry := ""
		units := i == last && i > first && unitsRow(rows[i])
		for c := from; c <= to; c++ {
			text := clean(i, c)
			if units && text != "" {
				text = "(" + text + ")"
			}
			if text == "" {
				text = own[c]
			}
			if text != "" {
				carry = text
			}
			if text == "" && i < last && !spread && clean(last, c) != "" {
				text = carry
			}
			if text == "" || texts[c] == text || strings.HasSuffix(texts[c], " "+text) {
				continue
			}
			texts[c] = strings.TrimSpace(texts[c] + " " + text)
		}
	}
	seen := map[string]int{}
	for c := from; c <= to; c++ {
		if texts[c] == "" {
			for _, r := range rows[last+1:] {
				if strings.TrimSpace(r.cell(c).text) != "" {
					texts[c] = "column " + columnName(c)
					break
				}
			}
			continue
		}
		key := headerKey(texts[c])
		if seen[key]++; seen[key] > 1 {
			texts[c] = fmt.Sprintf("%s (%d)", texts[c], seen[key])
		}
	}
	return texts, last
}

func headerColumns(headers []string) map[string]int {
	out := map[string]int{}
	for c, h := range headers {
		if _, ok := out[headerKey(h)]; h != "" && !ok {
			out[headerKey(h)] = c
		}
	}
	for c, h := range headers { // a column can be named by its letter too
		key := headerKey("column " + columnName(c))
		if _, ok := out[key]; h != "" && !ok {
			out[key] = c
		}
	}
	return out
}

// repeatsHeader says whether a row is the header again, as on printed pages.
func (b *block) repeatsHeader(row rawRow) bool {
	same := 0
	for _, c := range b.mapped {
		text := headerKey(row.cell(c).text)
		if text == "" {
			continue
		}
		if text != headerKey(b.raw.rows[b.header].cell(c).text) {
			return false
		}
		same++
	}
	return same >= 2 || same == 1 && len(b.mapped) == 1
}

// headerUnit is the unit that a header names for a quantity stored in to, in
// brackets or as its last word.
func headerUnit(header, to string) string {
	fits := func(text string) string {
		u, ok := unitName(text)
		if !ok || u == "" {
			return ""
		}
		if _, ok := toUnit(1, u, to); !ok {
			return ""
		}
		return u
	}
	for i, r := range header {
		if r != '(' && r != '[' {
			continue
		}
		inside, _, ok := strings.Cut(header[i+1:], map[rune]string{'(': ")", '[': "]"}[r])
		if ok {
			if u := fits(inside); u != "" {
				return u
			}
		}
	}
	words := strings.Fields(header)
	if len(words) < 2 {
		return ""
	}
	if last := strings.Trim(words[len(words)-1], ",;:"); len(last) >= 2 || last == `"` {
		return fits(last)
	}
	return ""
}
