package answer

import (
	"plybook/reports/document"
	"plybook/reports/words"
)

// mostBefore is how many periods stand beside the last one, so that a table
// of years shows five.
const mostBefore = 4

// splitTable prints the persons, limbs and sockets of the last complete
// period in the groups of each of `columns`, beside the sockets of those
// before it. cell prints a count or withholds it.
func (j *caseloadJob) splitTable(cell func(hide bool, n int) string) document.Table {
	last, _ := j.latest()
	var before []int
	for k := last - 1; k >= 0 && len(before) < mostBefore; k-- {
		if j.periods[k].part == "" {
			before = append(before, k)
		}
	}
	now := j.periods[last]
	t := document.Table{ID: j.ask.ID + "-groups", Caption: "Persons, limbs and sockets of " + now.words(), Columns: []document.TableColumn{{Head: "", Wide: true}}}
	for _, h := range []string{"Persons", "Limbs", "Sockets"} {
		t.Columns = append(t.Columns, document.TableColumn{Head: h, Align: document.Right})
	}
	for _, k := range before {
		t.Columns = append(t.Columns, document.TableColumn{Head: "Sockets " + j.periods[k].words(), Align: document.Right})
	}
	persons, limbs := j.shown(now.all, now.hidden)
	row := []string{"All", cell(!persons, len(now.all.persons)), cell(!limbs, len(now.all.limbs)), cell(now.hidden, now.all.sockets)}
	for _, k := range before {
		p := j.periods[k]
		row = append(row, cell(p.hidden, p.all.sockets))
	}
	t.Strong = append(t.Strong, 0)
	t.Rows = append(t.Rows, row)
	for c, by := range j.columns {
		t.Strong = append(t.Strong, len(t.Rows))
		head := make([]string, len(t.Columns))
		head[0] = words.Capital(by.label)
		t.Rows = append(t.Rows, head)
		masks := j.groupMask(now, now.split[c])
		for g, name := range j.names(by) {
			x, m := now.split[c][g], masks[g]
			row := []string{"  " + name, cell(m.persons, len(x.persons)), cell(m.limbs, len(x.limbs)), cell(m.sockets, x.sockets)}
			any := x.sockets > 0
			for _, k := range before {
				p := j.periods[k]
				n := p.split[c][g].sockets
				any = any || n > 0
				row = append(row, cell(j.groupMask(p, p.split[c])[g].sockets, n))
			}
			if any {
				t.Rows = append(t.Rows, row)
			}
		}
	}
	t.Notes = []string{"Somebody fitted at two ages, or with limbs of two levels, stands in both groups, so that persons and limbs need not add up."}
	if now.part != "" {
		t.Notes = append(t.Notes, "Not complete: "+now.name+" "+now.part+".")
	}
	return t
}
