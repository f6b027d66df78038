package ingest

import (
	"errors"
	"fmt"
	"sort"
	"strings"
)

// Intake says how a lab's own sheets are read as a log: which sheets, which
// header rows, which column feeds which field of which table. It is made by
// ParseIntake or ProposeIntake and given to Read in its Options; it is not
// changed by reading.
//
// Rules that hold for every intake:
//
//   - One row of a sheet may feed several tables. The parts of one entry
//     belong together: a socket is the socket of the limb of its row, a visit
//     is about the socket of its row, a finding was seen at the visit of its
//     row, unless the part names a column for it.
//   - Identifiers that no column gives are made: a limb from person and side
//     (P014-L), a socket from its limb and its day of delivery, a visit from
//     its socket, date and time.
//   - A limb or socket stated on several rows or sheets is one limb or
//     socket. Its values are put together; a value that differs from one
//     stated before is set aside, and the problem names both cells. Visits
//     are put together likewise where measurements or findings have rows of
//     their own.
//   - A column that tells people apart (a name, a record number) may be read
//     as coded: each value is replaced by a random code before anything else
//     is done with it, and the codes come from Options.Codes.
//   - In the ledger a row of a sheet counts once. It is used if at least one
//     of its records is used, or if all it says had been said by rows before
//     it. A record set aside on a row that is used (RecordSetAside) counts
//     with the values set aside.
type Intake struct {
	Path   string
	SHA256 string // of the file's text; empty for a proposal
	Sheets []IntakeSheet
	Words  []IntakeWord
	// Questions are the values left as `?`. Read refuses an intake with
	// questions.
	Questions IntakeErrors
}

// IntakeSheet is one table on one sheet, or on several sheets of the same
// form.
type IntakeSheet struct {
	Sheets    []string // names or patterns (* and ?); of a CSV file its name without ending
	File      string   // name or pattern of the file; empty for any
	Header    int      // first header row; the header is looked for elsewhere if it does not stand there
	HeaderEnd int      // last header row
	Columns   [2]int   // first and last column from 0, where the table is one of several side by side; {-1,-1} for all
	Ends      string   // "blank row", or the word with which the row after the last begins; empty for the last row
	Skip      []string // rows that begin with one of these words are no data
	FillDown  []string // columns in which a blank cell means the value above
	DateOrder string   // day-first, month-first or year-first, for date columns that do not say themselves
	Parts     []IntakePart
	Own       []IntakeOwn
	LeftOut   []string
	pos       IntakePos
	leftPos   []IntakePos
	fillPos   []IntakePos
	sheetPos  IntakePos
	note      notes
}

// IntakePart is what an entry's rows say of one table.
type IntakePart struct {
	Table   string
	Fields  []IntakeField
	At      []IntakeAt   // stations: columns by distance; findings: columns by region
	Unit    string       // of the columns in At
	Marks   []IntakeWord // findings: what each mark in the columns of At means
	OfVisit int          // findings, stations: the visits part they belong to, from 1
	pos     IntakePos
}

// IntakeField says where a field's value comes from; exactly one of Column,
// Coded, Is, Made, InUse and SheetName is given.
type IntakeField struct {
	Name      string
	Column    string   // header of the column
	Coded     []string // headers of the columns that together tell people apart: a random code stands for them
	Is        string   // the same for every row
	Made      []string // fields of the same record that make an identifier
	InUse     bool     // visits: the limb's socket delivered last by then
	SheetName bool     // the name of the sheet
	Unit      string   // of the column's numbers, where its header does not say
	DateOrder string
	pos       IntakePos
	note      string
}

// IntakeAt is one of several columns of the same kind: the distance from the
// landmark or the region, and the column.
type IntakeAt struct {
	What   string
	Column string
	pos    IntakePos
	note   string
}

// IntakeOwn is a column kept as the lab's own on a table.
type IntakeOwn struct {
	Table  string
	Column string
	Coded  bool // random codes stand for its values
	pos    IntakePos
	note   string
}

// IntakeWord is what a text means. An empty Code is left to fill in: the
// text is set aside as an unknown word.
type IntakeWord struct {
	Field string // empty for marks
	Text  string
	Code  string
	pos   IntakePos
	note  string
}

// NoRecord is the meaning of a mark that says nothing: no finding is made
// of it.
const NoRecord = "no record"

// Date orders of an intake.
const (
	DayFirst   = "day-first"
	MonthFirst = "month-first"
	YearFirst  = "year-first" // 24-03-05; years of four digits need no order
)

// question stands where the sheets do not tell and somebody must.
const question = "?"

// IntakePos is a place in an intake file, line and column from 1.
type IntakePos struct {
	File         string
	Line, Column int
}

// String is "file:line:column".
func (p IntakePos) String() string { return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column) }

// IntakeError is a fault at a place in an intake file. Nearest is the valid
// word nearest to the one found, empty where none is near.
type IntakeError struct {
	IntakePos
	Text    string
	Nearest string
}

// Error is "file:line:column: text".
func (e *IntakeError) Error() string { return e.IntakePos.String() + ": " + e.Text }

// IntakeErrors are all faults found in an intake file, in order of place.
type IntakeErrors []*IntakeError

// Error is the faults, one on a line.
func (e IntakeErrors) Error() string {
	lines := make([]string, len(e))
	for i, x := range e {
		lines[i] = x.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the faults to errors.As.
func (e IntakeErrors) Unwrap() []error {
	out := make([]error, len(e))
	for i, x := range e {
		out[i] = x
	}
	return out
}

// ErrIntake is wrapped by errors about an intake file that cannot be used.
var ErrIntake = errors.New("the intake file cannot be used")

// faults collects the errors of an intake file.
type faults struct{ errs IntakeErrors }

func (f *faults) fail(pos IntakePos, nearest, format string, args ...any) {
	f.errs = append(f.errs, &IntakeError{pos, fmt.Sprintf(format, args...), nearest})
}

// unknown reports a word that is none of valid.
func (f *faults) unknown(pos IntakePos, what, word string, valid []string) {
	near := nearWord(word, valid)
	hint := "it can be " + strings.Join(shortList(valid, 24), ", ")
	if near != "" {
		hint = fmt.Sprintf("did you mean %q?", near)
	}
	f.fail(pos, near, "%s %q; %s", what, word, hint)
}

// err is nil without faults.
func (f *faults) err() error {
	if len(f.errs) == 0 {
		return nil
	}
	sort.SliceStable(f.errs, func(i, j int) bool {
		a, b := f.errs[i], f.errs[j]
		return a.Line < b.Line || a.Line == b.Line && a.Column < b.Column
	})
	return fmt.Errorf("%w:\n%w", ErrIntake, f.errs)
}

// nearWord is the candidate nearest to word: at most a third of the letters
// differ, or one is the beginning of the other. Ties go to the first.
func nearWord(word string, candidates []string) string {
	w := wordKey(word)
	best, bestDist := "", -1
	if len(w) > 200 {
		return ""
	}
	for _, c := range candidates {
		k := wordKey(c)
		d := swapDistance(w, k)
		n := max(len([]rune(w)), len([]rune(k)))
		near := d <= max(1, n/3) || min(len(w), len(k)) >= 3 && (strings.HasPrefix(w, k) || strings.HasPrefix(k, w))
		if near && d < n && (bestDist < 0 || d < bestDist) {
			best, bestDist = c, d
		} else if d == 0 && bestDist != 0 {
			best, bestDist = c, 0
		}
	}
	return best
}

// swapDistance counts the letters to add, drop, change or swap with their
// neighbour (optimal string alignment).
func swapDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	before, prev := []int(nil), make([]int, len(y)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(x); i++ {
		cur := make([]int, len(y)+1)
		cur[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				cur[j] = min(cur[j], before[j-2]+1)
			}
		}
		before, prev = prev, cur
	}
	return prev[len(y)]
}

// notes are comments of a proposed intake, by the line they belong to.
type notes map[string]string
