package numbers

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"github.com/xuri/excelize/v2"

	"plybook/ingest"
)

// ProblemRow is a line of the sheet of problems.
type ProblemRow struct {
	File, Sheet, Cell, Column string
	Found, Want, Done, Text   string
}

// Problems makes the lines of the sheet of problems, in the order given.
// Name gives the name under which a file is shown; nil shows it as given.
func Problems(ps []ingest.Problem, name func(path string) string) []ProblemRow {
	out := make([]ProblemRow, len(ps))
	for i, p := range ps {
		out[i] = ProblemRow{p.File, p.Tab, p.Cell, p.Column, p.Found, p.Want, p.Done.String(), p.Text}
		if name != nil {
			out[i].File = name(p.File)
		}
	}
	return out
}

// Meta is what the workbook says of itself.
type Meta struct {
	Title  string
	Author string
	Date   string // ISO date of the data cut: the only date the file bears
	Mark   string // "For internal review, not for release" or empty
}

// The limits of a sheet.
const (
	maxRows = 1 << 20
	maxCols = 1 << 14
	maxText = 32767
)

// WriteXLSX writes numbers.xlsx: a sheet of contents with links, a sheet per
// answer with its tables under one another and its cautions and charts beside
// them, the ledger of inputs, the problems found and what charts are drawn from. Numbers and dates are real ones
// at full precision, under a format that shows less. The same run gives the
// same bytes.
func WriteXLSX(w io.Writer, run Run, problems []ProblemRow, meta Meta) error {
	if err := checkAll(run); err != nil {
		return fmt.Errorf("writing numbers.xlsx: %w", err)
	}
	data, exact, err := workbook(run, problems, meta)
	if err != nil {
		return fmt.Errorf("writing numbers.xlsx: %w", err)
	}
	if data, err = settleZip(data, exact); err != nil {
		return fmt.Errorf("writing numbers.xlsx: %w", err)
	}
	if _, err := w.Write(data); err != nil {
		return fmt.Errorf("writing numbers.xlsx: %w", err)
	}
	return nil
}

// workbook makes the file, and the numbers that it holds only to fifteen
// digits: by part of the archive, then by cell, as they should be written.
func workbook(run Run, problems []ProblemRow, meta Meta) (data []byte, exact map[string]map[string]string, err error) {
	f := excelize.NewFile()
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	st, err := newStyles(f)
	if err != nil {
		return nil, nil, err
	}
	exact = map[string]map[string]string{}
	names := newSheetNames()
	contents := names.take(contentsName)
	names.take(chartsName)
	if err := f.SetSheetName("Sheet1", contents); err != nil {
		return nil, nil, err
	}
	f.SetActiveSheet(0) // while it is the only one: later every sheet would be read back for it
	tabs := make([]string, len(run.Answers))
	for i, a := range run.Answers {
		tabs[i] = names.take(a.ID)
	}
	inputs, problemTab := names.take("Inputs"), names.take("Problems")
	if err := contentsSheet(run, problems, meta, st, tabs, inputs, problemTab, contents).write(f, contents); err != nil {
		return nil, nil, err
	}
	drawn := make([][]plotted, len(run.Answers))
	for i, a := range run.Answers {
		if a.Error == nil {
			drawn[i] = charts(a)
		}
	}
	plots := chartsSheet(drawn, run.Answers, st, contents)
	tables, parts := tableNames{}, aside{}
	for i, a := range run.Answers {
		g := answerSheet(a, st, contents, drawn[i], tables)
		if err := g.write(f, tabs[i]); err != nil {
			return nil, nil, fmt.Errorf("answer %s: %w", a.ID, err)
		}
		parts.take(f)
		// Sheets are numbered as they are made, the contents being the first.
		exact[fmt.Sprintf("xl/worksheets/sheet%d.xml", i+2)] = g.exact()
	}
	if err := inputsSheet(run, st, contents).write(f, inputs); err != nil {
		return nil, nil, fmt.Errorf("ledger of inputs: %w", err)
	}
	if err := problemsSheet(problems, st, contents).write(f, problemTab); err != nil {
		return nil, nil, fmt.Errorf("problems: %w", err)
	}
	if plots != nil {
		if err := plots.write(f, chartsName); err != nil {
			return nil, nil, fmt.Errorf("what charts are drawn from: %w", err)
		}
	}
	stamp := "1980-01-01T00:00:00Z"
	if _, err := time.Parse(dateLayout, meta.Date); err == nil {
		stamp = meta.Date + "T00:00:00Z"
	}
	author := meta.Author
	if author == "" {
		author = "plybook"
	}
	if err := f.SetDocProps(&excelize.DocProperties{Title: meta.Title, Creator: author, LastModifiedBy: author, Created: stamp, Modified: stamp, Description: meta.Mark, Language: "en-GB"}); err != nil {
		return nil, nil, err
	}
	parts.giveBack(f)
	var b bytes.Buffer
	if _, err := f.WriteTo(&b); err != nil {
		return nil, nil, err
	}
	return b.Bytes(), exact, nil
}
