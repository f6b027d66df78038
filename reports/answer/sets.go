package answer

import (
	"plybook/analysis/cohort"
	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// Measured says whether the rows of an ask are stations but what is asked of
// them is worked out of a whole set: then each row counted is a measurement of
// a limb, not a station.
func Measured(ask *notebook.Ask) bool {
	return ask.Rows == "stations" && ofSet[ask.Outcome]
}

// ofSet are the columns of stations of which one row of a set holds the value.
var ofSet = map[string]bool{"volume_ml": true, "volume_change_pct": true}

// holding leaves out rows that hold no value of a column which one row of a set
// of girths carries for all. They are no missing values.
func (w *work) holding(y *table.Column) {
	var rows []int
	for _, i := range w.rows {
		if !y.Missing[i] {
			rows = append(rows, i)
		}
	}
	if n := len(w.rows) - len(rows); n > 0 {
		w.steps = append(w.steps, cohort.Step{Step: "with " + label(y), Rows: len(rows), Excluded: n, Reason: "the row holds no " + label(y)})
	}
	w.rows = rows
}
