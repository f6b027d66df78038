package export

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"

	"plybook/ingest"
	"plybook/reports/html"
	"plybook/reports/output"
	"plybook/reports/words"
)

func counted(n int, one, many string) string { return words.N(n, one, many) }

// csvOf writes rows as CSV. Texts cannot be taken for formulas.
func csvOf(rows [][]cell) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	for _, r := range rows {
		line := make([]string, len(r))
		for i, c := range r {
			if line[i] = c.String(); !c.number {
				line[i] = ingest.Inert(line[i])
			}
		}
		if err := w.Write(line); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// rowsOf are the head and the rows of a table as the data set has them.
func (s *sheet) rowsOf() [][]cell {
	var head []cell
	var cols []*column
	for _, c := range s.cols {
		if c.name != "born" { // of log.xlsx alone
			head, cols = append(head, textCell(c.name)), append(cols, c)
		}
	}
	out := [][]cell{head}
	for j := range s.rows {
		row := make([]cell, len(cols))
		for i, c := range cols {
			row[i] = c.cells[j]
		}
		out = append(out, row)
	}
	return out
}

// entry is a line of the data dictionary.
type entry struct{ table, column, meaning, unit, kind, allowed, how, rows, missing string }

var entryHead = []string{"table", "column", "meaning", "unit", "type", "allowed values", "how it was made", "rows", "missing"}

func (e entry) cells() []string {
	return []string{e.table, e.column, e.meaning, e.unit, e.kind, e.allowed, e.how, e.rows, e.missing}
}

func (m *maker) dictionary() []entry {
	var out []entry
	for _, s := range m.sheets {
		for _, c := range s.cols {
			if c.name == "born" {
				continue
			}
			n := 0
			for _, x := range c.cells {
				if x.missing() {
					n++
				}
			}
			out = append(out, entry{s.name, c.name, c.meaning, c.unit, c.kind, c.allowed, c.how, fmt.Sprint(len(c.cells)), fmt.Sprint(n)})
		}
	}
	return out
}

var changeHead = []string{"table", "column", "what was done", "concerned", "persons in rare combinations before", "after"}

func (c change) cells() []string {
	return []string{c.table, c.column, c.what, c.concerned, c.before, c.after}
}

func texts(head []string, rows [][]string) [][]cell {
	var out [][]cell
	for _, r := range append([][]string{head}, rows...) {
		var line []cell
		for _, s := range r {
			line = append(line, textCell(s))
		}
		out = append(out, line)
	}
	return out
}

// write writes all files of the data set.
func (m *maker) write(folder *output.Folder) (*Result, error) {
	res := &Result{K: m.k, Kinds: m.told.Kinds, Smallest: m.told.Smallest, Tables: len(m.sheets)}
	for _, p := range m.people {
		if p.removed {
			res.Removed++
		} else {
			res.Persons++
		}
	}
	files := map[string]string{}
	put := func(name string, b []byte, err error) error {
		if err == nil {
			err = folder.Write(name, b)
		}
		if err != nil {
			return fmt.Errorf("write %s: %w", name, err)
		}
		sum := sha256.Sum256(b)
		files[name] = hex.EncodeToString(sum[:])
		return nil
	}
	for _, s := range m.sheets {
		res.Rows += len(s.rows)
		b, err := csvOf(s.rowsOf())
		if err := put(s.name+".csv", b, err); err != nil {
			return nil, err
		}
	}
	var dict, changes [][]string
	for _, e := range m.dictionary() {
		dict = append(dict, e.cells())
	}
	for _, c := range m.changes {
		changes = append(changes, c.cells())
	}
	b, err := csvOf(texts(entryHead, dict))
	if err := put("dictionary.csv", b, err); err != nil {
		return nil, err
	}
	b, err = csvOf(texts(changeHead, changes))
	if err := put("changes.csv", b, err); err != nil {
		return nil, err
	}
	doc := m.about(res, dict, changes)
	if err := put("about.md", []byte(markdown(doc)), nil); err != nil {
		return nil, err
	}
	var page bytes.Buffer
	err = html.Render(&page, doc, html.Options{})
	if err := put("about.html", page.Bytes(), err); err != nil {
		return nil, err
	}
	if b, err = m.dataBook(texts(entryHead, dict), texts(changeHead, changes)); err != nil {
		return nil, fmt.Errorf("write data.xlsx: %w", err)
	}
	if err := put("data.xlsx", b, nil); err != nil {
		return nil, err
	}
	if b, err = m.logBook(); err != nil {
		return nil, fmt.Errorf("write log.xlsx: %w", err)
	}
	if err := put("log.xlsx", b, nil); err != nil {
		return nil, err
	}
	return res, m.record(folder, res, files)
}

// record writes the mark of the folder. It names no file of the log and bears
// no date.
func (m *maker) record(folder *output.Folder, res *Result, files map[string]string) error {
	rows := map[string]int{}
	for _, s := range m.sheets {
		rows[s.name] = len(s.rows)
	}
	b, err := json.MarshalIndent(map[string]any{
		"plybook": m.o.Release, "shared_by": res.K, "persons": res.Persons, "persons_left_out": res.Removed,
		"combinations": res.Kinds, "smallest_combination": res.Smallest, "rows": rows, "files": files,
	}, "", "  ")
	if err != nil {
		return err
	}
	return folder.Write(Mark, append(b, '\n'))
}

// noteSteps lists what was made coarser, step by step.
func (m *maker) noteSteps() {
	for _, s := range m.told.Steps {
		c := change{column: s.Column, what: s.What, before: fmt.Sprint(s.RareBefore), after: fmt.Sprint(s.RareAfter), concerned: "all persons"}
		if s.Persons > 0 {
			c.concerned = counted(s.Persons, "person", "persons")
		}
		if s.Column != "" && s.Persons == 0 {
			c.what += fmt.Sprintf(" (%d kinds, then %d)", s.KindsBefore, s.KindsAfter)
		}
		m.changes = append(m.changes, c)
	}
}

// checkLeftOut complains of names that no column bears.
func (m *maker) checkLeftOut() error {
	var known []string
	for _, s := range m.sheets {
		for _, c := range s.cols {
			known = append(known, c.name)
		}
	}
	for _, name := range m.o.LeaveOut {
		if !m.left[name] {
			return fmt.Errorf("--leave-out %s: the data set has no such column%s", name, nearest(name, known))
		}
	}
	return nil
}

// plainCell is a text in a cell of a Markdown table.
func plainCell(s string) string {
	return strings.NewReplacer("|", "\\|", "\n", " ").Replace(s)
}
