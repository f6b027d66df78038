package ingest

import (
	"fmt"
	"sort"
	"strings"
)

// The codes of problems. A code never changes its meaning.
const (
	// values that cannot be read
	CodeBadDate          = "bad-date"            // not a day of the calendar
	CodeAmbiguousDate    = "ambiguous-date"      // day and month could be swapped, and the column does not tell
	CodeSwappedDates     = "swapped-dates"       // a column whose true dates look swapped by the spreadsheet
	CodeApproximateDate  = "approximate-date"    // amputated given as month or year
	CodeShortYear        = "short-year"          // year of birth with two digits
	CodeNumberDate       = "number-as-date"      // bare day number in a date column
	CodeBadTime          = "bad-time"            // not a time of day
	CodeTwoTimes         = "two-times"           // the time of day in the date's cell is another than that in the time's
	CodeMixedUnits       = "mixed-units"         // some cells of a column name a unit, others none
	CodeUnitSuspected    = "unit-suspected"      // possible, but far from its column unless in another unit
	CodeBadNumber        = "bad-number"          // not a number, or not a whole one
	CodeAboutNumber      = "approximate-number"  // ~32, >15, 7-8
	CodeThousands        = "thousands-separator" // 1,234 read as 1234
	CodeUnitClash        = "unit-clash"          // header and cell disagree on the unit
	CodeBadUnit          = "bad-unit"            // unit of another quantity
	CodeImplausible      = "implausible-value"   // outside what is possible; a likely unit is named
	CodeComfortRange     = "comfort-range"       // outside 0 to 10
	CodeScoreWords       = "comfort-with-words"  // 7/10 better
	CodeScoreDate        = "comfort-as-date"     // 7/10 turned into a date and turned back
	CodeBadPly           = "bad-ply"             // not a sock ply
	CodePlyRange         = "ply-range"           // 3-5: the middle is used
	CodePlyMorning       = "ply-morning-evening" // am 3 / pm 8: the later one is used
	CodePlyAbout         = "ply-approximate"     // ~5, >15
	CodePlyList          = "ply-list"            // 5,3 or 5 3: read as two socks
	CodePlyDate          = "ply-as-date"         // 3-5 turned into a date and turned back
	CodeUnknownWord      = "unknown-word"        // not in the vocabulary
	CodeSpelling         = "spelling"            // one letter off a known word
	CodeDoubtfulWord     = "doubtful-word"       // read by convention, could mean something else
	CodeSeveralWords     = "several-words"       // more than one word where one is counted
	CodeFormulaError     = "formula-error"       // #N/A and the like
	CodeFormulaNoValue   = "formula-without-value"
	CodeDamagedID        = "damaged-identifier" // turned into a date, or a number of more than 15 digits
	CodeMissingValue     = "missing-value"      // required and not there
	CodeMixedColumn      = "mixed-column"       // an own column of numbers or dates with a stray text
	CodeMissingColumn    = "missing-column"     // a required column is not on the sheet
	CodeMissingTable     = "missing-table"      // no sheet of that name in any file
	CodeDuplicateHeader  = "duplicate-header"
	CodeRaggedRow        = "ragged-row" // a row of a text table with more cells than headers
	CodeNoHeader         = "no-header"  // values under an empty header
	CodeRowsAboveHeader  = "rows-above-header"
	CodeHiddenRows       = "hidden-rows"
	CodeFilteredRows     = "filtered-rows"  // hidden by a filter
	CodeStruckThrough    = "struck-through" // rows or cells
	CodeMacros           = "macros"         // a workbook with a programme, never run
	CodeExternalLinks    = "external-links" // a workbook linked to others, never followed
	CodeHiddenColumn     = "hidden-column"
	CodeHiddenSheet      = "hidden-sheet"
	CodeMergedCells      = "merged-cells"
	CodeEncoding         = "encoding"           // text not in UTF-8
	CodeIdentifying      = "identifying-column" // an own column with names, numbers, addresses
	CodeBirthDateShown   = "birth-date"         // full birth dates where a year is enough
	CodeDecadesOutside   = "date-outside-log"   // decades from everything else
	CodeAfterEnd         = "date-after-end"     // later than today or the log's end
	CodeBeforeBirth      = "date-before-birth"
	CodeAfterDeath       = "date-after-death"
	CodeEndedBefore      = "ended-before-delivered"
	CodeNegativeLife     = "negative-life" // remake decided or replaced before delivery
	CodeOrderOfDates     = "dates-out-of-order"
	CodeUnknownLimb      = "unknown-limb"
	CodeUnknownSocket    = "unknown-socket"
	CodeUnknownVisit     = "unknown-visit"
	CodeUnknownReplaced  = "unknown-replaced-socket"
	CodeReferenceAside   = "reference-set-aside" // refers to a row that was set aside
	CodeIDSpelling       = "identifier-spelling" // matched apart from case, spaces or punctuation
	CodeTotals           = "totals-row"          // a row that sums up those above
	CodeDuplicateRow     = "duplicate-row"       // identical in every field
	CodeSameID           = "same-identifier"     // same identifier, other values
	CodeLookAlike        = "look-alike-visit"    // two visits alike but for their identifier
	CodeRepeatsApart     = "repeats-apart"       // the same point, day and measurer, and two girths
	CodeTwoEveryday      = "two-open-everyday"   // two open everyday sockets on one limb
	CodeNoEnding         = "no-ending"           // a later socket, but no ending of the earlier one
	CodeOpenAtDeath      = "open-at-death"       // the life ends at death
	CodePersonFacts      = "conflicting-person"  // two limbs of one person disagree
	CodeReasonNoDate     = "reason-without-date" // end_reason without ended
	CodeFindingNotNone   = "none-with-finding"   // "none" beside another finding of the visit
	CodeSkinNotChecked   = "finding-unchecked"   // skin_checked is no, yet findings are recorded
	CodeReplacesOneself  = "replaces-itself"
	CodeReplacesOther    = "replaces-other-limb"
	CodeStationOtherLimb = "socket-of-other-limb"
	CodeConflict         = "conflicting-rows" // rows that state the same limb or socket disagree
	CodeNoRecord         = "no-record"        // a row from which the intake makes nothing
	CodeNotMapped        = "column-not-named" // a column that the intake does not name
	CodeRowsBelowEnd     = "rows-below-end"   // rows below the one with which the intake ends the table
	CodeHeaderMoved      = "header-moved"     // the header stands in another row than the intake says
	CodeAlike            = "nearly-alike"     // two values that codes stand for are nearly one
	CodeNoSocketYet      = "no-socket-in-use" // a visit before the limb's first delivery
)

// pending is a problem with what is needed to put it in order.
type pending struct {
	Problem
	col   int
	table string
}

// quote shows a cell's text, or not where the column is identifying.
func (r *reader) quote(rec *record, f int) string {
	if r.hides(rec, f) {
		return "the value"
	}
	text := rec.text(f)
	if c := rec.cell(f); c.kind == cellDate || c.kind == cellMonthYear {
		if d, ok := rec.serial(f); ok {
			return fmt.Sprintf("%q (stored as the date %s)", text, d)
		}
	}
	if rec.cell(f).kind == cellTime {
		return fmt.Sprintf("%q (stored as the time %s)", text, clockOf(text))
	}
	return fmt.Sprintf("%q", shorten(text))
}

func shorten(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:57]) + "..."
	}
	return s
}

func (r *reader) hides(rec *record, f int) bool {
	return rec.sheet.coded[f] != nil || r.identifying[rec.sheet.table+"."+schema[rec.sheet.table][f].Name]
}

// keep reports a value that was read all the same.
func (r *reader) keep(rec *record, f int, code, want, text string) {
	r.add(rec, f, code, want, Kept, text)
}

// drop sets a value aside, and the row with it where the field is required.
func (r *reader) drop(rec *record, f int, code, want, text string) {
	rec.set(f, value{text: rec.val(f).text})
	if rec.sheet.fields[f].Required && !rec.sheet.soft {
		r.dropRow(rec, f, code, want, text)
		return
	}
	r.add(rec, f, code, want, ValueSetAside, text)
}

// dropRow sets a row aside.
func (r *reader) dropRow(rec *record, f int, code, want, text string) {
	rec.aside = true
	r.add(rec, f, code, want, RowSetAside, text)
}

func (r *reader) add(rec *record, f int, code, want string, done Done, text string) {
	if src := rec.from(f); src != nil && done != RowSetAside {
		rec = src
	}
	s := rec.sheet
	field := schema[s.table][f].Name
	p := Problem{Code: code, Sheet: s.index, File: s.file, Tab: s.raw.name, Row: rec.row(), Column: field, Want: want, Done: done, Text: ending(text, done)}
	col := s.cols[f]
	if col >= 0 {
		p.Column = s.headers[col]
		if !r.hides(rec, f) {
			p.Found = strings.Clone(rec.text(f)) // which outlives the file's text
		}
	} else {
		col = max(0, s.cols[0])
		if s.block != nil {
			col = s.block.firstCol(s)
		}
	}
	p.Cell = cellName(col, rec.row())
	r.problems = append(r.problems, pending{p, col, s.table})
}

// rowAside ends the sentence of a row set aside.
const rowAside = "; the row was set aside."

// ending closes a sentence with what was done. A question at its end moves
// into brackets.
func ending(text string, done Done) string {
	if strings.HasSuffix(text, "?") {
		if done == Kept {
			return text
		}
		if i := strings.LastIndex(text, "; "); i >= 0 {
			text = text[:i] + " (" + text[i+2:] + ")"
		}
	}
	switch done {
	case ValueSetAside:
		return text + "; the value was set aside."
	case RowSetAside:
		return text + rowAside
	}
	return text + "."
}

// onSheet reports a problem of a cell that is no field, such as a header.
func (r *reader) onSheet(s *sheetData, col, row int, code, column, found, want string, done Done, text string) {
	p := Problem{Code: code, Sheet: s.index, File: s.file, Tab: s.raw.name, Row: row, Column: column, Found: found, Want: want, Done: done, Text: ending(text, done)}
	if row > 0 && col >= 0 {
		p.Cell = cellName(col, row)
	}
	r.problems = append(r.problems, pending{p, col, s.table})
}

// onLog reports a problem of no sheet in particular.
func (r *reader) onLog(code, want, text string) {
	r.problems = append(r.problems, pending{Problem{Code: code, Sheet: -1, Want: want, Text: ending(text, Kept)}, -1, ""})
}

// sorted puts the problems in the order of file, sheet, row and column.
func sorted(ps []pending) []Problem {
	sort.SliceStable(ps, func(i, j int) bool {
		a, b := ps[i], ps[j]
		if a.Sheet != b.Sheet {
			return a.Sheet < b.Sheet
		}
		if a.Row != b.Row {
			return a.Row < b.Row
		}
		return a.col < b.col
	})
	var out []Problem
	for _, p := range ps {
		out = append(out, p.Problem)
	}
	return out
}
