package answer

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// watched is a socket in use with its risk.
type watched struct {
	life           int
	row            int // of the table of moments
	worn           float64
	x              []float64
	risk           float64
	low, high      float64
	hasBounds      bool
	skin           bool
	lastVisit      float64
	hasVisit       bool
	reasons        []reason
	raises, lowers string
}

// unranked is a socket in use of which the model says nothing.
type unranked struct {
	life int
	worn float64
	why  string
	skin bool
}

// reason is what a term does to the risk of a socket beside the typical one.
type reason struct {
	term    string
	value   string
	typical string
	change  float64 // of the log hazard
	words   string
}

// typical is the value in the middle of the sockets ranked, or the category
// of most of them.
type typical struct {
	text  string
	value float64
	x     []float64 // the columns of the term
}

// rank predicts for every socket in use.
func (p *watchWork) rank() error {
	broken := p.brokenNow()
	for k, m := range p.now {
		row := len(p.stack) + k
		day, visit, has := p.LastVisit(m.Of)
		why := ""
		x, err := p.d.Row(p.table, row)
		var lack *design.LackError
		risk := 0.0
		switch {
		case p.Unseen[m.Of]:
			why = "not heard of for 12 months"
		case errors.As(err, &lack) && lack.Value == "":
			why = p.columnLabel(lack.Column) + " not recorded"
		case errors.As(err, &lack):
			why = fmt.Sprintf("%s %s, as no socket of the model", p.columnLabel(lack.Column), lack.Value)
		case err != nil:
			return err
		default:
			risk, err = p.fit.Risk(m.Time, x)
			first, _ := p.fit.Reach()
			switch {
			case errors.Is(err, survival.ErrBeyond) && m.Time < first:
				why = "worn for a shorter time than the model begins with"
			case errors.Is(err, survival.ErrBeyond):
				why = "worn longer than the log can tell of"
			case errors.Is(err, survival.ErrNoneThen):
				why = "none worn so long was " + p.causes[0].past + " " + p.aheadWords()
			case err != nil:
				return err
			}
		}
		if why != "" {
			p.unranked = append(p.unranked, unranked{m.Of, m.Time, why, broken[visit] && has})
			continue
		}
		p.ranked = append(p.ranked, watched{life: m.Of, row: row, worn: m.Time, x: x, risk: risk, skin: has && broken[visit], lastVisit: day, hasVisit: has})
	}
	slices.SortStableFunc(p.ranked, func(a, b watched) int { return cmp.Compare(b.risk, a.risk) })
	slices.SortStableFunc(p.unranked, func(a, b unranked) int { return cmp.Compare(a.why, b.why) })
	if len(p.ranked) > 0 {
		p.explain()
	}
	return nil
}

// brokenNow are the visits at which broken skin was found.
func (p *watchWork) brokenNow() map[string]bool {
	out := map[string]bool{}
	t, err := p.ctx.Cohort.Rows(cohort.Findings)
	if err != nil {
		return out
	}
	visit, ok1 := t.Col("visit")
	finding, ok2 := t.Col("finding")
	if ok1 && ok2 {
		for i := range t.Rows() {
			if brokenSkin[finding.Text[i]] {
				out[visit.Text[i]] = true
			}
		}
	}
	return out
}

// bareLabel is a label without what stands in brackets.
func bareLabel(s string) string {
	if i := strings.Index(s, " ("); i > 0 {
		return s[:i]
	}
	return s
}

// explain finds the reasons of each risk: for each term the coefficients times
// what sets the socket apart from the typical one, and for the time worn the
// hazard ahead against that of the typical time.
func (p *watchWork) explain() {
	for k, term := range p.d.TermNames {
		c, _ := p.table.Col(term)
		var t typical
		if p.d.Cats[k] == nil {
			var xs []float64
			for _, r := range p.ranked {
				xs = append(xs, c.Num[r.row])
			}
			slices.Sort(xs)
			t.value = sortedQuantile(xs, 0.5)
			t.text = words.Plain(t.value)
			row := make([]float64, len(p.d.Columns))
			p.d.SetNumber(row, term, t.value)
			t.x = row
		} else {
			n := map[string]int{}
			for _, r := range p.ranked {
				n[valueText(c, r.row)]++
			}
			t.text = sortedKeys(n)[0]
			t.x = make([]float64, len(p.d.Columns))
			for _, j := range p.d.ColumnsOf(term) {
				if p.d.Columns[j].Category == t.text {
					t.x[j] = 1
				}
			}
		}
		p.typical = append(p.typical, t)
	}
	var worn []float64
	for _, r := range p.ranked {
		worn = append(worn, r.worn)
	}
	slices.Sort(worn)
	p.typical = append(p.typical, typical{value: sortedQuantile(worn, 0.5)})
	for i := range p.ranked {
		p.reasonsOf(&p.ranked[i])
	}
}

func (p *watchWork) reasonsOf(r *watched) {
	for k, term := range p.d.TermNames {
		t := p.typical[k]
		why := reason{term: term, typical: t.text}
		for _, j := range p.d.ColumnsOf(term) {
			why.change += p.fit.Event.Coef[j] * (r.x[j] - t.x[j])
		}
		c, _ := p.table.Col(term)
		name := bareLabel(p.columnLabel(term))
		if p.d.Cats[k] == nil {
			v := c.Num[r.row]
			why.value = words.Plain(v)
			side := "higher"
			if v < t.value {
				side = "lower"
			}
			unit := unitAfter(name, c.Unit)
			why.words = fmt.Sprintf("%s %s%s, %s than most (%s)", name, why.value, unit, side, t.text)
		} else {
			why.value = valueText(c, r.row)
			why.words = fmt.Sprintf("%s %s (most: %s)", name, p.display(why.value), p.display(t.text))
		}
		r.reasons = append(r.reasons, why)
	}
	usual := p.typical[len(p.typical)-1].value
	why := reason{term: "time worn", value: words.Plain(r.worn), typical: words.Plain(usual)}
	if h, h0 := p.fit.Hazard(r.worn), p.fit.Hazard(usual); h > 0 && h0 > 0 {
		why.change = math.Log(h / h0)
	}
	side := "longer"
	if r.worn < usual {
		side = "for less time"
	}
	why.words = fmt.Sprintf("worn %s than most (%s)", side, wornWords(usual))
	r.reasons = append(r.reasons, why)
	slices.SortStableFunc(r.reasons, func(a, b reason) int { return cmp.Compare(math.Abs(b.change), math.Abs(a.change)) })
	r.raises, r.lowers = p.said(r.reasons, 1), p.said(r.reasons, -1)
}

// unitAfter is the unit to print after a value, unless the name tells it.
func unitAfter(name, unit string) string {
	if unit == "" || strings.Contains(name, unit) || strings.HasPrefix(unit, "of ") || strings.HasPrefix(unit, "0 to ") {
		return ""
	}
	if unit == "%" {
		return unit
	}
	return " " + unit
}

const (
	// leastReason is by how much a term must change the hazard to be named:
	// a tenth. Common practice, no source.
	leastReason = 0.0953
	// mostReasons is how many are named on each side.
	mostReasons = 3
)

func (p *watchWork) said(rs []reason, side float64) string {
	var out []string
	for _, r := range rs {
		if r.change*side >= leastReason && len(out) < mostReasons {
			out = append(out, r.words)
		}
	}
	return strings.Join(out, "; ")
}

// shown says whether single sockets may be listed.
func (p *watchWork) shown() bool { return p.ctx.Names.Show && !p.ctx.Names.Public && !p.public() }

// listed puts the list into the numbers and, its head, into print.
func (p *watchWork) listed() {
	list := tableOf("sockets", integer("place"), text("socket"), number("worn", "days"), Column{Name: "last_visit", Type: TypeDate}, number("risk", ""),
		number("low", ""), number("high", ""), flag("broken_skin"), text("raises"), text("lowers"))
	reasons := tableOf("reasons", text("socket"), text("term"), text("value"), text("typical"), number("log_ratio", ""))
	rest := tableOf("not_ranked", text("socket"), number("worn", "days"), text("reason"), flag("broken_skin"))
	defer func() {
		p.addTable(list)
		p.addTable(reasons)
		p.addTable(rest)
	}()
	if !p.shown() {
		return
	}
	name := p.socketName()
	one := document.Table{ID: p.ask.ID + "-sockets", Caption: fmt.Sprintf("Sockets in use on %s by their risk of %s %s", words.Date(p.ctx.Today), causeWords(p.causes[0].name), p.aheadWords()),
		Columns: []document.TableColumn{{Head: "Place", Align: document.Right}, {Head: "Socket"}, {Head: "Worn", Align: document.Right}, {Head: "Last visit"},
			{Head: "Risk", Align: document.Right}, {Head: "Why, beside most", Wide: true}},
		Notes: []string{fmt.Sprintf("In brackets: %s. What raises or lowers the risk by a tenth or more is named, the most first, with the value in the middle of the sockets ranked in brackets (of words, the most frequent).", p.confidenceWords())}}
	spec := figure.RankedSpec{ID: p.ask.ID + "-list", Title: words.Capital(causeWords(p.causes[0].name)) + " " + p.aheadWords() + ", by socket", Measure: "Risk of " + causeWords(p.causes[0].name) + " " + p.aheadWords(),
		Confidence: p.ask.Confidence, DetailHead: "Worn", Mark: "broken skin at the last visit: see first"}
	mean := 0.0
	for i, r := range p.ranked {
		mean += r.risk / float64(len(p.ranked))
		var visit any
		if r.hasVisit {
			visit = r.lastVisit
		}
		list.row(i+1, name(r.life), r.worn, visit, r.risk, when(r.hasBounds, r.low), when(r.hasBounds, r.high), r.skin, orNil(r.raises), orNil(r.lowers))
		for _, x := range r.reasons {
			reasons.row(name(r.life), x.term, x.value, x.typical, x.change)
		}
		if i >= p.ask.Listed {
			continue
		}
		seen := "none recorded"
		if r.hasVisit {
			seen = words.ISODate(r.lastVisit)
		}
		one.Rows = append(one.Rows, []string{words.Fixed(float64(i+1), 0), name(r.life), wornWords(r.worn), seen, riskRange(r), why(r)})
		bar := figure.RankedRow{Name: name(r.life), Detail: wornWords(r.worn), Value: r.risk, Low: math.NaN(), High: math.NaN(), Marked: r.skin}
		if r.hasBounds {
			bar.Low, bar.High = r.low, r.high
		}
		spec.Rows = append(spec.Rows, bar)
	}
	if n := len(p.ranked); n > p.ask.Listed {
		one.Notes = append(one.Notes, fmt.Sprintf("The first %d of %d sockets are printed; all stand in the workbook of numbers.", p.ask.Listed, n))
	}
	spec.Mean, spec.MeanName = mean, "mean of those ranked"
	for _, r := range p.unranked {
		rest.row(name(r.life), r.worn, r.why, r.skin)
	}
	if len(one.Rows) > 0 {
		p.Figures = append(p.Figures, figure.Ranked(spec))
		p.print(one)
	}
	if len(p.unranked) > 0 {
		p.print(p.unrankedPrint(name))
	}
}

// socketName names the socket of a life by its code.
func (p *watchWork) socketName() func(life int) string {
	c, ok := p.lives.picked.Col("socket")
	return func(life int) string {
		if !ok {
			return ""
		}
		return valueText(c, p.Row[life])
	}
}

func riskRange(r watched) string {
	if !r.hasBounds {
		return riskWords(r.risk)
	}
	return words.PercentWithin(r.risk, r.low, r.high) + " (" + words.PercentRange(r.low, r.high) + ")"
}

// wornWords prints how long a socket was worn, in months, so that all on a
// list share a unit.
func wornWords(days float64) string { return words.Count(days/table.DaysPerMonth, "month", "months") }

// riskWords prints a risk in whole percents.
func riskWords(risk float64) string { return words.Percent(risk, 50) }

func why(r watched) string {
	var out []string
	if r.skin {
		out = append(out, "Broken skin at the last visit: see first.")
	}
	if r.raises != "" {
		out = append(out, "Raised: "+r.raises+".")
	}
	if r.lowers != "" {
		out = append(out, "Lowered: "+r.lowers+".")
	}
	if len(out) == 0 {
		return "Like most."
	}
	return strings.Join(out, " ")
}

// unrankedPrint lists the sockets without a place by why they have none.
func (p *watchWork) unrankedPrint(name func(int) string) document.Table {
	out := document.Table{ID: p.ask.ID + "-not-ranked", Caption: "Sockets in use without a place on the list", Columns: []document.TableColumn{
		{Head: "Why", Wide: true}, {Head: "Number", Align: document.Right}, {Head: "Sockets", Wide: true}},
		Notes: []string{"No place says nothing of the risk: whoever has not been heard of for long is to be called."}}
	const most = 30
	for i := 0; i < len(p.unranked); {
		k := i
		var codes []string
		for ; k < len(p.unranked) && p.unranked[k].why == p.unranked[i].why; k++ {
			if len(codes) < most {
				codes = append(codes, name(p.unranked[k].life))
			}
		}
		text := strings.Join(codes, ", ")
		if k-i > most {
			text += fmt.Sprintf(" and %d more", k-i-most)
		}
		out.Rows = append(out.Rows, []string{words.Capital(p.unranked[i].why), words.Fixed(float64(k-i), 0), text})
		i = k
	}
	return out
}
