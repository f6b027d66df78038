package table

// Condition chooses rows: every clause must hold and, where Any is not
// empty, at least one of its conditions. The zero Condition keeps every row.
type Condition struct {
	Clauses []Clause
	Any     []Condition
}

// Test is the kind of a clause.
type Test int

// The tests a clause can make.
const (
	OneOf   Test = iota // the value is one of Values
	Between             // Low <= value <= High; an empty bound is open
	IsMissing
	IsKnown
)

// Clause is a test of one column. Values and bounds are text as written
// (dates as 2024-01-31) and are read by the kind of the column. A missing
// value meets no test but IsMissing. Line and Col say where the clause
// stands in the notebook (0 if nowhere).
type Clause struct {
	Column    string
	Test      Test
	Values    []string
	Low, High string
	Line, Col int
}
