package answer

import (
	"fmt"
	"math"

	"plybook/analysis/survival"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// hiddenText is what is printed in the place of a number withheld.
const hiddenText = "hidden"

// rateText is a rate with its interval.
func rateText(r survival.GroupRate) string {
	switch {
	case r.HasBounds:
		return words.Rate(r.Estimate, r.Low, r.High) + " (" + words.RateRange(r.Low, r.High) + ")"
	case r.HasRate:
		return words.Plain(r.Estimate)
	}
	return words.NotComputed
}

// ratioText is the ratio of the rate of a group to that of the first.
func ratioText(r survival.GroupRate, first, hidden bool) string {
	switch {
	case first:
		return "1"
	case hidden:
		return hiddenText
	case r.HasRatioBounds:
		return words.RatioWithin(r.Ratio, r.RatioLow, r.RatioHigh) + " (" + words.RatioRange(r.RatioLow, r.RatioHigh) + ")"
	case r.HasRatio:
		return words.Plain(r.Ratio)
	}
	return words.NotComputed
}

// daysText are days as median and quartiles.
func daysText(sorted []float64) string {
	if len(sorted) == 0 {
		return "none"
	}
	return words.Fixed(quantileOf(sorted, 0.5), 0) + " (" + words.Fixed(quantileOf(sorted, 0.25), 0) + " to " + words.Fixed(quantileOf(sorted, 0.75), 0) + ")"
}

func (w *work) personsPrint(gs []group, looked []lookedAt) document.Table {
	t := document.Table{ID: w.ask.ID + "-seen", Caption: "How often persons were seen" + byWords(w.ask.By), Columns: []document.TableColumn{
		{Head: "", Wide: true}, {Head: "Persons", Align: document.Right}, {Head: "Person-years", Align: document.Right}, {Head: "Days seen", Align: document.Right}, {Head: "Days seen per person-year", Align: document.Right}}}
	if len(gs) > 1 {
		t.Columns = append(t.Columns, document.TableColumn{Head: "Ratio to " + w.groupName(gs[0].name), Align: document.Right})
	}
	for k, g := range gs {
		x := looked[k]
		row := []string{w.groupName(g.name)}
		if x.hidden {
			for range t.Columns[1:] {
				row = append(row, hiddenText)
			}
		} else {
			row = append(row, w.cell(x.persons.Clusters), words.Plain(x.persons.Watched), w.cell(int(x.persons.Events)), rateText(x.persons))
			if len(gs) > 1 {
				row = append(row, ratioText(x.persons, k == 0, looked[0].hidden))
			}
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{"In brackets: " + w.confidenceWords() + ". Days on which a person was seen about any of these sockets, after the start and while it was watched."}
	return t
}

func (w *work) socketsPrint(gs []group, looked []lookedAt) document.Table {
	cells := [][]string{{"", "Sockets", "Visits per socket-year", "Days between looks: median (quartiles)", "Never looked at", "Still in use at the end",
		"Days since last heard of: median (quartiles)", "Not heard of for over a year"}}
	for k, g := range gs {
		x := looked[k]
		row := []string{w.groupName(g.name)}
		if x.hidden {
			for range cells[0][1:] {
				row = append(row, hiddenText)
			}
		} else {
			row = append(row, w.cell(len(g.index)), rateText(x.rate), daysText(x.gaps), w.cell(x.without), w.cell(len(x.quiet)), daysText(x.quiet), w.cell(x.unseen))
			for j, hide := range map[int]bool{4: x.hiddenWithout, 5: x.hiddenQuiet, 6: x.hiddenQuiet, 7: x.hiddenUnseen} {
				if hide {
					row[j] = hiddenText
				}
			}
		}
		cells = append(cells, row)
	}
	if len(gs) <= 3 {
		cells = transposed(cells)
	}
	t := document.Table{ID: w.ask.ID + "-looks", Caption: "How often sockets were looked at, and how long ago those in use were heard of" + byWords(w.ask.By)}
	t.Columns, t.Rows = headed(cells)
	t.Notes = []string{"In use: no end is recorded. Such a socket is last heard of with any row about its person."}
	return t
}

// seenFigure draws how often persons of each group were seen.
func (w *work) seenFigure(gs []group, looked []lookedAt) {
	term := figure.ForestTerm{}
	for k, g := range gs {
		x := looked[k]
		if x.hidden || !x.persons.HasRate {
			continue
		}
		r := figure.ForestRow{Label: w.groupName(g.name), Estimate: x.persons.Estimate, Low: x.persons.Low, High: x.persons.High, Detail: w.cell(x.persons.Clusters)}
		if !x.persons.HasBounds {
			r.Low, r.High = math.NaN(), math.NaN()
		}
		term.Rows = append(term.Rows, r)
	}
	if len(term.Rows) < 2 {
		return
	}
	term.Name = words.Capital(plainName(w.ask.By))
	w.Figures = append(w.Figures, figure.Forest(figure.ForestSpec{ID: w.ask.ID, Title: "How often persons were seen" + byWords(w.ask.By), Measure: "Days seen per person-year",
		Linear: true, NoLine: true, DetailHead: "Persons", Confidence: w.ask.Confidence, Terms: []figure.ForestTerm{term}}))
}

// seenUnequally warns where one group was looked at more often than another:
// what visits find is found sooner there.
func (w *work) seenUnequally(gs []group, looked []lookedAt) {
	worst, most := -1, 1.25
	for k := 1; k < len(gs); k++ {
		r := looked[k].persons
		if looked[k].hidden || looked[0].hidden || !r.HasRatioBounds || r.RatioLow <= 1 && r.RatioHigh >= 1 {
			continue
		}
		if apart := math.Max(r.Ratio, 1/r.Ratio); apart > most {
			worst, most = k, apart
		}
	}
	if worst < 0 {
		return
	}
	often, seldom := gs[worst].name, gs[0].name
	if looked[worst].persons.Ratio < 1 {
		often, seldom = seldom, often
	}
	w.caution("seen-unequally", "Persons of the group %s were seen %s times as often as those of the group %s, for the same time watched. What only a visit can show is found sooner where visits are more frequent, so that a comparison of findings, ply or comfort, and of remakes decided at visits, differs by that too; or people came more often because they were in trouble.",
		w.display(often), words.Fixed(most, 1), w.display(seldom))
}

func (w *work) followUpWords(gs []group, looked []lookedAt) {
	var said []string
	for k, g := range gs {
		x := looked[k]
		if x.hidden || !x.persons.HasRate {
			continue
		}
		s := words.Plain(x.persons.Estimate)
		if x.persons.HasBounds {
			s = words.Rate(x.persons.Estimate, x.persons.Low, x.persons.High) + " (" + w.confidenceWords() + " " + words.RateRange(x.persons.Low, x.persons.High) + ")"
		}
		if w.ask.By != "" {
			s = w.display(g.name) + " " + s
		}
		said = append(said, s)
	}
	w.Reading = fmt.Sprintf("%s followed.", words.Capital(w.n(w.Answer.Rows, "socket was", "sockets were")))
	for _, t := range w.Tables {
		if t.Name != "follow_up" {
			continue
		}
		var half []string
		for _, r := range t.Rows {
			if m, ok := r[2].(float64); ok {
				name := ""
				if w.ask.By != "" {
					name = " in the group " + w.display(r[0].(string))
				}
				half = append(half, "at least "+words.Span(m)+name)
			}
		}
		if len(half) > 0 {
			w.Reading += " Half were followed for " + words.List(half) + ", taking remakes as what cut the follow-up short."
		}
	}
	if len(said) > 0 {
		w.Reading += " Days seen per person-year: " + words.List(said) + "."
	}
	w.Methods = "Follow-up is the median of the Kaplan-Meier curve with events and censorings exchanged"
	if w.ask.Event.Condition == nil && w.ask.End == "" {
		w.Methods += "; its completeness is the time watched over the time that could have been, had everyone without a known end been followed to the data cut"
	}
	w.Methods += ". Rates of events have exact Poisson intervals, which take sockets of one person as independent, and beside them intervals by Poisson regression with errors summed by person. Days on which a person was seen about any of the sockets per person-year, visits per socket-year, and their ratios have intervals by Poisson regression with the time watched as offset and errors summed by person; where nothing was seen, exact Poisson limits. A person is watched while any socket of the group is."
	w.References = append(w.References, w.watchedReferences()...)
	w.References = append(w.References, "Liang KY, Zeger SL. Longitudinal data analysis using generalized linear models. Biometrika 1986; 73: 13-22.")
}
