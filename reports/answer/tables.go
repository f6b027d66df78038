package answer

import "math"

// tableOf begins a table of numbers. Columns are "name", or "name:type" with
// type count, int, number, text, date or bool; number is the default.
func tableOf(name string, columns ...Column) *Table {
	return &Table{Name: name, Columns: columns}
}

func text(name string) Column         { return Column{Name: name, Type: TypeText} }
func count(name string) Column        { return Column{Name: name, Type: TypeCount} }
func integer(name string) Column      { return Column{Name: name, Type: TypeInt} }
func flag(name string) Column         { return Column{Name: name, Type: TypeBool} }
func number(name, unit string) Column { return Column{Name: name, Unit: unit, Type: TypeNumber} }

// row appends a row; values that are not finite become missing.
func (t *Table) row(values ...any) {
	for i, v := range values {
		switch x := v.(type) {
		case float64:
			values[i] = finite(x)
			if t.Columns[i].Type == TypeCount && !math.IsNaN(x) && x == math.Trunc(x) {
				values[i] = int(x)
			}
		case *float64:
			values[i] = nil
			if x != nil {
				values[i] = finite(*x)
			}
		}
	}
	t.Rows = append(t.Rows, values)
}

// finite is the number, or nil where it is not finite.
func finite(x float64) any {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return x
}

// when is the number where known, else nil.
func when(ok bool, x float64) any {
	if !ok {
		return nil
	}
	return finite(x)
}

// orNil is the text where there is any, else nil.
func orNil(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func (w *work) addTable(t *Table) { w.Tables = append(w.Tables, *t) }

// numbers is a table that the answer has already; nil where it has none.
func (w *work) numbers(name string) *Table {
	for i := range w.Tables {
		if w.Tables[i].Name == name {
			return &w.Tables[i]
		}
	}
	return nil
}
