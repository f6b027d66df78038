package numbers

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"time"

	"plybook/reports/answer"
)

// WriteJSON writes numbers.json. Objects keep the order of the columns, one
// row is one line, numbers are the shortest text that reads back to the same
// value, dates are ISO text, what is missing or withheld is null. A value
// that is not finite is an error that names its place (*ValueError), and
// then nothing is written.
//
// An answer whose number of rows or events is itself withheld has null
// there, and its hidden list an entry with an empty table and row -1.
func WriteJSON(w io.Writer, run Run) error {
	if err := checkAll(run); err != nil {
		return fmt.Errorf("writing numbers.json: %w", err)
	}
	buf := bufio.NewWriter(w)
	j := jsonWriter{w: buf}
	j.run(run)
	if j.err != nil {
		return fmt.Errorf("writing numbers.json: %w", j.err)
	}
	if err := buf.Flush(); err != nil {
		return fmt.Errorf("writing numbers.json: %w", err)
	}
	return nil
}

type jsonWriter struct {
	w   *bufio.Writer
	err error
}

func (j *jsonWriter) raw(s string) {
	if j.err == nil {
		_, j.err = j.w.WriteString(s)
	}
}

// value writes any scalar as JSON, without the escapes meant for web pages.
func (j *jsonWriter) value(v any) {
	if j.err != nil {
		return
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if j.err = e.Encode(v); j.err == nil {
		_, j.err = j.w.Write(bytes.TrimRight(b.Bytes(), "\n"))
	}
}

// pair writes "name":value, with a comma before it unless it is the first.
func (j *jsonWriter) pair(first bool, name string, v any) {
	if !first {
		j.raw(",")
	}
	j.value(name)
	j.raw(":")
	j.value(v)
}

func (j *jsonWriter) run(run Run) {
	j.raw("{")
	j.pair(true, "schema", Schema)
	j.pair(false, "plybook", run.Release)
	j.pair(false, "hide_below", run.HideBelow)
	j.raw(",\n\"inputs\":[")
	for i, in := range run.Inputs {
		j.raw(between(i))
		j.raw("{")
		j.pair(true, "file", in.File)
		j.pair(false, "sha256", in.SHA256)
		j.pair(false, "sheet", in.Sheet)
		j.pair(false, "read", in.Read)
		j.pair(false, "used", in.Used)
		j.pair(false, "set_aside", in.SetAside)
		j.pair(false, "values_set_aside", in.ValuesSetAside)
		j.raw("}")
	}
	j.analyses(run.Analyses)
	j.raw("],\n\"answers\":[")
	for i, a := range run.Answers {
		j.raw(between(i))
		j.answer(a)
	}
	j.raw("]}\n")
}

func between(i int) string {
	if i == 0 {
		return "\n"
	}
	return ",\n"
}

func (j *jsonWriter) answer(a answer.Answer) {
	j.raw("{")
	j.pair(true, "id", a.ID)
	j.pair(false, "method", a.Method)
	j.pair(false, "question", a.Question)
	var rows, events any
	if !withheld(a, "rows") && a.Error == nil {
		rows = a.Rows
	}
	if a.HasEvents && !withheld(a, "events") && a.Error == nil {
		events = a.Events
	}
	j.pair(false, "rows", rows)
	j.pair(false, "events", events)
	j.raw(",\n \"tables\":{")
	for i, t := range a.Tables {
		j.raw(between(i))
		j.raw("  ")
		j.value(t.Name)
		j.raw(":[")
		for k, r := range t.Rows {
			j.raw(between(k))
			j.raw("   ")
			j.row(t.Columns, r)
		}
		j.raw("]")
	}
	j.raw("},\n \"hidden\":[")
	for i, h := range a.Hidden {
		if i > 0 {
			j.raw(",")
		}
		j.value(h)
	}
	j.raw("]")
	j.raw(",\n ")
	j.pair(true, "reading", a.Reading)
	j.raw(",\n \"cautions\":[")
	for i, c := range a.Cautions {
		j.raw(between(i))
		j.raw("  ")
		j.value(c)
	}
	j.raw("],\n ")
	j.pair(true, "error", a.Error)
	j.raw("}")
}

// row writes a row as an object in the order of the columns.
func (j *jsonWriter) row(columns []answer.Column, r []any) {
	j.raw("{")
	for k, c := range columns {
		if k > 0 {
			j.raw(",")
		}
		j.value(c.Name)
		j.raw(":")
		switch v, _ := plain(c, r[k]); x := v.(type) {
		case time.Time:
			j.raw(strconv.Quote(x.Format(dateLayout)))
		default:
			j.value(x)
		}
	}
	j.raw("}")
}

// withheld reports whether a whole answer's own count was hidden.
func withheld(a answer.Answer, column string) bool {
	for _, h := range a.Hidden {
		if h.Table == "" && h.Column == column {
			return true
		}
	}
	return false
}
