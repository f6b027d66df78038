package answer

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"plybook/analysis/quality"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// regionName is a region as it is printed.
func regionName(r string) string {
	if r == "" {
		return "region not recorded"
	}
	return r
}

// tissue is what lies under a region: bony yes, no or not said.
func (j *mapJob) tissue(region string) (bony, known bool) {
	bony, known = j.ctx.Bony[region]
	return bony, known
}

// tissueWords say what lies under a region and whether it bears pressure at
// the level.
func (j *mapJob) tissueWords(region, level string) string {
	bony, known := j.tissue(region)
	text := "–"
	if known {
		text = map[bool]string{true: "bone", false: "soft"}[bony]
	}
	if p := j.ctx.Pressure[region][level]; p != "" {
		text += ", " + p
	}
	return text
}

// onDrawing says whether a region stands on the drawing of a level.
func onDrawing(level, region string) bool { return len(figure.LimbShows(level, region)) > 0 }

func (j *mapJob) tables() {
	levels := tableOf("levels", text("level"), text("period"), text("drawing"), count("visits"), count("visits_checked"), count("persons"), count("findings"), count("visits_with"), number("per_100", ""), number("low", ""), number("high", ""))
	regions := tableOf("regions", text("level"), text("period"), text("region"), flag("bony"), text("pressure"), flag("drawn"), count("findings"), count("visits_with"), count("persons"), count("visits_checked"), number("per_100", ""), number("low", ""), number("high", ""))
	changes := tableOf("changes", text("level"), text("region"), number("before", ""), number("since", ""), number("difference", ""), number("low", ""), number("high", ""))
	share := func(s *quality.VisitShare) (rate, low, high float64) {
		if s == nil {
			return math.NaN(), math.NaN(), math.NaN()
		}
		return 100 * s.Estimate, 100 * s.Low, 100 * s.High
	}
	for _, l := range j.levels {
		of, drawn := figure.LimbDrawn(l.level)
		for k, t := range l.times {
			rate, low, high := share(t.any.share)
			var drawing any
			if drawn {
				drawing = of
			}
			levels.row(l.level, j.names[k], drawing, t.visits, t.checked, len(t.byPerson), t.findings, t.any.with, rate, low, high)
			if t.any.hidden {
				j.drop(levels, "visits_with", "per_100", "low", "high")
			}
			if t.twice {
				j.drop(levels, "findings")
			}
			if j.hiddenCount(t.visits - t.checked) {
				j.drop(levels, "visits")
			}
			for _, r := range l.regions {
				p := t.places[r]
				if p == nil {
					p = newPlace()
				}
				var bony, pressure any
				if b, ok := j.tissue(r); ok {
					bony = b
				}
				pressure = orNil(j.ctx.Pressure[r][l.level])
				rate, low, high := share(p.share)
				regions.row(l.level, j.names[k], orNil(r), bony, pressure, onDrawing(l.level, r), p.findings, p.with, len(p.persons), t.checked, rate, low, high)
				switch {
				case p.hidden:
					j.drop(regions, "findings", "visits_with", "persons", "per_100", "low", "high")
				case t.twice:
					j.drop(regions, "findings")
				}
			}
		}
		for _, c := range j.changesOf(l) {
			b, s := 100*c.change.Before.Estimate, 100*c.change.Since.Estimate
			changes.row(l.level, orNil(c.region), b, s, 100*c.change.Difference, 100*c.change.Low, 100*c.change.High)
		}
	}
	j.addTable(levels)
	j.addTable(regions)
	if j.change != nil {
		j.addTable(changes)
	}
}

// placeChange is how the share of a region changed.
type placeChange struct {
	region string
	change *quality.VisitChange
}

// changesOf compares the two times of a level by region, as far as both may
// be shown.
func (j *mapJob) changesOf(l *placeLevel) []placeChange {
	if j.change == nil || l.times[0].checked == 0 || l.times[1].checked == 0 {
		return nil
	}
	var out []placeChange
	for _, r := range l.regions {
		b, s := l.times[0].places[r], l.times[1].places[r]
		if b.hidden || s.hidden {
			continue
		}
		c, err := quality.ChangeOfVisits(l.perPerson(l.times[0], b), l.perPerson(l.times[1], s), j.ask.Confidence)
		if err == nil {
			out = append(out, placeChange{r, c})
		}
	}
	return out
}

func (j *mapJob) printed() {
	first := true
	for _, l := range j.levels {
		if _, drawn := figure.LimbDrawn(l.level); drawn && j.anyDrawn(l) {
			spec := j.limbSpec(l)
			spec.ID = j.ask.ID
			if !first {
				spec.ID += "-" + fileName(l.level)
			}
			first = false
			j.Figures = append(j.Figures, figure.Limb(spec))
		}
	}
	var bare []string
	for _, l := range j.levels {
		if len(l.regions) == 0 {
			continue
		}
		t := j.placeTable(l)
		if len(t.Rows) == 0 { // all are withheld
			bare = append(bare, l.level)
			continue
		}
		j.print(t)
	}
	t := j.levelTable()
	if len(bare) > 0 {
		t.Notes = append(t.Notes, "Regions are not given of "+words.List(bare)+", since each stands for few people.")
	}
	j.print(t)
}

// anyDrawn says whether anything of a level stands on its drawing and may be
// shown.
func (j *mapJob) anyDrawn(l *placeLevel) bool {
	for _, r := range l.regions {
		for _, t := range l.times {
			if p := t.places[r]; p != nil && p.with > 0 && !p.hidden && onDrawing(l.level, r) {
				return true
			}
		}
	}
	return false
}

// timeName is a time as it is printed.
func (j *mapJob) timeName(k int) string {
	if j.change == nil {
		return ""
	}
	return []string{"Before ", "Since "}[k] + words.Date(*j.change)
}

func (j *mapJob) limbSpec(l *placeLevel) figure.LimbSpec {
	of, _ := figure.LimbDrawn(l.level)
	spec := figure.LimbSpec{Title: words.Capital(l.level) + ": findings by region", Level: l.level, What: "visits with " + j.what()}
	var off []string
	var withheld []string
	for k, t := range l.times {
		lt := figure.LimbTime{}
		if j.change != nil {
			lt.Name = fmt.Sprintf("%s: %s", j.timeName(k), j.n(t.checked, "visit", "visits"))
		}
		for _, r := range l.regions {
			p := t.places[r]
			if p == nil || p.with == 0 {
				continue
			}
			if p.hidden {
				withheld = append(withheld, regionName(r))
				continue
			}
			m := figure.LimbMark{Region: r, Name: words.Capital(regionName(r)), Tissue: figure.LimbEither, Count: p.with, Per100: 100 * p.share.Estimate,
				Text: fmt.Sprintf("%s (%s)", j.cell(p.with), rate100(p.share))}
			if bony, known := j.tissue(r); known && bony {
				m.Tissue = figure.LimbBone
			} else if known {
				m.Tissue = figure.LimbSoft
			}
			if !onDrawing(l.level, r) {
				text := fmt.Sprintf("%s %s", regionName(r), m.Text)
				if j.change != nil {
					text += " " + j.names[k]
				}
				off = append(off, text)
				continue
			}
			lt.Marks = append(lt.Marks, m)
		}
		spec.Times = append(spec.Times, lt)
	}
	if j.change == nil {
		spec.Notes = append(spec.Notes, fmt.Sprintf("%s with the skin checked.", words.Capital(j.n(l.times[0].checked, "visit", "visits"))))
	}
	spec.Notes = append(spec.Notes, j.sidesWords(l)+" A region seen from several sides is marked on each and counts once.")
	if of != l.level {
		spec.Notes = append(spec.Notes, fmt.Sprintf("Drawn on a %s limb, the nearest for which there is a drawing.", of))
	}
	if len(off) > 0 {
		spec.Notes = append(spec.Notes, "Not on the drawing: "+strings.Join(off, "; ")+".")
	}
	if len(withheld) > 0 {
		sort.Strings(withheld)
		spec.Notes = append(spec.Notes, "Not drawn, since each stands for few people: "+strings.Join(compact(withheld), "; ")+".")
	}
	return spec
}

// compact takes out what stands twice in a sorted list.
func compact(list []string) []string {
	var out []string
	for i, s := range list {
		if i == 0 || s != list[i-1] {
			out = append(out, s)
		}
	}
	return out
}

// sidesWords say that both sides stand on one drawing.
func (j *mapJob) sidesWords(l *placeLevel) string {
	left, right := len(l.sides["left"]), len(l.sides["right"])
	switch {
	case left > 0 && right > 0:
		return fmt.Sprintf("Right limbs and left ones, mirrored, stand on one drawing of a right limb (%s).", j.parts([]string{"right", "left"}, []int{right, left}))
	case left > 0:
		return "All limbs are left ones, mirrored on the drawing of a right limb."
	}
	return "The drawing is of a right limb."
}

// placeTable is the printed table of a level's regions.
func (j *mapJob) placeTable(l *placeLevel) document.Table {
	t := document.Table{ID: j.ask.ID + "-regions-" + fileName(l.level), Caption: words.Capital(l.level) + ": visits with " + j.what() + ", by region",
		Columns: []document.TableColumn{{Head: "Region", Wide: true}, {Head: "Tissue"}}}
	interval := words.Capital(j.confidenceWords())
	head := func(names ...string) {
		for _, n := range names {
			t.Columns = append(t.Columns, document.TableColumn{Head: n, Align: document.Right})
		}
	}
	if j.change == nil {
		head("Findings", "Visits", "Per 100", interval)
	} else {
		head("Before", "per 100", "Since", "per 100", "Difference", interval)
	}
	changed := map[string]*quality.VisitChange{}
	for _, c := range j.changesOf(l) {
		changed[c.region] = c.change
	}
	var hidden []string
	for _, r := range l.regions {
		row := []string{words.Capital(regionName(r)), j.tissueWords(r, l.level)}
		if _, drawn := figure.LimbDrawn(l.level); drawn && !onDrawing(l.level, r) {
			row[0] += " *"
		}
		gone := true
		for _, x := range l.times {
			p := x.places[r]
			switch {
			case p == nil:
				row = append(row, "–", "–")
				continue
			case p.hidden && j.change != nil:
				row = append(row, j.hiddenCell(p.with), "hidden")
				continue
			case p.hidden:
				continue
			}
			gone = false
			if j.change == nil {
				findings := "hidden"
				if !x.twice {
					findings = j.cell(p.findings)
				}
				row = append(row, findings, j.cell(p.with), within100(p.share), limits100(p.share))
			} else {
				row = append(row, j.cell(p.with), rate100(p.share))
			}
		}
		if gone && j.public() {
			hidden = append(hidden, regionName(r))
			continue
		}
		if j.change != nil {
			if c := changed[r]; c != nil && !math.IsNaN(c.Low) {
				row = append(row, words.Signed(100*c.Difference, 100*c.Low, 100*c.High), words.Interval(100*c.Low, 100*c.High))
			} else {
				row = append(row, "–", "–")
			}
		}
		t.Rows = append(t.Rows, row)
	}
	note := "Per 100 visits with the skin checked"
	if j.change != nil {
		note += fmt.Sprintf(", of which there were %s before and %s since", j.cell(l.times[0].checked), j.cell(l.times[1].checked))
	} else {
		note += ", of which there were " + j.cell(l.times[0].checked)
	}
	t.Notes = append(t.Notes, note+". A visit counts once for each region at which anything was found.")
	if _, drawn := figure.LimbDrawn(l.level); !drawn {
		t.Notes = append(t.Notes, "There is no drawing of a limb of this level ("+l.level+"), so that the table stands alone.")
	} else {
		for _, r := range t.Rows {
			if strings.HasSuffix(r[0], " *") {
				t.Notes = append(t.Notes, "* Not on the drawing.")
				break
			}
		}
	}
	if len(hidden) > 0 {
		sort.Strings(hidden)
		t.Notes = append(t.Notes, "Not given, since each stands for few people: "+strings.Join(hidden, "; ")+".")
	}
	return t
}

// levelTable sets the levels side by side.
func (j *mapJob) levelTable() document.Table {
	t := document.Table{ID: j.ask.ID + "-levels", Caption: "Visits with the skin checked, by level", Columns: []document.TableColumn{{Head: "Level", Wide: true}}}
	if j.change != nil {
		t.Columns = append(t.Columns, document.TableColumn{Head: ""})
	}
	for _, h := range []string{"Persons", "Visits", "Skin checked", "With a finding", "Per 100", words.Capital(j.confidenceWords())} {
		t.Columns = append(t.Columns, document.TableColumn{Head: h, Align: document.Right})
	}
	for _, l := range j.levels {
		for k, x := range l.times {
			row := []string{words.Capital(l.level)}
			if j.change != nil {
				row = append(row, j.names[k])
			}
			visits := j.cell(x.visits)
			if j.hiddenCount(x.visits - x.checked) {
				visits = "hidden"
			}
			row = append(row, j.cell(len(x.byPerson)), visits, j.cell(x.checked))
			switch {
			case x.checked == 0:
				row = append(row, "–", "–", "–")
			case x.any.hidden:
				row = append(row, j.hiddenCell(x.any.with), "hidden", "hidden")
			default:
				row = append(row, j.cell(x.any.with), within100(x.any.share), limits100(x.any.share))
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}
