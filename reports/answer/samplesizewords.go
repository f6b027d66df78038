package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// powerPoints is the number of points of a power curve.
const powerPoints = 60

// powerCurves draws and lists the power by number of sockets.
func (p *planWork) powerCurves() error {
	most := 0
	for _, r := range p.rows {
		most = max(most, r.sockets)
	}
	step := max(1, int(math.Ceil(1.15*float64(most)/powerPoints)))
	t := tableOf("power", number("ratio", ""), integer("sockets"), number("events", ""), number("power", ""))
	spec := figure.TrajectoriesSpec{ID: p.ask.ID, Title: "Chance of seeing the difference, by number of sockets",
		XAxis: "Sockets watched", YAxis: "Chance of seeing it", YUnit: "%", Confidence: p.ask.Confidence}
	for _, ratio := range p.ask.Ratios {
		r, err := p.planFor(ratio, 0)
		if err != nil {
			return p.planError(err)
		}
		line := figure.GroupLine{Name: p.ratioWord() + " " + words.AsWritten(ratio)}
		for k := 1; k <= powerPoints; k++ {
			n := float64(k * step)
			power, err := r.plan.Power(n)
			if err != nil {
				return p.planError(err)
			}
			t.row(ratio, k*step, r.plan.EventsFrom(n), power)
			line.Line = append(line.Line, figure.BandPoint{X: n, Y: 100 * power, Low: math.NaN(), High: math.NaN()})
		}
		spec.Groups = append(spec.Groups, line)
	}
	for _, power := range p.ask.Power {
		spec.Guides = append(spec.Guides, figure.Guide{Name: words.AsWritten(100*power) + "%",
			Points: []figure.XY{{X: float64(step), Y: 100 * power}, {X: float64(powerPoints * step), Y: 100 * power}}})
	}
	p.addTable(t)
	p.Figures = append(p.Figures, figure.Trajectories(spec))
	return nil
}

func (p *planWork) ratioWord() string {
	if p.ask.Plan == "cumulative-incidence" {
		return "subdistribution ratio"
	}
	return "hazard ratio"
}

// seen says what is to be seen.
func (p *planWork) seen(ratio float64) string {
	s := "a " + p.ratioWord() + " of " + words.AsWritten(ratio)
	if p.column != nil {
		s += " for each " + strings.TrimSpace(perUnit(p.column.Unit)+" of ") + " " + label(p.column)
	}
	return s
}

func (p *planWork) eventNoun(n float64) string {
	return words.Count(n, "event", "events")
}

func (p *planWork) planReading() string {
	var parts []string
	for i, r := range p.rows {
		if r.solvedForPow {
			parts = append(parts, fmt.Sprintf("With %s the chance is %s.", words.N(r.sockets, "socket", "sockets"), words.Percent(r.power, 100)))
			continue
		}
		if r.power != p.ask.Power[0] {
			continue // the table has them all
		}
		s := fmt.Sprintf("To see %s with a chance of %s takes %s, each followed for %s, %s among them",
			p.seen(r.ratio), words.AsWritten(100*r.power)+"%", words.N(r.sockets, "socket", "sockets"), p.ask.Until.Words(), p.eventNoun(math.Ceil(r.events-1e-9)))
		if r.few > 0 && r.many > 0 {
			s += fmt.Sprintf(" (%s to %s sockets, since the log knows the share of events only so well)",
				words.Fixed(float64(min(r.few, r.many)), 0), words.Fixed(float64(max(r.few, r.many)), 0))
		}
		if i == 0 && !math.IsNaN(r.years) && !p.hiddenCount(p.lastYear) {
			s += fmt.Sprintf(". At the %s that came in the last 12 months of the log, that is %s of deliveries", p.n(p.lastYear, "such socket", "such sockets"), words.Count(math.Round(10*r.years)/10, "year", "years"))
		}
		parts = append(parts, s+".")
	}
	r := p.rows[0]
	what := fmt.Sprintf("The plan takes it from the log that %s of such sockets are %s", words.Percent(r.group, p.Len()), p.causes[0].past)
	if p.ask.Accrual != nil {
		what += fmt.Sprintf(" within a follow-up of %s for the last to come, the sockets coming in over %s", p.ask.Until.Words(), p.ask.Accrual.Words())
	} else {
		what += " by " + p.ask.Until.Words()
	}
	parts = append(parts, what+". It says nothing on whether there is a difference.")
	return strings.Join(parts, " ")
}

func (p *planWork) planPrint() document.Table {
	t := document.Table{ID: p.ask.ID + "-table", Caption: "Sockets needed", Columns: []document.TableColumn{
		{Head: words.Capital(p.ratioWord()), Align: document.Right}, {Head: "Chance of seeing it", Align: document.Right}, {Head: "Events", Align: document.Right},
		{Head: "Sockets", Align: document.Right}, {Head: "Persons, about", Align: document.Right}, {Head: "Share with the event", Align: document.Right}}}
	pace := p.lastYear > 0 && !p.hiddenCount(p.lastYear)
	if pace {
		t.Columns = append(t.Columns, document.TableColumn{Head: "Years at the present pace", Align: document.Right})
	}
	for _, r := range p.rows {
		power := words.AsWritten(100*r.power) + "%"
		if r.solvedForPow {
			power = words.Percent(r.power, 100)
		}
		row := []string{words.AsWritten(r.ratio), power, words.Fixed(math.Ceil(r.events-1e-9), 0), words.Fixed(float64(r.sockets), 0),
			words.Fixed(r.persons, 0), words.Percent(r.share, p.Len())}
		if r.solvedForPow {
			row[3] += " (given)"
			row[2] = words.Fixed(r.events, 0)
		}
		if pace {
			row = append(row, words.Fixed(r.years, 1))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (p *planWork) planCautions() {
	if p.work.Events < 10 {
		p.caution("few-events", "%s in the log: the share with the event, on which the plan rests, is known only roughly.", p.only(p.work.Events, "event", "events"))
	}
	if p.repeats && p.ask.WithinPerson == 0 {
		p.caution("not-clustered", "Some persons have several sockets, and the plan takes them as independent. Write within_person with the correlation that you expect, such as 0.05, to allow for it; the number of sockets then rises.")
	}
	least := math.Inf(1)
	for _, r := range p.rows {
		least = math.Min(least, r.events)
	}
	if least < 20 {
		p.caution("few-planned", "A plan of fewer than 20 events rests on a formula for many: take the number as a floor, and let a statistician look at it.")
	}
	if r := p.rows[0]; !r.solvedForPow && r.years > 10 && !p.hiddenCount(p.lastYear) {
		p.caution("long", "At the present pace this takes more than 10 years: one lab alone will not answer it. Several labs together might, or a larger difference must be looked for.")
	}
}

func (p *planWork) planMethods() {
	s := fmt.Sprintf("The number of events was worked out from the normal distribution of the log of the %s under proportional hazards, two-sided at the %s%% level, ",
		p.ratioWord(), words.AsWritten(100*(1-p.ask.Confidence)))
	if p.column == nil {
		s += fmt.Sprintf("with %s of sockets in the second group", words.AsWritten(100*p.ask.Share)+"%")
	} else {
		s += fmt.Sprintf("with the standard deviation of %s among the sockets of the log (%s)", label(p.column), words.Plain(round3(math.Sqrt(p.variance))))
	}
	if p.ask.Explained > 0 {
		s += fmt.Sprintf(", %s of whose variance other columns explain", words.AsWritten(100*p.ask.Explained)+"%")
	}
	how := "the Kaplan-Meier curve"
	if p.ask.Plan == "cumulative-incidence" {
		how = "the cumulative incidence, other endings competing,"
	}
	s += fmt.Sprintf("; the share of sockets %s by the end of follow-up was read from %s of the log", p.causes[0].past, how)
	if p.ask.Accrual != nil {
		s += fmt.Sprintf(" and averaged over an even entry during %s (Simpson's rule)", p.ask.Accrual.Words())
	}
	s += "."
	if p.ask.WithinPerson > 0 {
		s += fmt.Sprintf(" Sockets of one person are taken to be correlated by %s, which multiplies the number by %s.", words.AsWritten(p.ask.WithinPerson), words.Fixed(p.effect, 2))
	}
	if p.ask.Lost > 0 {
		s += fmt.Sprintf(" %s of sockets are taken to be lost before they can tell.", words.AsWritten(100*p.ask.Lost)+"%")
	}
	p.Methods = s
	p.References = append(p.References, "Schoenfeld DA. Sample-size formula for the proportional-hazards regression model. Biometrics 1983; 39: 499-503.")
	if p.ask.Plan == "cox" {
		p.References = append(p.References, "Hsieh FY, Lavori PW. Sample-size calculations for the Cox proportional hazards regression model with nonbinary covariates. Control Clin Trials 2000; 21: 552-560.")
	}
	if p.ask.Plan == "cumulative-incidence" {
		p.References = append(p.References, "Latouche A, Porcher R, Chevret S. Sample size formula for proportional hazards modelling of competing risks. Stat Med 2004; 23: 3263-3274.")
	}
	if p.ask.WithinPerson > 0 {
		p.References = append(p.References, "Kish L. Survey Sampling. New York: Wiley; 1965.")
	}
}

func round3(x float64) float64 {
	m := math.Pow(10, 2-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*m) / m
}
