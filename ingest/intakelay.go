package ingest

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
)

// block is one table found on a sheet by an entry of the intake.
type block struct {
	spec     *IntakeSheet
	raw      rawSheet
	index    int // in Log.Sheets
	file     string
	start    int // index into raw.rows of the first and last header row
	header   int
	headers  []string
	columns  map[string]int // folded header -> column
	rows     []rawRow
	mapped   []int // columns that a field is read from
	views    []*view
	together bool // rows of measurements or findings repeat their visit
}

// view is a part of a block: the columns of one record of one table.
type view struct {
	*sheetData
	part    *IntakePart
	visit   int   // visits: its number from 0
	drivers []int // a row gives a record where one of these columns has a value
	always  bool  // no column drives it: every row gives a record
	made    []string
	inUse   bool
	has     map[string]bool // fields that the intake names
	ordered map[int]string  // field -> date order that the intake gives
}

// wants says which sheets of a file the intake reads.
func (it *Intake) wants(path string) func(sheet string) bool {
	if it == nil {
		return nil
	}
	return func(sheet string) bool { return len(it.entries(path, sheet)) > 0 }
}

func (it *Intake) entries(path, sheet string) []*IntakeSheet {
	var out []*IntakeSheet
	base := filepath.Base(path)
	if sheet == "" {
		sheet = strings.TrimSuffix(base, filepath.Ext(base))
	}
	for i := range it.Sheets {
		s := &it.Sheets[i]
		if s.File != "" && !matchName(s.File, base) {
			continue
		}
		if slices.ContainsFunc(s.Sheets, func(p string) bool { return matchName(p, sheet) }) {
			out = append(out, s)
		}
	}
	return out
}

// matchName compares a name with a pattern or a name, case aside.
func matchName(pattern, name string) bool {
	pattern, name = strings.ToLower(strings.TrimSpace(pattern)), strings.ToLower(strings.TrimSpace(name))
	ok, err := filepath.Match(strings.ReplaceAll(pattern, "/", "\x01"), strings.ReplaceAll(name, "/", "\x01"))
	return pattern == name || err == nil && ok
}

func isPattern(s string) bool { return strings.ContainsAny(s, "*?[") }

// answered refuses an intake with questions left.
func (it *Intake) answered() error {
	if it == nil || len(it.Questions) == 0 {
		return nil
	}
	f := faults{errs: slices.Clone(it.Questions)}
	return f.err()
}

type intakeReader struct {
	r       *reader
	it      *Intake
	blocks  []*block
	found   map[*IntakeSheet]bool // a sheet of the entry's name was there
	claimed map[int]bool          // sheets, by index, that an entry names
	names   []string              // of all sheets, to name the nearest
	canon   map[string]map[string]*record
	ctx     map[[2]int]*rowRecords // block number and row
	rows    map[[2]int]*rowState   // sheet index and row
	faults
}

func newIntakeReader(r *reader, it *Intake) *intakeReader {
	return &intakeReader{r: r, it: it, found: map[*IntakeSheet]bool{}, claimed: map[int]bool{}, canon: map[string]map[string]*record{}, ctx: map[[2]int]*rowRecords{}, rows: map[[2]int]*rowState{}}
}

// take keeps a sheet that an entry names.
func (n *intakeReader) take(index int, path string, raw rawSheet) bool {
	if n == nil {
		return false
	}
	name := raw.name
	if name == "" {
		name = strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	}
	n.names = append(n.names, name)
	entries := n.it.entries(path, raw.name)
	if raw.table != "" && isPlain(&raw) { // a pattern does not mean the plain layout, a name does
		entries = slices.DeleteFunc(entries, func(s *IntakeSheet) bool {
			return !slices.ContainsFunc(s.Sheets, func(p string) bool { return strings.EqualFold(strings.TrimSpace(p), strings.TrimSpace(name)) })
		})
	}
	for _, spec := range entries {
		n.found[spec] = true
		n.claimed[index] = true
		n.blocks = append(n.blocks, &block{spec: spec, raw: raw, index: index, file: path})
	}
	return len(entries) > 0
}

// wanted are all columns that an entry names, with their places.
func (s *IntakeSheet) wanted() (names []string, at []IntakePos) {
	for _, p := range s.Parts {
		for _, f := range p.Fields {
			if f.Column != "" {
				names, at = append(names, f.Column), append(at, f.pos)
			}
		}
		for _, a := range p.At {
			names, at = append(names, a.Column), append(at, a.pos)
		}
	}
	for _, o := range s.Own {
		names, at = append(names, o.Column), append(at, o.pos)
	}
	for i, c := range s.FillDown {
		pos := s.pos
		if i < len(s.fillPos) {
			pos = s.fillPos[i]
		}
		names, at = append(names, c), append(at, pos)
	}
	for i, c := range s.LeftOut {
		pos := s.pos
		if i < len(s.leftPos) {
			pos = s.leftPos[i]
		}
		names, at = append(names, c), append(at, pos)
	}
	return names, at
}

// lay finds header, columns and rows of every block.
func (n *intakeReader) lay() error {
	if n == nil {
		return nil
	}
	kept := n.blocks[:0]
	for _, b := range n.blocks {
		wild := slices.ContainsFunc(b.spec.Sheets, isPattern)
		if b.findHeader() || !wild && len(b.raw.rows) > 0 {
			kept = append(kept, b)
		}
	}
	n.blocks = kept
	for i := range n.r.log.Sheets { // no part of the log, whatever their name
		if n.claimed[i] && !slices.ContainsFunc(n.blocks, func(b *block) bool { return b.index == i }) {
			n.r.log.Sheets[i].Table = ""
		}
	}
	for i := range n.it.Sheets {
		spec := &n.it.Sheets[i]
		if !n.found[spec] {
			near := nearWord(strings.Trim(spec.Sheets[0], "*?"), n.names)
			hint := "the files have " + strings.Join(shortList(n.names, 12), ", ")
			if near != "" {
				hint = fmt.Sprintf("did you mean %q?", near)
			}
			n.fail(spec.sheetPos, near, "no sheet is called %s; %s", strings.Join(spec.Sheets, " or "), hint)
			continue
		}
		n.checkColumns(spec)
	}
	if err := n.err(); err != nil {
		return err
	}
	for _, b := range n.blocks {
		b.findRows(n.blocks)
		n.layViews(b)
	}
	for _, b := range n.blocks {
		b.report(n)
	}
	return nil
}

// checkColumns reports columns that no sheet of an entry has.
func (n *intakeReader) checkColumns(spec *IntakeSheet) {
	names, at := spec.wanted()
	var headers []string
	blocks := 0
	for _, b := range n.blocks {
		if b.spec == spec {
			blocks++
			headers = append(headers, b.headers...)
		}
	}
	if blocks == 0 {
		n.fail(spec.sheetPos, "", "none of the sheets called %s has a header with these columns", strings.Join(spec.Sheets, " or "))
		return
	}
	headers = slices.DeleteFunc(headers, func(h string) bool { return h == "" })
	for i, name := range names {
		if !slices.ContainsFunc(n.blocks, func(b *block) bool { _, ok := b.columns[headerKey(name)]; return b.spec == spec && ok }) {
			near := nearWord(name, headers)
			hint := "its header has " + strings.Join(shortList(headers, 12), ", ")
			if near != "" {
				hint = fmt.Sprintf("did you mean %q?", near)
			}
			n.fail(at[i], near, "no column of %s is headed %q; %s", strings.Join(spec.Sheets, ", "), name, hint)
		}
	}
}

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
		width = max(width, len(r.cells))
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
		for c := from; c <= to; c++ {
			text := clean(i, c)
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

// findRows collects the rows of data: below the header, to the end that the
// intake gives or the header of the next table in the same columns.
func (b *block) findRows(all []*block) {
	names, _ := b.spec.wanted()
	left := map[int]bool{}
	for _, name := range b.spec.LeftOut {
		if c, ok := b.columns[headerKey(name)]; ok {
			left[c] = true
		}
	}
	for _, name := range names {
		if c, ok := b.columns[headerKey(name)]; ok && !left[c] && !slices.Contains(b.mapped, c) {
			b.mapped = append(b.mapped, c)
		}
	}
	slices.Sort(b.mapped)
	stop := len(b.raw.rows)
	for _, o := range all {
		if o != b && o.index == b.index && o.start > b.header && o.spec.overlaps(b.spec) {
			stop = min(stop, o.start)
		}
	}
	prev := b.raw.rows[b.header].n
	for _, row := range b.raw.rows[b.header+1 : stop] {
		blank := true
		for _, c := range b.mapped {
			if strings.TrimSpace(row.cell(c).text) != "" || row.cell(c).kind == cellNoValue {
				blank = false
			}
		}
		if b.spec.Ends == blankRowEnds && (blank || row.n > prev+1) && len(b.rows) > 0 {
			break
		}
		if b.spec.Ends != "" && b.spec.Ends != blankRowEnds && b.begins(row, b.spec.Ends) {
			break
		}
		prev = row.n
		if blank || b.repeatsHeader(row) || slices.ContainsFunc(b.spec.Skip, func(w string) bool { return b.begins(row, w) }) {
			continue
		}
		b.rows = append(b.rows, b.fillDown(row))
	}
}

// fillDown gives blank cells the value above, in the columns in which the
// intake says that blank means the same as above, up to the first cell of
// those columns that is filled: what belongs to another person is not taken.
func (b *block) fillDown(row rawRow) rawRow {
	if len(b.spec.FillDown) == 0 || len(b.rows) == 0 {
		return row
	}
	above := b.rows[len(b.rows)-1]
	cells := slices.Clone(row.cells)
	for _, name := range b.spec.FillDown {
		c, ok := b.columns[headerKey(name)]
		if !ok {
			continue
		}
		if strings.TrimSpace(row.cell(c).text) != "" {
			break
		}
		for len(cells) <= c {
			cells = append(cells, cell{})
		}
		cells[c] = above.cell(c)
	}
	row.cells = cells
	return row
}

const blankRowEnds = "blank row"

func (s *IntakeSheet) overlaps(o *IntakeSheet) bool {
	return s.Columns[0] < 0 || o.Columns[0] < 0 || s.Columns[0] <= o.Columns[1] && o.Columns[0] <= s.Columns[1]
}

// begins says whether the first text of a row in the block's columns begins
// with a word.
func (b *block) begins(row rawRow, word string) bool {
	for c := range b.headers {
		if b.headers[c] == "" && !slices.Contains(b.mapped, c) {
			continue
		}
		text := strings.ToLower(strings.TrimSpace(row.cell(c).text))
		if text == "" {
			continue
		}
		rest, ok := strings.CutPrefix(text, strings.ToLower(strings.TrimSpace(word)))
		return ok && (rest == "" || !isWordRune(rest))
	}
	return false
}

func isWordRune(s string) bool {
	k := wordKey(s[:1])
	return k != s[:1] || k >= "a" && k <= "z" || k >= "0" && k <= "9"
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

// order is the date order of a field: what the intake says of the column,
// else what the column's own dates say, else what the intake says of the
// sheet.
func (b *block) order(s *sheetData, f int, found dateOrder) dateOrder {
	if b == nil {
		return found
	}
	orders := map[string]dateOrder{DayFirst: orderDayFirst, MonthFirst: orderMonthFirst}
	for _, v := range b.views {
		if v.sheetData == s && v.ordered[f] != "" {
			return orders[v.ordered[f]]
		}
	}
	if o, ok := orders[b.spec.DateOrder]; ok && (found == orderUnknown || found == orderMixed) {
		return o
	}
	return found
}

// firstCol is the column that stands for a field without one.
func (b *block) firstCol(s *sheetData) int {
	for _, c := range s.cols {
		if c >= 0 {
			return c
		}
	}
	if len(b.mapped) > 0 {
		return b.mapped[0]
	}
	return 0
}

// layViews makes the views of a block and hands them to the reader.
func (n *intakeReader) layViews(b *block) {
	tables := map[string]bool{}
	visits := 0
	for i := range b.spec.Parts {
		part := &b.spec.Parts[i]
		tables[part.Table] = true
		if len(part.At) == 0 {
			v := n.view(b, part, -1)
			if part.Table == TableVisits {
				v.visit = visits
				visits++
			}
			if part.Table == TableStations || part.Table == TableFindings {
				b.together = true
			}
			continue
		}
		for a := range part.At {
			n.view(b, part, a)
		}
	}
	var names []string
	for _, t := range Tables() {
		if tables[t] {
			names = append(names, t)
		}
	}
	sheet := &n.r.log.Sheets[b.index]
	earlier := sheet.Table
	if earlier == b.raw.table { // nothing by an intake yet
		earlier = ""
	}
	var all []string
	for _, t := range Tables() {
		if slices.Contains(names, t) || slices.Contains(strings.Split(earlier, ", "), t) {
			all = append(all, t)
		}
	}
	sheet.Table = strings.Join(all, ", ")
}

func (n *intakeReader) view(b *block, part *IntakePart, at int) *view {
	fields := schema[part.Table]
	s := &sheetData{index: b.index, file: b.file, table: part.Table, raw: b.raw, header: b.header, headers: b.headers, block: b,
		cols: make([]int, len(fields)), units: make([]string, len(fields)), named: make([]bool, len(fields)), orders: make([]dateOrder, len(fields)),
		fixed: map[int]string{}, over: map[int]map[string]string{}}
	v := &view{sheetData: s, part: part, has: map[string]bool{}, ordered: map[int]string{}}
	for f, field := range fields {
		s.cols[f], s.units[f] = -1, field.Unit
		if field.Words == nil {
			continue
		}
		for _, w := range n.it.Words {
			if w.Field == field.Name {
				if s.over[f] == nil {
					s.over[f] = map[string]string{}
				}
				s.over[f][wordKey(w.Text)] = w.Code
			}
		}
	}
	for _, d := range part.Fields {
		f := fieldIndex(part.Table, d.Name)
		v.has[d.Name] = true
		if d.DateOrder != "" {
			v.ordered[f] = d.DateOrder
		}
		switch {
		case d.Column != "":
			n.column(v, f, d.Column, d.Unit)
		case d.Is != "":
			s.fixed[f] = d.Is
		case d.SheetName:
			if s.fixed[f] = b.raw.name; b.raw.name == "" {
				s.fixed[f] = strings.TrimSuffix(baseName(b.file), filepath.Ext(b.file))
			}
		case d.InUse:
			v.inUse = true
		}
		v.made = append(v.made, d.Made...)
	}
	if at >= 0 {
		a := part.At[at]
		if part.Table == TableStations {
			s.fixed[fieldIndex(part.Table, "station_mm")] = a.What
			n.column(v, fieldIndex(part.Table, "limb_mm"), a.Column, part.Unit)
		} else {
			f := fieldIndex(part.Table, "finding")
			s.fixed[fieldIndex(part.Table, "region")] = a.What
			n.column(v, f, a.Column, "")
			over := map[string]string{}
			for k, c := range s.over[f] {
				over[k] = c
			}
			for _, m := range part.Marks {
				over[wordKey(m.Text)] = m.Code
			}
			s.over[f] = over
		}
	}
	for f, field := range fields {
		if c := s.cols[f]; c >= 0 && drives(part.Table, field.Name) {
			v.drivers = append(v.drivers, c)
		}
	}
	v.always = len(v.drivers) == 0
	for _, o := range b.spec.Own {
		if c, ok := b.columns[headerKey(o.Column)]; ok && o.Table == part.Table && at <= 0 && !slices.ContainsFunc(b.views, func(w *view) bool { return w.part.Table == part.Table }) {
			s.own = append(s.own, ownCol{name: b.headers[c], col: c})
		}
	}
	s.soft = part.Table == TableLimbs || part.Table == TableSockets
	b.views = append(b.views, v)
	n.r.sheets = append(n.r.sheets, s)
	return v
}

// column points a field at its column. A sheet may lack a column that other
// sheets of the entry have.
func (n *intakeReader) column(v *view, f int, name, unit string) {
	s := v.sheetData
	field := schema[s.table][f]
	c, ok := s.block.columns[headerKey(name)]
	if !ok {
		n.r.onSheet(s, 0, s.raw.rows[s.header].n, CodeMissingColumn, name, "", "a column headed "+name, Kept, fmt.Sprintf("the intake names a column %q, which other sheets have and this one lacks", name))
		return
	}
	s.cols[f] = c
	switch {
	case unit != "":
		s.units[f], s.named[f] = unit, true
	case field.Unit != "":
		if u := headerUnit(s.headers[c], field.Unit); u != "" {
			s.units[f], s.named[f] = u, true
		}
	}
	if m := inBrackets.FindStringSubmatch(s.headers[c]); m != nil && (field.Kind == KindDate || field.Kind == KindYear) {
		s.orders[f] = orderNote(m[2])
	}
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

// drives says whether a value of a field makes a row give a record of its
// table: identifiers of other tables do not.
func drives(table, field string) bool {
	switch table {
	case TableLimbs:
		return field == "person" || field == "limb"
	case TableSockets:
		return field != "limb"
	case TableStations:
		return field == "limb_mm" || field == "target_mm" || field == "model_mm"
	case TableVisits:
		return field != "socket" && field != "visit"
	case TableFindings:
		return field == "region" || field == "finding"
	}
	return field != "socket" && field != "date"
}

// report says what a reader should know of how the block was found.
func (b *block) report(n *intakeReader) {
	if len(b.views) == 0 {
		return
	}
	s := b.views[0].sheetData
	at := b.raw.rows[b.header].n
	first := true
	for _, o := range n.blocks {
		if o == b {
			break
		}
		first = first && o.index != b.index
	}
	if first {
		n.r.layNotes(s)
	}
	if b.raw.rows[b.start].n != b.spec.Header {
		n.r.onSheet(s, b.firstCol(s), at, CodeHeaderMoved, "", "", fmt.Sprintf("the header in row %d", b.spec.Header), Kept,
			fmt.Sprintf("the intake says that the header stands in row %d; it was found in row %d", b.spec.Header, b.raw.rows[b.start].n))
	}
	names, _ := b.spec.wanted()
	known := map[int]bool{}
	for _, name := range names {
		if c, ok := b.columns[headerKey(name)]; ok {
			known[c] = true
		}
	}
	for c, h := range b.headers {
		elsewhere := slices.ContainsFunc(n.blocks, func(o *block) bool {
			return o != b && o.index == b.index && o.spec.overlaps(b.spec) && c < len(o.headers)
		})
		if h != "" && !known[c] && !strings.HasPrefix(h, "column ") && !elsewhere {
			n.r.onSheet(s, c, at, CodeNotMapped, h, "", "each column in the intake", Kept, fmt.Sprintf("the column %q is not named in the intake; it was not read", h))
		}
	}
	n.belowEnd(b, s)
}

// belowEnd counts rows that look like data below the row that ends a table.
func (n *intakeReader) belowEnd(b *block, s *sheetData) {
	if b.spec.Ends == "" || len(b.rows) == 0 {
		return
	}
	last := b.rows[len(b.rows)-1].n
	first, count := 0, 0
	for _, row := range b.raw.rows[b.header+1:] {
		if row.n <= last || b.begins(row, b.spec.Ends) {
			continue
		}
		if slices.ContainsFunc(n.blocks, func(o *block) bool {
			return o != b && o.index == b.index && o.spec.overlaps(b.spec) && row.n >= o.raw.rows[o.start].n
		}) {
			break
		}
		filled := 0
		for _, c := range b.mapped {
			if strings.TrimSpace(row.cell(c).text) != "" {
				filled++
			}
		}
		if 2*filled > len(b.mapped) {
			if count++; count == 1 {
				first = row.n
			}
		}
	}
	if count > 0 {
		n.r.onSheet(s, b.firstCol(s), first, CodeRowsBelowEnd, "", "", "no rows below the end of the table", Kept,
			fmt.Sprintf("%d rows that look like rows of the table stand below its end (%s) and were not read", count, b.spec.Ends))
	}
}
