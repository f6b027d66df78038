package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// profileRow turns a profile into the columns of a design: numbers enter as
// they are, categories by name, and columns not named take the reference
// category or the mean.
func (w *work) profileRow(p notebook.Profile, d *design.Design) ([]float64, error) {
	for _, name := range p.Columns {
		found := false
		for _, t := range d.TermNames {
			found = found || t == name
		}
		if !found {
			return nil, &notebook.Error{Pos: p.Pos, Code: "unknown-column", Text: fmt.Sprintf("the profile names %s, which is not a term of the model", name)}
		}
	}
	x := make([]float64, len(d.Columns))
	byTerm := map[string][]int{}
	for j, c := range d.Columns {
		byTerm[c.Term] = append(byTerm[c.Term], j)
	}
	for _, term := range d.TermNames {
		if strings.Contains(term, " × ") {
			continue
		}
		cols := byTerm[term]
		v, given := p.Values[term]
		first := d.Columns[cols[0]]
		if first.Category == "" {
			if !given {
				d.SetNumber(x, term, average(d.X[cols[0]]))
				continue
			}
			f, err := parseNumber(v)
			if err != nil {
				return nil, &notebook.Error{Pos: p.Pos, Code: notebook.CodeBadValue, Text: fmt.Sprintf("%s is a number, but the profile says %q", term, v)}
			}
			d.SetNumber(x, term, f)
			continue
		}
		if !given || v == first.Reference {
			continue
		}
		hit := false
		for _, j := range cols {
			if strings.EqualFold(d.Columns[j].Category, v) {
				x[j], hit = 1, true
			}
		}
		if !hit {
			cats := []string{first.Reference}
			for _, j := range cols {
				cats = append(cats, d.Columns[j].Category)
			}
			text := fmt.Sprintf("no row used has %s %q", term, v)
			near := table.Nearest(v, cats)
			if near != "" {
				text += fmt.Sprintf("; did you mean %q?", near)
			} else if len(cats) <= maxGroups {
				text += "; it can be " + strings.Join(cats, ", ")
			}
			return nil, &notebook.Error{Pos: p.Pos, Code: notebook.CodeBadValue, Text: text, Nearest: near}
		}
	}
	return x, w.fillProducts(x, d)
}

// fillProducts works out the product columns of a profile from the others,
// in the order in which the design made them.
func (w *work) fillProducts(x []float64, d *design.Design) error {
	byTerm := map[string][]int{}
	for j, c := range d.Columns {
		byTerm[c.Term] = append(byTerm[c.Term], j)
	}
	for _, pair := range w.ask.Interact {
		cols := byTerm[pair[0]+" × "+pair[1]]
		k := 0
		for _, a := range byTerm[pair[0]] {
			for _, b := range byTerm[pair[1]] {
				if k >= len(cols) {
					return fmt.Errorf("the product of %s and %s lacks columns", pair[0], pair[1])
				}
				x[cols[k]] = x[a] * x[b]
				k++
			}
		}
	}
	return nil
}

func average(xs []float64) float64 {
	m := 0.0
	for i, x := range xs {
		m += (x - m) / float64(i+1)
	}
	return m
}

// profileName says a profile in words.
func profileName(p notebook.Profile) string {
	var parts []string
	for _, c := range p.Columns {
		parts = append(parts, plainName(c)+" "+p.Values[c])
	}
	return strings.Join(parts, ", ")
}
