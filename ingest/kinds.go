package ingest

import (
	"cmp"
	"slices"
	"sort"
)

// kindWords name each kind of problem and say what to do about it.
var kindWords = map[string][2]string{
	CodeBadDate:          {"dates that cannot be read", "Write a day of the calendar, best as a true date of the spreadsheet."},
	CodeAmbiguousDate:    {"dates that could be read in two ways", "Write the order in the header, such as Date (dd/mm/yyyy)."},
	CodeSwappedDates:     {"dates in which day and month look swapped", "Compare the column with paper; the spreadsheet may have swapped them on import."},
	CodeApproximateDate:  {"amputations dated by month or year only", "Nothing need be done; write the day where it is known."},
	CodeShortYear:        {"years of birth with two digits", "Write four digits."},
	CodeNumberDate:       {"bare numbers where a date belongs", "Give the cells a date format and look at the date they show."},
	CodeBadTime:          {"times of day that cannot be read", "Write hours and minutes, such as 14:30."},
	CodeTwoTimes:         {"two times of day for one visit", "Keep one of the two."},
	CodeMixedUnits:       {"columns in which some cells name a unit and others none", "Write the unit in the header and nothing but figures below it."},
	CodeUnitSuspected:    {"values that look as if they were in another unit", "Compare with paper; write the unit into the cell."},
	CodeBadNumber:        {"numbers that cannot be read", "Write a number; put words into a column of notes."},
	CodeAboutNumber:      {"numbers that are not exact", "Write the number that was measured."},
	CodeThousands:        {"numbers with a separator of thousands", "Write them without; check that no decimal point was meant."},
	CodeUnitClash:        {"units that differ between header and cell", "Write one unit per column, in the header."},
	CodeBadUnit:          {"units of another quantity", "Look whether the value stands in the wrong column."},
	CodeImplausible:      {"values that cannot be", "Compare with paper: unit, decimal point, a digit too many."},
	CodeComfortRange:     {"comfort outside 0 to 10", "Write the score out of 10."},
	CodeScoreWords:       {"comfort with words behind it", "Put the words into a column of notes."},
	CodeScoreDate:        {"comfort that the spreadsheet turned into a date", "Format the column as text, or write 7 rather than 7/10."},
	CodeBadPly:           {"sock ply that cannot be read", "Write the total or the socks, such as 5 or 5+3."},
	CodePlyRange:         {"sock ply given as a range", "Write what was worn on arrival."},
	CodePlyMorning:       {"sock ply given for morning and evening", "Write what was worn on arrival."},
	CodePlyAbout:         {"sock ply that is not exact", "Write the number of plies."},
	CodePlyList:          {"sock ply given as a list", "Write a sum: 5+3."},
	CodePlyDate:          {"sock ply that the spreadsheet turned into a date", "Format the column as text before typing."},
	CodeUnknownWord:      {"words that are not known", "Write one of the known words (plybook manual words)."},
	CodeSpelling:         {"words one letter off", "Correct the spelling."},
	CodeDoubtfulWord:     {"words read by convention that could mean something else", "Write the word in full."},
	CodeSeveralWords:     {"several words where one is counted", "Leave the one that counts."},
	CodeFormulaError:     {"formulas that failed", "Mend the formula, or write the value."},
	CodeFormulaNoValue:   {"formulas without a stored result", "Open the workbook in a spreadsheet program, let it calculate, and save it."},
	CodeDamagedID:        {"identifiers that the spreadsheet changed", "Format the column as text and type them again."},
	CodeMissingValue:     {"required values that are missing", "Fill the cell."},
	CodeMixedColumn:      {"own columns with a stray text", "Move the text into a column of notes."},
	CodeMissingColumn:    {"required columns that are not there", "Add the column, or name its header as the log does (plybook manual log)."},
	CodeMissingTable:     {"tables that are not there", "Name the sheet or file after its table, or give the other file as well."},
	CodeDuplicateHeader:  {"headers that stand twice", "Rename or delete one of the columns."},
	CodeRaggedRow:        {"rows with a cell too many", "Put cells that hold a separator in quotes, or move remarks into a column of their own."},
	CodeNoHeader:         {"columns without a header", "Write a header, or move the notes off the table."},
	CodeRowsAboveHeader:  {"rows above the header", "Nothing need be done if they are a title."},
	CodeHiddenRows:       {"hidden rows", "They were read; delete them if they should not count."},
	CodeHiddenColumn:     {"hidden columns", "They were read; delete them if they should not count."},
	CodeHiddenSheet:      {"hidden sheets", "They were read; delete them if they should not count."},
	CodeFilteredRows:     {"rows hidden by a filter", "They were read; clear the filter to see them, and delete them if they should not count."},
	CodeStruckThrough:    {"rows or cells struck through", "They were read; delete what no longer counts, or take the line away."},
	CodeMacros:           {"workbooks with macros", "Nothing need be done; the macros were not run."},
	CodeExternalLinks:    {"workbooks linked to other files", "Open the workbook where its links work and save it, so that the values stored are of today."},
	CodeMergedCells:      {"merged cells among the data", "Unmerge them and fill every cell."},
	CodeEncoding:         {"texts not stored as UTF-8", "Look at the accented letters; save as CSV UTF-8."},
	CodeIdentifying:      {"columns that could identify a person", "Take the column out of the log, or write codes."},
	CodeAlike:            {"values nearly alike that have a code each", "Write them alike if they are one person; else nothing need be done."},
	CodeBirthDateShown:   {"full dates of birth", "Write the year alone."},
	CodeDecadesOutside:   {"dates decades away from all others", "Correct the year."},
	CodeAfterEnd:         {"dates in the future", "Correct the year."},
	CodeBeforeBirth:      {"dates before birth", "Correct the date or the year of birth."},
	CodeAfterDeath:       {"dates after death", "Correct one of the two dates."},
	CodeEndedBefore:      {"sockets that ended before they were delivered", "Correct one of the two dates."},
	CodeNegativeLife:     {"remakes decided before delivery", "Correct one of the two dates."},
	CodeOrderOfDates:     {"dates out of order", "Correct one of the two dates."},
	CodeUnknownLimb:      {"limbs that the table limbs does not have", "Add the limb, or correct its code."},
	CodeUnknownSocket:    {"sockets that the table sockets does not have", "Add the socket, or correct its code."},
	CodeUnknownVisit:     {"visits that the table visits does not have", "Add the visit, or correct its code."},
	CodeUnknownReplaced:  {"replaced sockets that the table sockets does not have", "Add the socket, or correct its code."},
	CodeReferenceAside:   {"rows that wait for another row", "Mend the row they refer to, and they come back with it."},
	CodeIDSpelling:       {"identifiers spelt in several ways", "Write them alike."},
	CodeTotals:           {"rows of totals", "Nothing need be done; they are not read."},
	CodeDuplicateRow:     {"rows that stand twice", "Delete one; nothing is lost."},
	CodeSameID:           {"identifiers given to two rows", "Give the second its own, or put the two rows together."},
	CodeLookAlike:        {"visits alike but for their identifier", "Delete one if it is the same visit."},
	CodeRepeatsApart:     {"girths of one point and day that lie far apart", "Compare with paper; delete the one that is wrong."},
	CodeTwoEveryday:      {"limbs with two everyday sockets in use", "End one, or write spare under use."},
	CodeNoEnding:         {"sockets followed by another but not ended", "Write when and why the earlier one ended."},
	CodeOpenAtDeath:      {"sockets open at death", "Nothing need be done; their life ends at death."},
	CodePersonFacts:      {"facts on which the limbs of a person disagree", "Write the same for each limb."},
	CodeReasonNoDate:     {"reasons for an end without a date", "Write the date under ended."},
	CodeFindingNotNone:   {"none beside another finding of the visit", "Delete one of the two rows."},
	CodeSkinNotChecked:   {"findings at visits without a skin check", "Write yes under skin_checked."},
	CodeReplacesOneself:  {"sockets that replace themselves", "Write the earlier socket's code."},
	CodeReplacesOther:    {"sockets that replace one of another limb", "Correct the code."},
	CodeStationOtherLimb: {"measurements with a socket of another limb", "Correct the limb or the socket."},
	CodeConflict:         {"rows that disagree about a limb or socket", "Decide which is right, and write it in both."},
	CodeNoRecord:         {"rows from which the intake makes nothing", "Look at the row; it may be a heading or a total."},
	CodeNotMapped:        {"columns that the intake does not name", "Add them to the intake, or to what it leaves out."},
	CodeRowsBelowEnd:     {"rows below the end of the table", "Move them up if they belong to it."},
	CodeHeaderMoved:      {"headers in another row than the intake says", "Correct the row in the intake."},
	CodeNoSocketYet:      {"visits before the first delivery", "Write the check socket, or correct the date."},
}

// ProblemKind is all problems of one code.
type ProblemKind struct {
	Code     string
	Name     string // what they are, in the plural
	Fix      string // what to do
	Rows     int    // problems that set a row or record aside
	Values   int    // problems that set a value aside
	Kept     int    // problems with a value that was kept
	Problems []Problem
}

// ProblemKinds are the problems by kind, worst first: what cost most rows, then most
// values, then what was kept.
func ProblemKinds(log *Log) []ProblemKind {
	at := map[string]int{}
	var out []ProblemKind
	for _, p := range log.Problems {
		i, ok := at[p.Code]
		if !ok {
			i = len(out)
			at[p.Code] = i
			words := kindWords[p.Code]
			out = append(out, ProblemKind{Code: p.Code, Name: words[0], Fix: words[1]})
			if words[0] == "" {
				out[i].Name = p.Code
			}
		}
		k := &out[i]
		switch p.Done {
		case RowSetAside, RecordSetAside:
			k.Rows++
		case ValueSetAside:
			k.Values++
		default:
			k.Kept++
		}
		k.Problems = append(k.Problems, p)
	}
	lost := func(k ProblemKind) int {
		if k.Code == CodeDuplicateRow || k.Code == CodeTotals { // the other of the two is used; a sum is no row lost
			return 0
		}
		return k.Rows
	}
	slices.SortStableFunc(out, func(a, b ProblemKind) int {
		return cmp.Or(lost(b)-lost(a), b.Values-a.Values, b.Kept-a.Kept, cmp.Compare(a.Code, b.Code))
	})
	return out
}

// Win is what mending one kind of problem in one column gives back.
type Win struct {
	Code   string
	Table  string
	Column string
	Cells  []Problem // where to mend
	Rows   int       // rows that would then be used, those waiting for them included
}

// cause is a kind of problem in one column.
type cause struct{ code, table, column string }

// Wins say what to mend to win most rows back, in that order: each counts
// the rows that come back once it and those before it are mended. Rows that
// repeat others or sum them up are not lost and not counted.
func Wins(log *Log) []Win {
	type place = [2]int
	own := map[place][]Problem{}
	for _, p := range log.Problems {
		if p.Done == RowSetAside && p.Sheet >= 0 {
			k := place{p.Sheet, p.Row}
			own[k] = append(own[k], p)
		}
	}
	rows := map[place]map[cause]bool{}
	cells := map[cause][]Problem{}
	var causes func(at place, depth int) map[cause]bool
	causes = func(at place, depth int) map[cause]bool {
		if set, ok := rows[at]; ok {
			return set
		}
		set := map[cause]bool{}
		for _, p := range own[at] {
			if p.Because.OK && depth < 8 {
				for c := range causes(place{p.Because.Value.Sheet, p.Because.Value.Row}, depth+1) {
					set[c] = true
				}
				continue
			}
			c := cause{p.Code, log.Sheets[p.Sheet].Table, p.Column}
			set[c] = true
			cells[c] = append(cells[c], p)
		}
		rows[at] = set
		return set
	}
	places := make([]place, 0, len(own))
	for at := range own {
		places = append(places, at)
	}
	sort.Slice(places, func(i, j int) bool {
		return places[i][0] < places[j][0] || places[i][0] == places[j][0] && places[i][1] < places[j][1]
	})
	for _, at := range places {
		causes(at, 0)
	}
	all := make([]cause, 0, len(cells))
	for c := range cells {
		if c.code != CodeDuplicateRow && c.code != CodeTotals {
			all = append(all, c)
		}
	}
	slices.SortFunc(all, func(a, b cause) int {
		return cmp.Or(cmp.Compare(a.code, b.code), cmp.Compare(a.table, b.table), cmp.Compare(a.column, b.column))
	})
	left := map[place]int{} // causes of a row not mended yet
	for _, at := range places {
		left[at] = len(rows[at])
	}
	var out []Win
	for len(all) > 0 {
		best, most := -1, 0
		for i, c := range all {
			n := 0
			for _, at := range places {
				if left[at] == 1 && rows[at][c] {
					n++
				}
			}
			if n > most {
				best, most = i, n
			}
		}
		if best < 0 {
			break
		}
		c := all[best]
		out = append(out, Win{Code: c.code, Table: c.table, Column: c.column, Cells: cells[c], Rows: most})
		all = slices.Delete(all, best, best+1)
		for _, at := range places {
			if rows[at][c] {
				left[at]--
			}
		}
	}
	return out
}
