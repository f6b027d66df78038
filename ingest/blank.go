package ingest

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"
)

// The sheets of a blank workbook beside the six tables.
const (
	blankReadMe = "read me"
	blankLists  = "lists" // hidden: words of drop-downs too long for a cell's own list
)

// blankRows is how many rows of a blank sheet are prepared.
const blankRows = 5000

// maxInlineList is how many characters of a drop-down list a spreadsheet
// keeps with the cell; longer lists refer to cells.
const maxInlineList = 255

// WriteBlank writes an empty log to path, which must end in .xlsx and not
// exist (else the error is fs.ErrExist): a sheet that says how to fill it in,
// and the six tables with notes on their headers, drop-down lists, checks of
// numbers and dates, and columns formatted so that a code such as 007 and a
// ply such as 5-3 stay as typed. It is set up for printing: landscape, A4, all
// columns on a page's width, headers on every page. The options leave tables
// out or fill in what a log knows. The file appears whole or not at all.
func WriteBlank(path string, opts BlankOptions) error {
	if !strings.EqualFold(filepath.Ext(path), ".xlsx") {
		return fmt.Errorf("writing a blank log: %s does not end in .xlsx", path)
	}
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("writing a blank log: %s: %w", path, fs.ErrExist)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("writing a blank log: %w", err)
	}
	if err := opts.check(); err != nil {
		return fmt.Errorf("writing a blank log: %w", err)
	}
	if err := writeBlank(path, opts); err != nil {
		return fmt.Errorf("writing a blank log: %w", err)
	}
	return nil
}

func writeBlank(path string, opts BlankOptions) (err error) {
	b := &blank{f: excelize.NewFile(), opts: opts}
	defer func() { err = errors.Join(err, b.f.Close()) }()
	if err = b.build(); err != nil {
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".blank-*.tmp")
	if err != nil {
		return err
	}
	if err = b.f.Write(tmp); err == nil {
		mode := os.FileMode(0o644)
		if opts.From != nil { // it holds what the log holds about people
			mode = 0o600
		}
		err = tmp.Chmod(mode)
	}
	if err = errors.Join(err, tmp.Close()); err == nil {
		err = os.Rename(tmp.Name(), path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(tmp.Name()))
	}
	return nil
}

// blank is a blank log being built.
type blank struct {
	f     *excelize.File
	opts  BlankOptions
	lists int // columns of the lists sheet in use
	style struct{ title, strong, wrap, head, required, text, date, clock, number int }
}

func (b *blank) build() error {
	if err := b.styles(); err != nil {
		return err
	}
	if err := b.f.SetSheetName("Sheet1", blankReadMe); err != nil {
		return err
	}
	var tables []string
	for _, t := range Tables() {
		if b.opts.wants(t) {
			tables = append(tables, t)
		}
	}
	for _, name := range append(slices.Clone(tables), blankLists) {
		if _, err := b.f.NewSheet(name); err != nil {
			return err
		}
	}
	for _, table := range tables {
		if err := b.table(table); err != nil {
			return fmt.Errorf("sheet %s: %w", table, err)
		}
		if err := b.print(table, true); err != nil {
			return fmt.Errorf("sheet %s: %w", table, err)
		}
	}
	if err := b.carry(); err != nil {
		return err
	}
	if err := b.print(blankReadMe, false); err != nil {
		return fmt.Errorf("sheet %s: %w", blankReadMe, err)
	}
	if err := b.readMe(); err != nil {
		return fmt.Errorf("sheet %s: %w", blankReadMe, err)
	}
	if err := b.f.SetSheetVisible(blankLists, false); err != nil {
		return err
	}
	b.f.SetActiveSheet(0)
	const made = "2026-01-01T00:00:00Z" // fixed: the same release writes the same bytes
	return b.f.SetDocProps(&excelize.DocProperties{Title: "Fit-check log", Creator: "plybook", LastModifiedBy: "plybook", Created: made, Modified: made})
}

func (b *blank) styles() error {
	day, hour := "yyyy-mm-dd", "hh:mm"
	solid := func(c string) excelize.Fill { return excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{c}} }
	edge := []excelize.Border{{Type: "bottom", Style: 1, Color: "#595959"}}
	middle := &excelize.Alignment{Vertical: "center"}
	for _, s := range []struct {
		to    *int
		style excelize.Style
	}{
		{&b.style.title, excelize.Style{Font: &excelize.Font{Bold: true, Size: 16}}},
		{&b.style.strong, excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{Vertical: "top"}}},
		{&b.style.wrap, excelize.Style{Alignment: &excelize.Alignment{Vertical: "top", WrapText: true}}},
		{&b.style.head, excelize.Style{Font: &excelize.Font{Bold: true}, Fill: solid("#E7E6E6"), Border: edge, Alignment: middle}},
		{&b.style.required, excelize.Style{Font: &excelize.Font{Bold: true, Color: "#FFFFFF"}, Fill: solid("#1F4E79"), Border: edge, Alignment: middle}},
		{&b.style.text, excelize.Style{NumFmt: 49}},
		{&b.style.date, excelize.Style{CustomNumFmt: &day}},
		{&b.style.clock, excelize.Style{CustomNumFmt: &hour}},
		{&b.style.number, excelize.Style{}},
	} {
		id, err := b.f.NewStyle(&s.style)
		if err != nil {
			return err
		}
		*s.to = id
	}
	return nil
}

// table lays out one of the six sheets.
func (b *blank) table(table string) error {
	for i, field := range Fields(table) {
		col, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := b.column(table, col, field); err != nil {
			return fmt.Errorf("column %s: %w", field.Name, err)
		}
	}
	if err := b.f.SetRowHeight(table, 1, 22); err != nil {
		return err
	}
	return b.f.SetPanes(table, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
}

func (b *blank) column(table, col string, field Field) error {
	style, width := b.style.text, float64(max(len(field.Name)+3, 10))
	switch field.Kind {
	case KindDate:
		style, width = b.style.date, max(width, 12)
	case KindTime:
		style = b.style.clock
	case KindNumber, KindWhole, KindScore, KindYear:
		style = b.style.number
	case KindWord, KindWords:
		for _, code := range field.Words.Codes() {
			width = max(width, float64(min(len(code)+4, 36)))
		}
	case KindID, KindText:
		width = max(width, 13)
	}
	if err := b.f.SetColStyle(table, col, style); err != nil {
		return err
	}
	if err := b.f.SetColWidth(table, col, col, width); err != nil {
		return err
	}
	if err := b.f.SetCellStr(table, col+"1", field.Name); err != nil {
		return err
	}
	head := b.style.head
	if field.Required {
		head = b.style.required
	}
	if err := b.f.SetCellStyle(table, col+"1", col+"1", head); err != nil {
		return err
	}
	note := blankNote(field)
	lines := uint(strings.Count(note, "\n") + len(note)/40 + 2)
	if err := b.f.AddComment(table, excelize.Comment{Cell: col + "1", Author: "plybook", Text: note, Width: 280, Height: min(18*lines, 420)}); err != nil {
		return err
	}
	return b.check(table, col, field)
}

// blankNote is the note on a header: what the column means, what may stand in
// it, and whether it must be filled in.
func blankNote(field Field) string {
	var lines []string
	if field.Required {
		lines = append(lines, "Must be filled in.")
	} else {
		lines = append(lines, "May be left blank.")
	}
	if field.Note != "" {
		lines = append(lines, strings.ToUpper(field.Note[:1])+field.Note[1:]+".")
	}
	switch field.Kind {
	case KindDate:
		lines = append(lines, "A date, such as 2026-03-31.")
	case KindYear:
		lines = append(lines, "A year, such as 1957: not the day of birth.")
	case KindTime:
		lines = append(lines, "A time of day, such as 14:30.")
	case KindNumber, KindWhole:
		unit := ""
		if field.Unit != "" {
			unit = " in " + unitWords(field.Unit)
		}
		lines = append(lines, fmt.Sprintf("A number%s, from %s to %s.", unit, digits(field.Low), digits(field.High)))
	case KindScore:
		lines = append(lines, "0 is the most uncomfortable socket imaginable, 10 the most comfortable.")
	case KindWord:
		lines = append(lines, "One of the list.")
	case KindWords:
		lines = append(lines, "One of the list, or several with commas between them.")
	case KindPly:
		lines = append(lines, "Write the socks worn: 5, or 5+3 for two socks; 0 for none; blank if it was not asked.")
	}
	if field.Staff {
		lines = append(lines, "A code, not a name.")
	}
	if field.Person && field.Kind == KindID {
		lines = append(lines, "A code of your own: no name, initials or record number.")
	}
	return strings.Join(lines, "\n")
}

func unitWords(unit string) string {
	switch unit {
	case "min":
		return "minutes"
	case "h":
		return "hours"
	case "C":
		return "degrees Celsius"
	}
	return unit
}

func digits(v float64) string { return fmt.Sprintf("%g", v) }

// check adds the column's drop-down list or the check of its values. Words
// outside a list and unusual numbers can be kept after a warning: the lab may
// know better, and the log says when it is read.
func (b *blank) check(table, col string, field Field) error {
	v := excelize.NewDataValidation(true)
	v.SetSqref(fmt.Sprintf("%s2:%s%d", col, col, blankRows+1))
	between := func(low, high float64, kind excelize.DataValidationType) error {
		return v.SetRange(low, high, kind, excelize.DataValidationOperatorBetween)
	}
	var err error
	switch field.Kind {
	case KindWord, KindWords:
		codes := field.Words.Codes()
		if len(strings.Join(codes, ",")) <= maxInlineList {
			err = v.SetDropList(codes)
		} else {
			var ref string
			if ref, err = b.list(codes); err == nil {
				v.SetSqrefDropList(ref)
			}
		}
		if field.Kind == KindWord {
			v.SetError(excelize.DataValidationErrorStyleWarning, "Not in the list", "This is not a word of the list. Common spellings are read too; other words are set aside.")
		} else {
			v.ShowErrorMessage = false
		}
	case KindDate:
		err = between(1, 73050, excelize.DataValidationTypeDate) // 1900 to 2099
		v.SetError(excelize.DataValidationErrorStyleWarning, "Not a date", "Write a date such as 2026-03-31.")
	case KindYear:
		err = between(1900, 2099, excelize.DataValidationTypeWhole)
		v.SetError(excelize.DataValidationErrorStyleWarning, "Not a year", "Write the year alone, such as 1957.")
	case KindTime:
		err = between(0, 1, excelize.DataValidationTypeTime)
		v.SetError(excelize.DataValidationErrorStyleWarning, "Not a time", "Write a time of day such as 14:30.")
	case KindScore:
		err = between(0, 10, excelize.DataValidationTypeDecimal)
		v.SetError(excelize.DataValidationErrorStyleStop, "Comfort", "Comfort is a number from 0 to 10.")
	case KindWhole:
		err = between(field.Low, field.High, excelize.DataValidationTypeWhole)
		v.SetError(excelize.DataValidationErrorStyleWarning, "Unusual number", fmt.Sprintf("A whole number from %s to %s is expected.", digits(field.Low), digits(field.High)))
	case KindNumber:
		err = between(field.Low, field.High, excelize.DataValidationTypeDecimal)
		v.SetError(excelize.DataValidationErrorStyleWarning, "Unusual number", fmt.Sprintf("A number from %s to %s is expected.", digits(field.Low), digits(field.High)))
	default:
		return nil
	}
	if err != nil {
		return err
	}
	return b.f.AddDataValidation(table, v)
}

// list writes words in the next column of the hidden sheet and returns the
// reference to them.
func (b *blank) list(words []string) (string, error) {
	b.lists++
	col, err := excelize.ColumnNumberToName(b.lists)
	if err != nil {
		return "", err
	}
	for i, w := range words {
		if err := b.f.SetCellStr(blankLists, fmt.Sprintf("%s%d", col, i+1), w); err != nil {
			return "", err
		}
	}
	return fmt.Sprintf("%s!$%s$1:$%s$%d", blankLists, col, col, len(words)), nil
}
