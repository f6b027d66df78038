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
	if n == nil || IsProblemSheet(raw.name) {
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
			for _, c := range f.Coded {
				names, at = append(names, c), append(at, f.pos)
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
	n.partDrivers()
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
	row = row.unpacked()
	cells := row.own.cells
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
	row.own.cells = cells
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
