package table

// Select returns a table of the named columns only. It shares their values
// with t, so that rows can be picked of a wide table without copying what no
// one asks for. Errors are a *ConditionError, as of Lookup.
func (t *Table) Select(names ...string) (*Table, error) {
	out := New(t.Name, t.rows)
	copy(out.Origin, t.Origin)
	for _, name := range names {
		c, err := t.Lookup(name)
		if err != nil {
			return nil, err
		}
		if err := out.Add(c); err != nil {
			return nil, err
		}
	}
	return out, nil
}
