package design

// Parts says into which part of a split each row of a split design falls.
type Parts struct {
	Names []string
	Of    []int // for each row, an index into Names
}

// Split is the design of rows of, each an index into the rows of d (a row may
// come again and again, as when it is cut at a time), in which each term of
// parts has its columns once for each part: a row has its value in the columns
// of its own part, and 0 in the others. So every part has an effect of its own.
// A column's parts stand together, in order. Rows numbers the rows anew, from 0.
func (d *Design) Split(of []int, parts map[string]Parts) *Design {
	out := &Design{TermNames: d.TermNames, Dropped: d.Dropped, Missing: d.Missing, Counts: d.Counts, Cats: d.Cats, Splines: d.Splines, Rows: make([]int, len(of))}
	for i := range of {
		out.Rows[i] = i
	}
	for j := 0; j < len(d.Columns); {
		end := j
		for end < len(d.Columns) && d.Term[end] == d.Term[j] {
			end++
		}
		p, split := parts[d.Columns[j].Term]
		if !split {
			p = Parts{Names: []string{""}}
		}
		for c := j; c < end; c++ {
			for k, name := range p.Names {
				x := make([]float64, len(of))
				for i, r := range of {
					if !split || p.Of[i] == k {
						x[i] = d.X[c][r]
					}
				}
				column := d.Columns[c]
				column.Part = name
				out.X, out.Columns, out.Term = append(out.X, x), append(out.Columns, column), append(out.Term, d.Term[c])
			}
		}
		j = end
	}
	return out
}

// InPart gives the columns of a term in one part, by its name.
func (d *Design) InPart(term, part string) []int {
	var out []int
	for j, c := range d.Columns {
		if c.Term == term && c.Part == part {
			out = append(out, j)
		}
	}
	return out
}
