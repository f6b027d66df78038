package answer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/maturation"
	"plybook/reports/document"
	"plybook/reports/words"
)

const (
	// settledText stands beside every answer.
	settledText = "How settled a limb is, is one thing among many that a licensed prosthetist weighs with the person. Nothing here says that a socket should be delivered, remade or waited for."
	// publishedDecline is the mean loss of volume per natural logarithm of weeks
	// after transtibial amputation, in percent of the first volume (Tantua and
	// others 2014, J Rehabil Res Dev 51(7):1119-26; weeks 1 to 24, 21 persons).
	publishedDecline = 9.7
	// fewReadings is how many measurements of a limb say something of its own
	// curve. Common practice, no source.
	fewReadings = 3
	// wideRate is the error of the logarithm of the rate from which the half
	// time may be half as long again, or two thirds of it. Common practice, no
	// source.
	wideRate = 0.2
)

func (m *matured) cautions() {
	m.caution("settled-is-not-ready", settledText)
	if n := m.fit.Groups; n < 10 {
		m.caution("few-groups", "%s: how much they differ from one another is known only roughly.", m.only(n, m.within, m.within+"s"))
	}
	few, within := 0, 0
	share := m.left()
	for g, l := range m.fit.Limbs {
		if l.Rows < fewReadings {
			few++
		}
		v, err := m.fit.Change(g, l.Last, math.Inf(1))
		if err != nil {
			continue
		}
		if math.Abs(v.Estimate) < 100*m.smallest() {
			within++
		}
	}
	if 2*few > m.fit.Groups {
		m.caution("few-measurements", "%s measured fewer than %d times: what is told of them leans on the average %s.", m.of(few, m.fit.Groups, m.within+" was", m.within+"s were"), fewReadings, m.within)
	}
	if 2*within > m.fit.Groups && m.days != 0 {
		text := "which measuring an unchanged limb twice with a tape commonly gives"
		if m.ctx.Front.VolumeRepeatability > 0 {
			text = "the smallest change that measuring in this lab tells from none"
		}
		m.caution("repeatability", "In %s the loss or gain still to come is less than %s, %s: for a single %s it cannot be told from none.",
			m.of(within, m.fit.Groups, m.within, m.within+"s"), sharePercent(m.smallest()), text, m.within)
	}
	drop, _ := m.fit.AverageDrop(m.mean)
	if drop.Low <= 0 && drop.High >= 0 {
		m.caution("no-settling", "The loss of the average %s may be none (%s %s%%): these volumes do not show for sure that they settle, and rate and dates say little.", m.within, m.confidenceWords(), words.Interval(100*drop.Low, 100*drop.High))
	}
	rate := m.fit.Coef[len(m.fit.Coef)-1]
	if rate.SE > wideRate {
		m.caution("rate-uncertain", "How fast the %ss settle is known poorly: half of the loss may be over at any time from %s to %s. Early measurements would tell more.", m.within, m.time(m.half().Low), m.time(m.half().High))
	}
	if s, err := m.fit.AverageSettled(m.mean, share); err == nil && s.Estimate > m.fit.Last {
		m.caution("extrapolation", "The average %s has more than %s left to lose at the latest time that any was measured (%s): plateaus and dates are read off beyond what was seen.", m.within, sharePercent(share), m.time(m.fit.Last))
	} else if m.foretoldBeyond() {
		m.caution("extrapolation", "The %s is foretold for later after amputation than any %s was measured (%s): that is an extrapolation, and its interval trusts the curve.", label(m.y), m.within, m.time(m.fit.Last))
	}
	if slices.Contains(m.ask.Vary, "rate") {
		m.caution("rates-differ", "Where %ss have rates of their own, intervals of what one %s has still to lose are too short, since the curve is taken as straight near its estimate. Of such 95%% intervals, about 90 in 100 held it in draws from a known truth, with 8 limbs of 4 to 8 measurements.", m.within, m.within)
	}
	if effect, r, p := m.fit.Leaving(); p < 0.05 {
		what := map[string]string{"plateau": "plateau", "drop": "loss", "initial": "volume at amputation", "log_rate": "rate"}[effect]
		than := "a smaller"
		if r < 0 {
			than = "a larger"
		}
		m.caution("drop-out", "%ss last measured early have %s %s than those followed for long (rank correlation %s, %s): who stops coming may depend on how the %s does, and then the curve is not that of all.",
			words.Capital(m.within), than, what, words.Fixed(r, 2), words.PEquals(p), m.within)
	}
}

// smallest is the share of a volume that measuring tells from no change.
func (m *matured) smallest() float64 {
	if v := m.ctx.Front.VolumeRepeatability; v > 0 {
		return v / 100
	}
	return sameMeasurer / 100.0
}

func (m *matured) foretoldBeyond() bool {
	for _, t := range m.Tables {
		if t.Name == "forecast" {
			for _, r := range t.Rows {
				if r[len(r)-1] == true {
					return true
				}
			}
		}
	}
	return false
}

// time is a length of time of the ask's clock.
func (m *matured) time(v float64) string {
	if m.days == 1 {
		return words.Span(v)
	}
	return amount(v, m.t.Unit)
}

// timeRange is an interval of such a length.
func (m *matured) timeRange(v maturation.Value) string {
	if m.days == 1 {
		return words.SpanRange(v.Low, v.High)
	}
	return words.Interval(v.Low, v.High) + unitWords(m.t.Unit)
}

func (m *matured) words() {
	one, many := "measurement", "measurements"
	unit := unitWords(m.y.Unit)
	p, _ := m.fit.AveragePlateau(m.mean)
	lost, _ := m.fit.AverageDrop(m.mean)
	s, _ := m.fit.AverageSettled(m.mean, m.left())
	h := m.half()
	way := "loses"
	if lost.Estimate < 0 {
		way = "gains"
		lost.Estimate, lost.Low, lost.High = -lost.Estimate, -lost.High, -lost.Low
	}
	m.Reading = fmt.Sprintf("Across %s of %s the average %s %s %s%% of its volume at amputation (%s %s), half of that by %s (%s), and comes to rest at %s%s (%s).",
		m.n(m.fit.Rows, one, many), m.n(m.fit.Groups, m.within, m.within+"s"), m.within, way, words.Value(100*lost.Estimate, 100*lost.Low, 100*lost.High), m.confidenceWords(), words.Interval(100*lost.Low, 100*lost.High),
		m.time(h.Estimate), m.timeRange(h), words.Value(p.Estimate, p.Low, p.High), unit, words.Interval(p.Low, p.High))
	if s.Estimate > 0 {
		m.Reading += fmt.Sprintf(" Less than %s is left by %s (%s) after amputation.", sharePercent(m.left()), m.time(s.Estimate), m.timeRange(s))
	}
	if next := m.forecastWords(); next != "" { // the one limb is what was asked
		m.Short, m.Shown = strings.TrimSpace(next)+" "+words.FirstSentences(m.Reading, 1), m.ask.ID+"-forecast"
	}
	m.Reading += m.ruleWords() + m.forecastWords() + m.lineWords()
	m.methods()
}

// averagePrint prints the average limb, and the lab's own rule.
func (m *matured) averagePrint() {
	m.print(m.settlingPrint())
	if r := m.ask.Settled; r != nil {
		m.print(document.Paragraph{Spans: []document.Span{{Text: fmt.Sprintf("The lab's rule: all measurements over at least %s lie within %s of the last one. Its source: %s.", r.Over.Words(), sharePercent(r.Change), strings.TrimSuffix(r.Source, "."))}}})
	}
}

// ruleWords counts the limbs that meet the lab's own rule.
func (m *matured) ruleWords() string {
	r := m.ask.Settled
	if r == nil {
		return ""
	}
	if m.days == 0 {
		return ""
	}
	n := map[string]int{}
	for g := range m.fit.Limbs {
		n[m.rule(g)]++
	}
	return fmt.Sprintf(" By the lab's own rule (within %s over %s) the measurements had come to rest in %s; the others: %s.", sharePercent(r.Change), r.Over.Words(),
		m.of(n["met"], m.fit.Groups, m.within, m.within+"s"), m.parts([]string{"not", "not followed long enough"}, []int{n["not met"], n["too short"]}))
}

func (m *matured) forecastWords() string {
	for _, t := range m.Tables {
		if t.Name != "forecast" || len(t.Rows) == 0 {
			continue
		}
		r := t.Rows[0]
		est, ok1 := r[4].(float64)
		low, ok2 := r[5].(float64)
		high, ok3 := r[6].(float64)
		if ok1 && ok2 && ok3 {
			return fmt.Sprintf(" %s after its last measurement a reading of %s%s is expected of %s %s (%s%% of such readings lie in %s).", words.Capital(m.firstAhead()), words.Value(est, low, high), unitWords(m.y.Unit), m.within, m.ask.Limb,
				words.AsWritten(100*m.ask.Confidence), words.Interval(low, high))
		}
	}
	return ""
}

func (m *matured) firstAhead() string {
	first := m.ask.Times[0]
	for _, d := range m.ask.Times {
		if d.Days < first.Days {
			first = d
		}
	}
	return first.Words()
}

// lineWords says what a straight line on the logarithm of weeks would tell.
func (m *matured) lineWords() string {
	l := m.line
	if l == nil {
		return ""
	}
	text := fmt.Sprintf(" On the logarithm of weeks instead, a straight line falls by %s%% of the volume at one week for each unit (%s); after transtibial amputation %s%% has been published", words.Value(l.decline, l.low, l.high), words.Interval(l.low, l.high), words.Fixed(publishedDecline, 1))
	if l.rows == m.fit.Rows {
		switch d := l.aic - m.fit.AIC; {
		case d > 2:
			text += ", and the plateau fits these volumes better"
		case d < -2:
			text += ", and that line, which has no plateau, fits these volumes better"
		default:
			text += ", and both fit these volumes about alike"
		}
	}
	return text + "."
}

func (m *matured) settlingPrint() document.Table {
	t := document.Table{ID: m.ask.ID + "-settling", Caption: "How the average " + m.within + " settles", Columns: []document.TableColumn{
		{Head: "Of the average " + m.within, Wide: true}, {Head: "Estimate", Align: document.Right}, {Head: words.Capital(m.confidenceWords()), Align: document.Right}}}
	p, _ := m.fit.AveragePlateau(m.mean)
	lost, _ := m.fit.AverageDrop(m.mean)
	s, _ := m.fit.AverageSettled(m.mean, m.left())
	h := m.half()
	t.Rows = [][]string{
		{"Plateau" + inUnit(m.y.Unit), words.Value(p.Estimate, p.Low, p.High), words.Interval(p.Low, p.High)},
		{"Lost from amputation on, of the volume then", words.Value(100*lost.Estimate, 100*lost.Low, 100*lost.High) + "%", words.Interval(100*lost.Low, 100*lost.High)},
		{"Half of it lost by", m.time(h.Estimate), m.timeRange(h)},
	}
	if s.Estimate > 0 {
		t.Rows = append(t.Rows, []string{fmt.Sprintf("Less than %s left by", sharePercent(m.left())), m.time(s.Estimate), m.timeRange(s)})
	}
	for j, c := range m.fit.Coef {
		if j == 0 || j > len(m.d.Columns) {
			continue
		}
		k := m.d.Columns[j-1]
		name := "Plateau, " + k.Label
		if k.Category != "" {
			name += ": " + k.Category + " against " + k.Reference
		} else if k.Unit != "" {
			name += ", per " + perUnit(k.Unit)
		}
		t.Rows = append(t.Rows, []string{name, words.Value(c.Estimate, c.Low, c.High), words.Interval(c.Low, c.High)})
	}
	var parts []string
	for _, c := range m.fit.Variance {
		if c.Group != "residual" && c.With == "" && c.Term == "plateau" {
			parts = append(parts, fmt.Sprintf("Plateaus differ from one %s to another with a standard deviation of %s%s.", m.within, words.Plain(c.SD), unitWords(m.y.Unit)))
		}
	}
	t.Notes = append(parts, fmt.Sprintf("Readings scatter about their %s's curve by %s%s.", m.within, words.Plain(m.fit.Sigma), unitWords(m.y.Unit)))
	return t
}

func (m *matured) methods() {
	names := map[string]string{"plateau": "the plateau", "rate": "the logarithm of the rate", "initial": "the drop"}
	form := "plateau times (1 + drop times exp(-rate times time))"
	if m.ask.Initial == "volume" {
		names["initial"] = "the volume at amputation"
		form = "plateau + (volume at amputation - plateau) times exp(-rate times time)"
	}
	var vary []string
	for _, v := range []string{"plateau", "initial", "rate"} {
		if slices.Contains(m.ask.Vary, v) {
			vary = append(vary, names[v])
		}
	}
	m.Methods = fmt.Sprintf("A nonlinear mixed model of %s (%s) with random effects of each %s on %s", label(m.y), form, m.within, words.List(vary))
	if len(m.d.X) > 0 {
		m.Methods += fmt.Sprintf(", its plateau explained by %s,", termsOrNothing(m.d))
	}
	m.Methods += " was fitted by maximum likelihood on the linearisation of Lindstrom and Bates, with starting values from a search over rates. Errors are those of the last linear model by restricted likelihood, adjusted for small samples by the method of Kenward and Roger, those of single " + m.within + "s with Prasad and Rao's correction, and intervals are Student's with degrees of freedom of their own; of what is worked out from coefficients they are by the delta method. Rows with missing values were left out."
	m.References = append(m.References, "Lindstrom MJ, Bates DM. Nonlinear mixed effects models for repeated measures data. Biometrics 1990; 46: 673-687.",
		"Kenward MG, Roger JH. Small sample inference for fixed effects from restricted maximum likelihood. Biometrics 1997; 53: 983-997.",
		"Prasad NGN, Rao JNK. The estimation of the mean squared error of small-area estimators. J Am Stat Assoc 1990; 85: 163-171.")
	if m.line != nil {
		m.References = append(m.References, "Tantua AT, Geertzen JHB, van den Dungen JJAM, Breek JC, Dijkstra PU. Reduction of residual limb volume in people with transtibial amputation. J Rehabil Res Dev 2014; 51(7): 1119-1126.")
	}
}
