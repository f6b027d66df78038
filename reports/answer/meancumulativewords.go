package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/stats"
	"plybook/reports/document"
	"plybook/reports/words"
)

func (w *work) countedReading(r *repeated, fits []counted, test *stats.Test) string {
	one, many := w.nouns()
	var s []string
	for k, f := range fits {
		if k == 4 {
			s = append(s, "The table gives the other groups.")
			break
		}
		in := "In " + w.n(f.curve.Rows, one, many)
		if f.name != "all" {
			in += " of the group " + w.display(f.name)
		}
		out := fmt.Sprintf("%s, watched for %s in all, %s %s counted", in, watchedYears(f.rate.Watched, one), w.eventsCounted(int(f.curve.Events), r.what), w.agree(int(f.curve.Events), "was", "were"))
		if f.rate.HasRate && !w.hiddenCount(int(f.curve.Events)) {
			out += fmt.Sprintf(": %s per 100 %s-years (%s %s)", words.Rate(100*f.rate.Estimate, 100*f.rate.Low, 100*f.rate.High), one, w.confidenceWords(), words.RateRange(100*f.rate.Low, 100*f.rate.High))
		}
		times := sortedTimes(w.ask.Times)
		for i := len(times) - 1; i >= 0; i-- {
			p, ok := f.curve.At(times[i].Days)
			if !ok || !f.shown[times[i].Days] {
				continue
			}
			out += fmt.Sprintf("; by %s the mean was %s a %s", words.At(times[i].Days), meanText(p.Estimate, p.Low, p.High, p.HasBounds), one)
			if p.HasBounds && p.High > p.Low {
				out += fmt.Sprintf(" (%s)", words.RateRange(p.Low, p.High))
			}
			break
		}
		s = append(s, out+".")
	}
	if test != nil {
		verdict := "The groups differ by more than chance alone would often give"
		if test.P >= 0.05 {
			verdict = "The difference between the groups is no larger than chance often gives"
		}
		s = append(s, fmt.Sprintf("%s (%s, %s).", verdict, test.Name, words.PEquals(test.P)))
	}
	none, n := 0, 0
	for _, f := range fits {
		none, n = none+f.none, n+f.curve.Rows
	}
	last := fmt.Sprintf("A mean does not say how they are spread: %s had none.", w.of(none, n, one, many))
	if none == 0 {
		last = fmt.Sprintf("A mean does not say how they are spread over the %s.", many)
	}
	return strings.Join(append(s, last), " ")
}

// eventsCounted is a number of events with what they are.
func (w *work) eventsCounted(k int, what string) string {
	switch {
	case k == 0:
		return "no " + what
	case k == 1 && !w.hiddenCount(k):
		return "1 " + singular.Replace(what)
	}
	return w.n(k, what, what)
}

// singular is what is counted, of one.
var singular = strings.NewReplacer("remakes", "remake", "visits", "visit", "endings", "ending")

// meanText prints a mean as finely as it is known.
func meanText(x, low, high float64, known bool) string {
	switch {
	case x == 0:
		return "0"
	case !known || high <= low:
		return words.Fixed(x, 2)
	}
	return words.Rate(x, low, high)
}

func (w *work) countedPrint(r *repeated, fits []counted) document.Block {
	one, many := w.nouns()
	heads := []string{"", words.Capital(many), words.Capital(r.what), "With none", words.Capital(one) + "-years", "Per 100 " + one + "-years"}
	for _, at := range sortedTimes(w.ask.Times) {
		heads = append(heads, "Mean by "+words.At(at.Days))
	}
	cells := [][]string{heads}
	for _, f := range fits {
		row := []string{w.groupName(f.name), w.cell(f.curve.Rows), w.cell(int(f.curve.Events)), w.cell(f.none), words.Fixed(f.rate.Watched, 0), words.NotComputed}
		if w.hiddenCount(f.curve.Rows - f.none) {
			row[3] = "hidden"
		}
		switch {
		case w.hiddenCount(int(f.curve.Events)):
			row[5] = "hidden"
		case f.rate.HasRate:
			row[5] = words.Rate(100*f.rate.Estimate, 100*f.rate.Low, 100*f.rate.High) + " (" + words.RateRange(100*f.rate.Low, 100*f.rate.High) + ")"
		}
		for _, at := range sortedTimes(w.ask.Times) {
			p, ok := f.curve.At(at.Days)
			switch {
			case !ok:
				row = append(row, "no one watched")
			case !f.shown[at.Days]:
				row = append(row, "hidden")
			case p.HasBounds && p.High > p.Low:
				row = append(row, words.Rate(p.Estimate, p.Low, p.High)+" ("+words.RateRange(p.Low, p.High)+")")
			default:
				row = append(row, meanText(p.Estimate, 0, 0, false))
			}
		}
		cells = append(cells, row)
	}
	t := document.Table{ID: w.ask.ID + "-table", Caption: words.Capital(r.what) + byWords(w.ask.By)}
	if len(fits) <= 3 {
		cells = transposed(cells)
	}
	t.Columns, t.Rows = headed(cells)
	t.Notes = []string{"In brackets: " + w.confidenceWords() + ". That of the rate takes the events as independent, and is too narrow where some " + many + " have many; that of the mean does not."}
	return t
}

func (w *work) countedMethods(r *repeated, fits []counted, cluster string, test *stats.Test) {
	one, many := w.nouns()
	var s strings.Builder
	died := 0.0
	for _, f := range fits {
		died += f.curve.Died
	}
	fmt.Fprintf(&s, "The mean number of %s of a %s by each time since %s was estimated by the mean cumulative function (Nelson)", r.what, one, w.watchZero())
	switch {
	case r.ends != "" && died > 0:
		fmt.Fprintf(&s, ", with %s as the end of all further events and not as a censoring (Ghosh and Lin): those so ended stay in the mean with no events to come", r.ends)
	case r.ends != "":
		fmt.Fprintf(&s, "; %s would end the risk of further events and did not happen", r.ends)
	default:
		s.WriteString("; a death was taken as a censoring, because the question says so")
	}
	s.WriteString("; the watch ends with the person's last record.")
	if w.table.Name != "sockets" {
		s.WriteString(" Check sockets are left out.")
	}
	for _, e := range r.Entry {
		if e > 0 {
			fmt.Fprintf(&s, " %s that came under observation after that count from then on (delayed entry).", words.Capital(many))
			break
		}
	}
	s.WriteString(" Standard errors are robust (Lawless and Nadeau), by the infinitesimal jackknife")
	if cluster != "" {
		s.WriteString(" grouped by " + cluster)
	}
	fmt.Fprintf(&s, "; %s limits were made on the logarithm. Rates have exact Poisson intervals.", strings.TrimSuffix(w.confidenceWords(), " interval"))
	if test != nil {
		fmt.Fprintf(&s, " Groups were compared by the %s (Cook, Lawless and Nadeau).", test.Name)
		w.References = append(w.References, "Cook RJ, Lawless JF, Nadeau C. Robust tests for treatment comparisons based on recurrent event responses. Biometrics 1996; 52: 557-571.")
	}
	w.Methods = s.String()
	w.References = append([]string{
		"Nelson W. Confidence limits for recurrence data, applied to cost or number of product repairs. Technometrics 1995; 37: 147-157.",
		"Lawless JF, Nadeau C. Some simple robust methods for the analysis of recurrent events. Technometrics 1995; 37: 158-168.",
		"Ghosh D, Lin DY. Nonparametric analysis of recurrent events and death. Biometrics 2000; 56: 554-562."}, w.References...)
}

// watchedYears says a time watched in whole years, a short one to a tenth.
func watchedYears(years float64, one string) string {
	switch {
	case years > 0 && years < 0.05:
		return "less than 0.1 " + one + "-years"
	case years >= 10:
		years = math.Round(years)
	}
	return words.Count(years, one+"-year", one+"-years")
}
