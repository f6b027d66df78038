package notebook

import (
	"fmt"
	"strings"
)

// Pos is a place in a notebook. Line and Column count from 1, the column in
// characters (not bytes); the zero Pos is no place.
type Pos struct {
	File         string
	Line, Column int
}

// String is "file:line:column".
func (p Pos) String() string { return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column) }

// Before says whether p stands before q in the same file.
func (p Pos) Before(q Pos) bool {
	return p.Line < q.Line || p.Line == q.Line && p.Column < q.Column
}

// The codes of errors and warnings, stable for programs.
const (
	CodeNotUTF8       = "not-utf8"        // the file is not UTF-8 text
	CodeNoFront       = "no-front-matter" // the file does not begin with front matter
	CodeUnterminated  = "unterminated"    // front matter or a block is never closed
	CodeBadYAML       = "bad-yaml"        // what stands there is not YAML, or YAML that a notebook does not take
	CodeTab           = "tab"             // a tab or a no-break space indents
	CodeUnknownKey    = "unknown-key"
	CodeDuplicateKey  = "duplicate-key"
	CodeMissingKey    = "missing-key"   // a key that is needed is not there
	CodeKeyNotTaken   = "key-not-taken" // a key that other methods take
	CodeUnknownMethod = "unknown-method"
	CodeWrongType     = "wrong-type" // a list where one value is wanted, text where a number is, ...
	CodeBadValue      = "bad-value"  // of the right type, but not one of the values allowed
	CodeBadDate       = "bad-date"
	CodeBadDuration   = "bad-duration"
	CodeBadRange      = "bad-range"
	CodeBadID         = "bad-id"
	CodeDuplicateID   = "duplicate-id"
	CodeUnknownID     = "unknown-id" // `follows` names no ask
	CodeImpossible    = "impossible" // keys that contradict one another
	CodeDropped       = "dropped"    // a warning: prose that a report cannot show
	CodeNotRun        = "not-run"    // a warning: a block that looks like an ask and is not one
)

// Error is a fault at a place in a notebook. Nearest is the valid word
// closest to the one found, empty where none is close.
type Error struct {
	Pos
	Code    string
	Text    string
	Nearest string
}

// Error is "file:line:column: text".
func (e *Error) Error() string { return e.Pos.String() + ": " + e.Text }

// Errors is every fault found in a notebook's front matter, in order of
// place. It is never empty when returned as an error.
type Errors []*Error

// Error is the faults, one on a line.
func (e Errors) Error() string {
	lines := make([]string, len(e))
	for i, x := range e {
		lines[i] = x.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the faults to errors.As.
func (e Errors) Unwrap() []error {
	out := make([]error, len(e))
	for i, x := range e {
		out[i] = x
	}
	return out
}
