package answer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

func (j *caseloadJob) tables() {
	rows := tableOf("rows", text("period"), flag("complete"), text("group"), count("persons"), count("limbs"), count("sockets"), count("first"), count("later"), count("number_not_known"), count("preparatory"), count("check"))
	split := tableOf("groups", text("period"), flag("complete"), text("column"), text("category"), count("persons"), count("limbs"), count("sockets"))
	fit := tableOf("fittings", text("period"), count("sockets"), count("fittings"), number("per_socket", ""))
	for _, p := range j.periods {
		t := p.all
		rows.row(p.name, p.part == "", "all", len(t.persons), len(t.limbs), t.sockets, t.first, t.later, t.unknown, t.prep, t.check)
		j.dropTally(rows, t, p.hidden)
		for k, name := range []string{"first", "later", "number_not_known", "preparatory"} {
			if j.partMask(p)[k] {
				j.drop(rows, name)
			}
		}
		for g, m := range j.groupMask(p, p.groups) {
			t := p.groups[g]
			rows.row(p.name, p.part == "", j.by.names[g], len(t.persons), len(t.limbs), t.sockets, nil, nil, nil, nil, nil)
			j.dropMask(rows, m)
		}
		for c, by := range j.columns {
			for g, m := range j.groupMask(p, p.split[c]) {
				t := p.split[c][g]
				split.row(p.name, p.part == "", by.column, by.names[g], len(t.persons), len(t.limbs), t.sockets)
				j.dropMask(split, m)
			}
		}
		each, masked := perSocket(t), slices.Contains(j.partMask(p), true)
		if masked {
			each = math.Round(100*each) / 100
		}
		fit.row(p.name, t.fitted, t.fittings, each)
		if masked { // the number of definitive sockets would tell the kinds withheld
			j.drop(fit, "sockets", "fittings")
		}
		if p.hidden || j.hiddenCount(t.fitted) {
			j.drop(fit, "sockets", "fittings", "per_socket")
		}
	}
	j.addTable(rows)
	if len(j.columns) > 0 {
		j.addTable(split)
	}
	j.addTable(fit)
}

// dropMask withholds what may not be shown of a group in the last row.
func (j *caseloadJob) dropMask(to *Table, m loadMask) {
	for _, c := range []struct {
		hide bool
		name string
	}{{m.persons, "persons"}, {m.limbs, "limbs"}, {m.sockets, "sockets"}} {
		if c.hide {
			j.drop(to, c.name)
		}
	}
}

func perSocket(t *tally) float64 {
	if t.fitted == 0 {
		return math.NaN()
	}
	return float64(t.fittings) / float64(t.fitted)
}

// dropTally withholds what may not be shown of the last row.
func (j *caseloadJob) dropTally(to *Table, t *tally, hidden bool) {
	persons, limbs := j.shown(t, hidden)
	if hidden {
		j.drop(to, "sockets", "check")
	}
	if j.hiddenCount(t.check) {
		j.drop(to, "check")
	}
	if !persons {
		j.drop(to, "persons")
	}
	if !limbs {
		j.drop(to, "limbs")
	}
}

func (j *caseloadJob) printed() {
	right := func(heads ...string) []document.TableColumn {
		out := []document.TableColumn{{Head: words.Capital(j.ask.Period)}}
		for _, h := range heads {
			out = append(out, document.TableColumn{Head: h, Align: document.Right})
		}
		return out
	}
	cell := func(hide bool, n int) string {
		if hide {
			return j.hiddenCell(n)
		}
		return j.cell(n)
	}
	name := func(p loadPeriod) string {
		if p.part != "" {
			return p.name + " *"
		}
		return p.name
	}
	t := document.Table{ID: j.ask.ID + "-load", Caption: "Persons, limbs and sockets by " + j.ask.Period,
		Columns: right("Persons", "Limbs", "Sockets", "First", "Later", "Not known which", "Preparatory", "Check sockets", "Fittings each")}
	spec := figure.ColumnsSpec{ID: j.ask.ID, Title: "Sockets by " + j.ask.Period, Axis: "Sockets delivered"}
	var parts [][]float64
	by, names := document.Table{}, partNames
	if j.by != nil {
		names = j.names(j.by)
		spec.Title = "Sockets by " + j.ask.Period + " and " + j.by.label
		by = document.Table{ID: j.ask.ID + "-by", Caption: "Sockets delivered, by " + j.ask.Period + " and " + j.by.label, Columns: right(names...)}
	}
	parts = make([][]float64, len(names))
	var why []string
	for _, p := range j.periods {
		persons, limbs := j.shown(p.all, p.hidden)
		pm, a := j.partMask(p), p.all
		row := []string{name(p), cell(!persons, len(a.persons)), cell(!limbs, len(a.limbs)), cell(p.hidden, a.sockets)}
		for k, n := range a.parts() {
			row = append(row, cell(pm[k], n))
		}
		each := "–"
		if x := perSocket(a); !math.IsNaN(x) && !p.hidden && !j.hiddenCount(a.fitted) {
			each = words.Fixed(x, 2)
		}
		t.Rows = append(t.Rows, append(row, cell(p.hidden, a.check), each))
		if p.part != "" {
			why = append(why, p.name+": "+p.part)
		}
		spec.Periods = append(spec.Periods, name(p))
		grow := func(k int, hide bool, n int) {
			x := float64(n)
			if hide {
				x = math.NaN()
			}
			parts[k] = append(parts[k], x)
		}
		if j.by == nil {
			for k, n := range a.parts() {
				grow(k, pm[k], n)
			}
			continue
		}
		r := []string{name(p)}
		for g, m := range j.groupMask(p, p.groups) {
			r = append(r, cell(m.sockets, p.groups[g].sockets))
			grow(g, m.sockets, p.groups[g].sockets)
		}
		by.Rows = append(by.Rows, r)
	}
	for k, v := range parts {
		any := false
		for _, x := range v {
			any = any || x != 0
		}
		if any {
			spec.Parts = append(spec.Parts, figure.ColumnPart{Name: words.Capital(names[k]), Values: v})
		}
	}
	spec.Parts = j.remainder(spec.Parts)
	for _, p := range j.periods {
		total := float64(p.all.sockets)
		if p.hidden {
			total = math.NaN()
		}
		spec.Totals = append(spec.Totals, total)
	}
	if len(why) > 0 {
		note := "* Not complete: " + strings.Join(why, "; ") + "."
		t.Notes, by.Notes, spec.LastPart = append(t.Notes, note), append(by.Notes, note), note
	}
	t.Notes = append(t.Notes, "Persons and limbs are counted once a "+j.ask.Period+". Check sockets stand where they were first tried on, and are not among the sockets. Fittings each: check fittings to a definitive socket, on average.")
	if j.public() {
		t.Notes = append(t.Notes, fmt.Sprintf("Counts from 1 to %d are not given, nor others from which they could be worked out.", j.ctx.Front.HideBelow-1))
	}
	j.Figures = append(j.Figures, figure.Columns(spec))
	j.print(t)
	if j.by != nil {
		j.print(by)
	}
	if len(j.columns) > 0 {
		j.print(j.splitTable(cell))
	}
}

// remainder puts the parts withheld into one on top, so that each column is
// as high as all its sockets, which are shown. A column withheld whole stays
// empty.
func (j *caseloadJob) remainder(parts []figure.ColumnPart) []figure.ColumnPart {
	rest := figure.ColumnPart{Name: "Withheld, together", Values: make([]float64, len(j.periods))}
	any := false
	for i, p := range j.periods {
		if p.hidden {
			rest.Values[i] = math.NaN()
			continue
		}
		left := float64(p.all.sockets)
		for k := range parts {
			if v := parts[k].Values[i]; !math.IsNaN(v) {
				left -= v
				continue
			}
			any = true
		}
		rest.Values[i] = left
	}
	if !any {
		return parts
	}
	return append(parts, rest)
}

// names are groups as they are printed.
func (j *caseloadJob) names(of *loadGroups) []string {
	out := make([]string, len(of.names))
	for g, n := range of.names {
		out[g] = words.Capital(j.display(n))
		if n == notRecorded || of.column == "age" {
			out[g] = words.Capital(n)
		}
	}
	return out
}

// latest is the last complete period, or the last of all where none is, and
// the complete one before it; -1 where there is none.
func (j *caseloadJob) latest() (last, before int) {
	last, before = -1, -1
	for k, p := range j.periods {
		if p.part == "" {
			before, last = last, k
		}
	}
	if last < 0 {
		last = len(j.periods) - 1
	}
	return last, before
}

func (j *caseloadJob) words() {
	last, before := j.latest()
	unknown := false
	var part []string
	for _, p := range j.periods {
		unknown = unknown || p.all.unknown > 0
		if p.part != "" {
			part = append(part, p.name+" ("+p.part+")")
		}
	}
	p := j.periods[last]
	persons, limbs := j.shown(p.all, p.hidden)
	if p.hidden {
		j.Reading = fmt.Sprintf("So few sockets were delivered in %s that their number is not given.", p.name)
	} else {
		j.Reading = fmt.Sprintf("In %s %s delivered", p.name, words.N(p.all.sockets, "socket was", "sockets were"))
		if persons {
			j.Reading += " to " + words.N(len(p.all.persons), "person", "persons")
		}
		if limbs {
			j.Reading += ", for " + words.N(len(p.all.limbs), "limb", "limbs")
		}
		if m := j.partMask(p); !m[0] && !m[1] {
			j.Reading += fmt.Sprintf("; %s a limb's first definitive, %s a later one", words.N(p.all.first, "was", "were"), words.Fixed(float64(p.all.later), 0))
		}
		j.Reading += "."
		if before >= 0 && !j.periods[before].hidden {
			b := j.periods[before]
			j.Reading += fmt.Sprintf(" In %s there were %s.", b.name, words.Fixed(float64(b.all.sockets), 0))
		}
	}
	if len(part) > 0 {
		j.caution("incomplete-period", "Not complete, and not to be compared with the others: %s.", words.List(part))
	}
	if unknown {
		j.caution("number-unknown", "Of some definitive sockets it is not known which of the limb they are: the log has no number for them, and the amputation lies before its beginning. They count neither as first nor as later.")
	}
	if j.undated > 0 {
		j.caution("no-date", "Sockets without the day that places them in a %s are not counted. Those not yet delivered are among them.", j.ask.Period)
	}
	day := "delivered"
	if j.ask.Dated != "" {
		day = "of " + j.columnLabel(j.ask.Dated)
	}
	j.Methods = fmt.Sprintf("Persons, limbs and sockets were counted by %s (%s); persons and limbs once in each, so that they do not add up over %ss. Check sockets were counted apart, by their first check fitting.", j.ask.Period, day, j.ask.Period)
	if j.ask.By == "age" || slices.Contains(j.ask.Columns, "age") {
		j.Methods += " Ages are those at delivery, in bands of common practice."
	}
}
