package answer

import (
	"fmt"

	"plybook/analysis/regress"
	"plybook/analysis/table"
)

// neighbours is the date by which rows near in time are told, where the
// errors are to allow for them; nil where not.
func (w *work) neighbours(also *[]string) (*table.Column, error) {
	if w.ask.Errors == "" {
		return nil, nil
	}
	c, err := w.datedColumn()
	if err != nil {
		return nil, err
	}
	*also = append(*also, c.Name)
	return c, nil
}

// neighbourCautions says what the order of rows hides.
func (w *work) neighbourCautions(dated *table.Column, rows []int) {
	days, tied := map[float64]int{}, 0
	for _, i := range rows {
		days[dated.Num[i]]++
	}
	for _, n := range days {
		if n > 1 {
			tied += n
		}
	}
	if 2*tied > len(rows) {
		w.caution("same-day", "More than half of the rows share a day with another, and among those of one day the order is that of the log: what leans on what is told roughly.")
	}
	if person, ok := w.table.Col("person"); ok {
		if codes := codesOf(person, rows); distinct(codes) < len(codes) {
			w.caution("not-clustered", "Some persons have several rows here, and the errors allow for rows near in time and not for rows of one person. The intervals may be too narrow.")
		}
	}
	if len(rows) < 50 {
		_, many := w.nouns()
		w.caution("short-series", "With %s, errors that allow for neighbours come out too small: hold the intervals for somewhat too narrow.", w.n(len(rows), "row", many))
	}
}

// neighbourMethods is the sentence for a paper.
func (w *work) neighbourMethods(fit *regress.Linear) string {
	w.References = append(w.References, "Newey WK, West KD. A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent covariance matrix. Econometrica 1987; 55: 703-708.",
		"Newey WK, West KD. Automatic lag selection in covariance matrix estimation. Review of Economic Studies 1994; 61: 631-653.")
	return fmt.Sprintf(" Standard errors are those of Newey and West: rows in order of date may lean on those up to %d before them (Bartlett's weights, corrected for the number of terms).", fit.Lag)
}
