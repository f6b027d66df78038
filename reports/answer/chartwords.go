package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/quality"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// signalWords says a signal in words.
func signalWords(g quality.Signal, s *series) string {
	side := "below"
	if g.Above {
		side = "above"
	}
	switch g.Rule {
	case quality.BeyondLimits:
		return fmt.Sprintf("%s lies %s the limits", s.periods[g.To].name, side)
	case quality.LongRun:
		return fmt.Sprintf("%d periods in a row, %s to %s, lie %s the centre line (chance seldom gives more than %d)", g.Count, s.periods[g.From].name, s.periods[g.To].name, side, g.Limit)
	default:
		often := map[int]string{0: "never crosses the centre", 1: "crosses the centre only once"}[g.Count]
		if often == "" {
			often = fmt.Sprintf("crosses the centre only %d times", g.Count)
		}
		return fmt.Sprintf("the line %s (chance seldom gives fewer than %d crossings)", often, g.Limit)
	}
}

// chartValue says what a point of the chart is, and in which unit.
func (w *work) chartValue() (what, unit string) {
	if w.ask.Outcome != "" {
		y, _ := w.table.Col(w.ask.Outcome)
		return "mean " + label(y), y.Unit
	}
	if w.ask.Chart == "xmr" {
		_, many := w.nouns()
		if w.ask.Numerator.All {
			return "number of " + many, ""
		}
		return "number of " + many + " with " + w.conditionWords(w.ask.Numerator.Condition), ""
	}
	return w.conditionWords(w.ask.Numerator.Condition), ""
}

func (w *work) chartReading(c *quality.Chart, s *series, kind string) {
	var level string
	if kind == "p" {
		level = fmt.Sprintf("Across %s, %s of %s had %s", words.N(len(s.periods), w.ask.Period, w.ask.Period+"s"),
			words.Percent(float64(w.Events)/float64(max(1, w.Answer.Rows)), w.Answer.Rows), w.rowsCounted(), w.conditionWords(w.ask.Numerator.Condition))
		level += "; the centre line is at " + w.centreWords(c, s, kind)
	} else {
		what, _ := w.chartValue()
		level = fmt.Sprintf("Across %s, the %s per %s has its centre line at %s", words.N(len(s.periods), w.ask.Period, w.ask.Period+"s"), what, w.ask.Period, w.centreWords(c, s, kind))
	}
	level += "."
	if len(c.Signals) == 0 {
		w.Reading = level + " Nothing on the chart is more than the noise of such numbers."
		for _, p := range c.Phases {
			if !p.RunsTested {
				w.Reading = level + " No point lies beyond the limits; there are too few points to judge runs by."
			}
		}
		return
	}
	var parts []string
	for i, g := range c.Signals {
		if i == 3 {
			parts = append(parts, words.N(len(c.Signals)-3, "further signal", "further signals"))
			break
		}
		parts = append(parts, signalWords(g, s))
	}
	w.Reading = level + " More than noise: " + strings.Join(parts, "; ") + "."
}

// centreWords says where the centre line is now and, where a decision has
// started a new phase, where it was before.
func (w *work) centreWords(c *quality.Chart, s *series, kind string) string {
	value := func(p quality.Phase) string {
		if p.LimitPoints == 0 {
			return words.NotComputed
		}
		if kind == "p" {
			return words.Percent(p.Centre, w.Answer.Rows)
		}
		_, unit := w.chartValue()
		return words.Plain(p.Centre) + unitWords(unit)
	}
	n := len(c.Phases)
	last := c.Phases[n-1]
	out := value(last)
	if w.ask.BaselinePoints > 0 && last.LimitPoints < last.Points {
		out += fmt.Sprintf(", from the first %d periods", last.LimitPoints)
		if n > 1 {
			out += " of the phase"
		}
	}
	if n > 1 {
		out += fmt.Sprintf(" since %s, and was at %s before", s.periods[last.From].name, value(c.Phases[n-2]))
	}
	return out
}

func (w *work) rowsCounted() string {
	one, many := w.nouns()
	return w.n(w.Answer.Rows, one, many)
}

// sinceDecisions says what the chart shows since each decision.
func (w *work) sinceDecisions(c *quality.Chart, s *series, kind string, ds []*notebook.Decision) {
	for _, d := range ds {
		var n, m, num, den, num0, den0, sum, sum0 float64
		signals := 0
		for k, p := range c.Points {
			if !p.HasValue {
				continue
			}
			if s.periods[k].start >= d.On {
				n++
				num, den, sum = num+s.num[k], den+s.den[k], sum+p.Value
			} else if s.periods[k].end <= d.On {
				m++
				num0, den0, sum0 = num0+s.num[k], den0+s.den[k], sum0+p.Value
			}
		}
		for _, g := range c.Signals {
			if s.periods[g.To].start >= d.On {
				signals++
			}
		}
		text := "no complete period since"
		if n > 0 {
			if kind == "p" {
				text = w.shareOf(num, den)
				if m > 0 {
					text += "; before " + w.shareOf(num0, den0)
				}
			} else {
				text = "mean " + words.Plain(sum/n)
				if m > 0 {
					text += "; before " + words.Plain(sum0/m)
				}
			}
			text += fmt.Sprintf(" (%s)", words.N(int(n), w.ask.Period, w.ask.Period+"s"))
			if signals > 0 {
				text += "; " + words.N(signals, "signal", "signals")
			} else {
				text += "; no signal"
			}
		}
		if w.Since == nil {
			w.Since = map[int]string{}
		}
		w.Since[d.Pos.Line] = text
	}
}

// shareOf prints "69% of 90", or that it is withheld.
func (w *work) shareOf(num, den float64) string {
	share := w.share(int(num), int(den))
	if share == "hidden" || w.hiddenCount(int(den)) {
		return "hidden, since it stands for few"
	}
	return share + " of " + words.Fixed(den, 0)
}

func (w *work) chartMethods(kind string, c *quality.Chart) {
	m := "The share of each period was drawn on a p chart with three-standard-deviation limits from the binomial distribution at each period's own size."
	ref := "Shewhart WA. Economic control of quality of manufactured product. New York: Van Nostrand, 1931."
	if kind == "xmr" {
		m = "The value of each period was drawn on a chart of individual values with limits at the centre plus and minus 2.66 times the mean moving range."
	}
	if w.ask.BaselinePoints > 0 {
		m += fmt.Sprintf(" Limits are frozen at the first %d periods of a phase.", w.ask.BaselinePoints)
	}
	if len(c.Phases) > 1 {
		m += " A new phase starts only where a decision asks for one; the earlier limits are carried on faintly."
	}
	m += " One set of rules was applied: a point beyond the limits, a run on one side of the centre longer than log2(n) + 3, fewer crossings of the centre than chance gives in 95 of 100 series. Periods not yet complete are listed and not drawn."
	w.Methods = m
	w.References = append(w.References, ref, "Anhøj J, Olesen AV. Run charts revisited: a simulation study of run chart rules for detection of non-random variation in health care processes. PLoS One 2014; 9: e113825.")
}
