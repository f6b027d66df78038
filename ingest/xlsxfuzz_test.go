package ingest

import (
	"context"
	"testing"
)

// FuzzSheetPart puts any text in the place of a sheet and of the shared
// texts: what comes is a log whose ledger adds up, or an error, and never a
// panic.
func FuzzSheetPart(f *testing.F) {
	f.Add(`<worksheet><sheetData>`+oneLimb+`</sheetData><mergeCells><mergeCell ref="A1:B2"/></mergeCells></worksheet>`, `<sst><si><t>P1</t></si></sst>`)
	f.Add(`<x:worksheet><sheetData><row r="2"><c r="B2" t="s"><f>A1</f><v>0</v></c><c/></row></sheetData></worksheet>`, `<sst><si><r><rPr><strike/></rPr><t>a_x000D_&amp;</t></r></si></sst>`)
	f.Add(`<worksheet><cols><col min="1" max="9" hidden="1"/></cols><sheetData><!-- --><row><c t="inlineStr"><is><t><![CDATA[person]]></t></is></c></row></sheetData><autoFilter ref="A1:B9"><filterColumn/></autoFilter></worksheet>`, ``)
	f.Add(laughs, `<sst><si a="'>'"/>`)
	f.Fuzz(func(t *testing.T, sheet, shared string) {
		path := archive(t, "limbs.xlsx", bookOf("", part{"xl/worksheets/sheet1.xml", sheet}, part{"xl/sharedStrings.xml", shared}))
		log, err := Read(context.Background(), []string{path}, Options{})
		if err == nil {
			checkLedger(t, log)
		}
	})
}
