package ingest

import (
	"fmt"
	"slices"

	"github.com/xuri/excelize/v2"
)

// print sets a sheet up for paper: all columns on one page's width, and for a
// table the header on every page.
func (b *blank) print(sheet string, table bool) error {
	a4, wide, one, many, on := 9, "landscape", 1, 0, true
	if !table {
		wide = "portrait"
	}
	if err := b.f.SetSheetProps(sheet, &excelize.SheetPropsOptions{FitToPage: &on}); err != nil {
		return err
	}
	if err := b.f.SetPageLayout(sheet, &excelize.PageLayoutOptions{Size: &a4, Orientation: &wide, FitToWidth: &one, FitToHeight: &many}); err != nil {
		return err
	}
	if err := b.f.SetHeaderFooter(sheet, &excelize.HeaderFooterOptions{OddHeader: "&L&A", OddFooter: "&LCodes only: no names&RPage &P of &N"}); err != nil {
		return err
	}
	if !table {
		return nil
	}
	return b.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: fmt.Sprintf("%s!$1:$1", sheet), Scope: sheet})
}

// readMe fills the first sheet.
func (b *blank) readMe() error {
	if err := b.f.SetColWidth(blankReadMe, "A", "A", 16); err != nil {
		return err
	}
	if err := b.f.SetColWidth(blankReadMe, "B", "B", 92); err != nil {
		return err
	}
	row := 0
	for i, line := range blankReadMeLines {
		if slices.Contains(Tables(), line[0]) && !b.opts.wants(line[0]) {
			continue
		}
		row++
		cell := func(col string) string { return fmt.Sprintf("%s%d", col, row) }
		if err := b.f.SetCellStr(blankReadMe, cell("A"), line[0]); err != nil {
			return err
		}
		if err := b.f.SetCellStr(blankReadMe, cell("B"), line[1]); err != nil {
			return err
		}
		first := b.style.strong
		if i == 0 {
			first = b.style.title
		}
		if err := b.f.SetCellStyle(blankReadMe, cell("A"), cell("A"), first); err != nil {
			return err
		}
		if err := b.f.SetCellStyle(blankReadMe, cell("B"), cell("B"), b.style.wrap); err != nil {
			return err
		}
		// Row heights do not follow wrapped text by themselves everywhere.
		if n := len(line[1])/95 + 1; n > 1 {
			if err := b.f.SetRowHeight(blankReadMe, row, float64(15*n)); err != nil {
				return err
			}
		}
	}
	return nil
}

var blankReadMeLines = [][2]string{
	{"Fit-check log", ""},
	{"", ""},
	{"Codes only", "Write no names, initials, dates of birth, record numbers, telephone numbers or addresses anywhere in this workbook. Give each person, limb and member of staff a code of your own (random, not made from a record number) and keep the key somewhere else, locked."},
	{"", ""},
	{"limbs", "One row for each residual limb. Somebody with two has two rows."},
	{"sockets", "One row for each socket: check, preparatory and definitive. When a socket's life ends, fill in ended and end_reason; when a remake is agreed, remake_decided. In the new socket's row, replaces names the old one."},
	{"stations", "One row for each circumference: how far from which landmark, and over what. Leave a row for each repeat; do not average."},
	{"visits", "One row for each socket at each visit. Ply and comfort are those on arrival, before anything is changed. A reline or refit is an action here, not a remake."},
	{"findings", "One row for each finding on the skin, with the code of its visit. If the skin was looked at and nothing found, skin_checked in visits is enough."},
	{"forming", "One row for each sheet pulled, as it was done. Settings come from the sheet maker's data, not from here. Hot plastic burns; dust and fumes harm: gloves, mask, extraction."},
	{"", ""},
	{"Headers", "Dark headers must be filled in, grey ones may be left blank. Point at a header to read what it means. Keep the headers as they are; add columns of your own to the right."},
	{"Blank", "Leave a cell blank where something was not asked or not measured. Write 0 only where it is 0."},
	{"Dates", "Write them as 2026-03-31. Do not colour cells to say something: give it a column."},
	{"Units", "Lengths are in mm, mass in kg, temperature in degrees Celsius. Another unit can be written in the cell: 32.5 cm."},
	{"", ""},
	{"Caution", "Check sockets are not for unsupervised wear. Skin breakdown is for a clinician to see. Nothing in this workbook or in reports made from it is a diagnosis; local codes and practice come first."},
}
