package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// known counts the rows of one column in one period.
type known struct {
	rows, known int
	mask        bool // how many are known, or are not, stands for few people
}

func (k known) share() float64 {
	if k.rows == 0 {
		return math.NaN()
	}
	return float64(k.known) / float64(k.rows)
}

// completenessJob is an answer on what a log has of each row.
type completenessJob struct {
	*work
	columns []*table.Column
	periods []period
	partly  []string  // periods that the report has only a part of
	cells   [][]known // by column; all, then by period
}

// completeness answers how much of the log is filled in.
func completeness(w *work) error {
	j := &completenessJob{work: w}
	for _, n := range w.ask.Columns {
		c, err := w.column("columns", n)
		if err != nil {
			return err
		}
		j.columns = append(j.columns, c)
	}
	dated, err := j.datedOrNone()
	if err != nil {
		return err
	}
	rows := w.rows
	if dated != nil {
		rows = nil
		for _, i := range w.rows {
			if !dated.Missing[i] {
				rows = append(rows, i)
			}
		}
		if gone := len(w.rows) - len(rows); gone > 0 {
			w.steps = append(w.steps, cohort.Step{Step: "placed in time", Rows: len(rows), Excluded: gone, Reason: label(dated) + " not recorded"})
			w.caution("undated", "%s left out because the %s is not recorded.", words.Capital(w.n(gone, "row was", "rows were")), dateWords(dated))
		}
	}
	if len(rows) == 0 {
		return stats.ErrNoRows
	}
	w.rows = rows
	w.Answer.Rows = len(rows)
	if err := w.tooFew(len(rows)); err != nil {
		return err
	}
	if err := j.count(dated); err != nil {
		return err
	}
	j.tables()
	j.figure()
	j.words()
	j.attendRecorded()
	return nil
}

// datedOrNone is the column by which rows fall into periods; nil where they
// have none and none is asked for, so that there is one column of all.
func (j *completenessJob) datedOrNone() (*table.Column, error) {
	if j.ask.Dated == "" && !j.table.Has("date") && j.table.Name != "sockets" {
		if _, told := j.ask.KeyPos["period"]; !told {
			return nil, nil
		}
	}
	return j.datedColumn()
}

// mostPeriods is how many periods have a column on a page.
const mostPeriods = 12

func (j *completenessJob) count(dated *table.Column) error {
	at := map[float64]int{}
	if dated != nil {
		first, last := math.Inf(1), math.Inf(-1)
		for _, i := range j.rows {
			first, last = math.Min(first, dated.Num[i]), math.Max(last, dated.Num[i])
		}
		j.periods = j.work.periods(first, last)
		if n := len(j.periods); n > mostPeriods {
			return j.at("period", j.ask.Period, notebook.CodeImpossible, "there are %d %ss, more than the %d that have room on a page; take a longer period, or choose some with keep", n, j.ask.Period, mostPeriods)
		}
		begin, bounded := j.begin()
		for k, p := range j.periods {
			at[p.start] = k
			if bounded && p.start < begin || p.end-1 > j.ctx.Today {
				j.partly = append(j.partly, p.name)
			}
		}
	}
	for _, c := range j.columns {
		cells := make([]known, 1+len(j.periods))
		for _, i := range j.rows {
			places := []int{0}
			if dated != nil {
				places = append(places, 1+at[j.periodOf(dated.Num[i]).start])
			}
			for _, k := range places {
				cells[k].rows++
				if !c.Missing[i] {
					cells[k].known++
				}
			}
		}
		grid := make([][]int, 2)
		for _, k := range cells {
			grid[0], grid[1] = append(grid[0], k.known), append(grid[1], k.rows-k.known)
		}
		mask := maskGrid(grid, j.ctx.Front.HideBelow)
		for k := range cells {
			cells[k].mask = mask[0][k] || mask[1][k]
		}
		j.cells = append(j.cells, cells)
	}
	return nil
}

// head names a column of the strip.
func (j *completenessJob) head(k int) string {
	if k == 0 {
		return "All"
	}
	name := j.periods[k-1].words()
	for _, p := range j.partly {
		if p == j.periods[k-1].name {
			return name + " *"
		}
	}
	return name
}

// shown prints a share. One that would tell a small count is told as no more
// than what the rule for small counts lets be known.
func (j *completenessJob) shown(k known) string {
	switch {
	case k.rows == 0:
		return "–"
	case j.hiddenCount(k.rows):
		return "few"
	case k.mask && 2*k.known >= k.rows:
		return "most"
	case k.mask:
		return "some"
	}
	t := words.Percent(k.share(), min(k.rows, 99)) // whole percents do
	switch {
	case k.known < k.rows && t == "100%":
		return "> 99%"
	case k.known > 0 && t == "0%":
		return "< 1%"
	}
	return t
}

func (j *completenessJob) tables() {
	t := tableOf("rows", text("column"), text("period"), count("rows"), count("known"), number("percent", "%"))
	for c, cells := range j.cells {
		for k, cell := range cells {
			name := "all"
			if k > 0 {
				name = j.periods[k-1].name
			}
			t.row(j.columns[c].Name, name, cell.rows, cell.known, 100*cell.share())
			if cell.mask {
				j.drop(t, "known", "percent")
			}
			if j.hiddenCount(cell.rows) {
				j.drop(t, "rows", "known", "percent")
			}
		}
	}
	j.addTable(t)
}

func (j *completenessJob) figure() {
	spec := figure.TilesSpec{ID: j.ask.ID, Title: "What is recorded of " + j.rowsWords(), Axis: "Recorded"}
	if j.ask.Goal != nil {
		spec.Goal = *j.ask.Goal
	}
	for k := range 1 + len(j.periods) {
		spec.Heads = append(spec.Heads, j.head(k))
	}
	for c, cells := range j.cells {
		r := figure.TileRow{Name: words.Capital(label(j.columns[c]))}
		for _, k := range cells {
			t := figure.Tile{Share: k.share(), Text: j.shown(k), Below: j.under(k)}
			if k.mask || j.hiddenCount(k.rows) {
				t.Share = math.NaN()
			}
			r.Tiles = append(r.Tiles, t)
		}
		spec.Rows = append(spec.Rows, r)
	}
	j.Figures = append(j.Figures, figure.Tiles(spec))
	var notes []string
	if len(j.partly) > 0 {
		notes = append(notes, "*: only a part of it lies in the time of the report.")
	}
	if j.public() {
		notes = append(notes, "Most, some, few: a number would tell of few people.")
	}
	if len(notes) > 0 {
		j.print(document.Styled("small", strings.Join(notes, " ")))
	}
}

func (j *completenessJob) rowsWords() string {
	_, many := j.nouns()
	return many
}

// under says whether a share that is shown lies under the goal.
func (j *completenessJob) under(k known) bool {
	return j.ask.Goal != nil && k.rows > 0 && !k.mask && !j.hiddenCount(k.rows) && k.share() < *j.ask.Goal
}

func (j *completenessJob) words() {
	one, many := j.nouns()
	best, worst := -1, -1
	var low []string
	for c, cells := range j.cells {
		all := cells[0]
		if all.mask {
			continue
		}
		if best < 0 || all.share() > j.cells[best][0].share() {
			best = c
		}
		if worst < 0 || all.share() < j.cells[worst][0].share() {
			worst = c
		}
		if j.under(all) {
			low = append(low, label(j.columns[c])+" ("+j.shown(all)+")")
		}
	}
	switch {
	case worst < 0:
		j.Reading = fmt.Sprintf("Of %s nearly everything, or nearly nothing, is recorded in each column.", j.n(len(j.rows), one, many))
	case best == worst:
		j.Reading = fmt.Sprintf("Of %s, %s is recorded in %s.", j.n(len(j.rows), one, many), label(j.columns[worst]), j.shown(j.cells[worst][0]))
	default:
		j.Reading = fmt.Sprintf("Of %s, %s is recorded least often (%s) and %s most often (%s).", j.n(len(j.rows), one, many),
			label(j.columns[worst]), j.shown(j.cells[worst][0]), label(j.columns[best]), j.shown(j.cells[best][0]))
	}
	if len(low) > 0 {
		j.Reading += fmt.Sprintf(" Under the goal of %s: %s.", words.Percent(*j.ask.Goal, 50), words.List(low))
	}
	for c, cells := range j.cells {
		if all := cells[0]; !all.mask && all.known == 0 {
			j.caution("never-recorded", "%s is recorded of no %s: what rests on it says nothing.", words.Capital(label(j.columns[c])), one)
		}
		j.fell(c)
	}
	j.Methods = fmt.Sprintf("A value counts as recorded where the log has one that could be read; values set aside count as missing. Shares are of %s%s.", many, map[bool]string{true: " placed by " + j.ask.Period}[len(j.periods) > 0])
}

// fell warns where less is recorded in the last whole period than in the one
// before, by a fifth of all rows or more.
func (j *completenessJob) fell(c int) {
	var whole []int
	for k, p := range j.periods {
		part := false
		for _, n := range j.partly {
			part = part || n == p.name
		}
		if cell := j.cells[c][1+k]; !part && cell.rows >= 10 && !cell.mask {
			whole = append(whole, k)
		}
	}
	if n := len(whole); n >= 2 {
		a, b := j.cells[c][1+whole[n-2]], j.cells[c][1+whole[n-1]]
		if a.share()-b.share() >= 0.2 {
			j.caution("recorded-less", "%s was recorded of %s in %s and of %s in %s: what changed in the answers between may be the recording.", words.Capital(label(j.columns[c])),
				j.shown(a), j.periods[whole[n-2]].words(), j.shown(b), j.periods[whole[n-1]].words())
		}
	}
}
