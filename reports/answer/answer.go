// Package answer turns the numbers of a method into an answer: tables of
// full precision for programs, a figure, a reading in plain words, cautions
// raised by the data, and the method's sentence for a paper. One method is
// one file and one line of the registry.
package answer

import (
	"plybook/reports/document"
	"plybook/reports/figure"
)

// Answer is what one ask came to. If Error is set, the rest is empty but
// for ID, Method and Question.
type Answer struct {
	ID         string
	Method     string
	Question   string
	Rows       int
	Events     int
	HasEvents  bool
	Tables     []Table
	Hidden     []HiddenCell
	Reading    string
	Short      string // one or two sentences of the reading, the number first
	Shown      string // id of the figure and the table printed in short; empty: the first figure and no table
	Attention  string // what in the answer asks for a decision; empty: nothing
	Urgency    Urgency
	Cautions   []Caution
	Methods    string   // sentence for a paper
	References []string // full references of the method
	Figures    []*figure.Figure
	Print      []document.Block   // printed tables, rounded; shown after the reading
	Main       []string           // IDs of the tables and figures that tell most; empty: the first figure, and the first table unless the figure has its numbers
	Note       string             // the asker's own note
	Since      map[int]string     // by line of a decision that follows this ask: what the chart says since
	Masked     map[HiddenCell]int // counts that the method itself withholds; written nowhere
	Counted    []Counted          // for public audiences: the rows that the counts stand for
	Error      *Error
}

// Caution is a doubt that the reader must see beside the number.
type Caution struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// Error is why an ask failed, and where it stands in the notebook.
type Error struct {
	Code   string `json:"code"`
	Text   string `json:"text"`
	File   string `json:"file"`
	Line   int    `json:"line"`
	Column int    `json:"column"`
}

// Type is the type of a column of numbers.
type Type int

// The types of a column in the numbers.
const (
	TypeText Type = iota
	TypeNumber
	TypeCount // whole number of persons, sockets, visits or events: subject to hiding
	TypeInt   // whole number that counts nobody
	TypeDate  // ISO text in JSON, a true date in XLSX; value is days since 1970-01-01
	TypeBool
)

// Column describes a column of numbers.
type Column struct {
	Name string
	Unit string
	Type Type
}

// Table is a table of numbers at full precision. Values are string,
// float64, int, bool or nil (missing, not computed); never NaN.
type Table struct {
	Name    string
	Columns []Column
	Rows    [][]any
}

// HiddenCell names a value withheld because it stands for few people.
type HiddenCell struct {
	Table  string `json:"table"`
	Row    int    `json:"row"`
	Column string `json:"column"`
}
