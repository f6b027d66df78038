package answer

import (
	"cmp"
	"math"
	"slices"

	"plybook/analysis/regress"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// calibrationRows is the number of rows below which a group of like shares
// would say little: there are ten groups at most, and fewer of few rows.
const calibrationRows = 15

// logisticDiagnostics answers `diagnostics`: whether the shares expected come
// true, how well they tell yes from no, and the rows that sway the model.
func (w *work) logisticDiagnostics(f *outcomeFit, roc *regress.Discrimination) error {
	if !w.ask.Diagnostics {
		return nil
	}
	share := f.fitted()
	var bins []regress.Bin
	hidden := false
	for n := max(2, min(10, int(f.Total)/calibrationRows)); ; n-- {
		if n < 2 { // no two groups of which all may be told
			bins, hidden = nil, true
			break
		}
		var err error
		if bins, err = regress.Calibrate(share, f.data.Y, f.data.Weight, n, w.ask.Confidence); err != nil {
			return err
		}
		if !slices.ContainsFunc(bins, func(b regress.Bin) bool {
			return w.isHidden(int(b.Events)) || w.isHidden(int(b.Rows-b.Events)) || w.isHidden(int(b.Rows))
		}) {
			break
		}
	}
	t := tableOf("calibration", integer("bin"), count("rows"), count("events"), number("expected", ""), number("observed", ""), number("low", ""), number("high", ""))
	spec := figure.CalibrationSpec{ID: w.ask.ID + "-calibration", Title: "Shares expected and observed", Outcome: f.y, C: roc.C, Confidence: w.ask.Confidence}
	for i, b := range bins {
		w.mayPrint(int(b.Rows))
		w.mayPrint(int(b.Events))
		t.row(i+1, int(b.Rows), int(b.Events), b.Expected, b.Observed, b.Low, b.High)
		spec.Groups = append(spec.Groups, figure.CalibrationGroup{Expected: b.Expected, Observed: b.Observed, Low: b.Low, High: b.High})
	}
	w.addTable(t)
	curve := tableOf("roc", number("limit", ""), number("sensitivity", ""), number("specificity", ""))
	if !w.public() { // each step is a row
		for _, p := range roc.Points {
			curve.row(p.Limit, p.Sensitivity, p.Specificity)
			spec.Curve = append(spec.Curve, figure.XY{X: 1 - p.Specificity, Y: p.Sensitivity})
		}
	}
	w.addTable(curve)
	w.Figures = append(w.Figures, figure.Calibration(spec))
	if hidden {
		w.caution("groups-hidden", "Shares expected and observed are not set side by side: yes or no is so rare that the counts of two groups of like shares would be small, and this report hides small counts.")
	}
	_, many := w.nouns()
	w.caution("own-rows", "The shares are compared with the very %s that they were made from, so they agree better, and tell yes from no better, than they would for new ones.", many)
	w.Methods += " Shares expected and observed are compared in groups of like size by share expected, with Wilson intervals; influence is Cook's distance by one step."
	w.References = append(w.References, "Pregibon D. Logistic regression diagnostics. Ann Stat 1981; 9: 705-724.")
	w.outcomeInfluence(f, "share")
	return nil
}

// outcomeInfluence lists the rows that move the estimates most, where single
// rows may be shown.
func (w *work) outcomeInfluence(f *outcomeFit, what string) {
	t := tableOf("influence", text("row"), number("fitted", ""), number("residual", ""), number("standardised_residual", ""), number("hat", ""), number("cooks_distance", ""))
	defer func() { w.addTable(t) }()
	rows := f.RowsOf()
	order := indices(len(rows))
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(rows[b].Cook, rows[a].Cook) })
	one, many := w.nouns()
	if rows[order[0]].Cook > cookLimit {
		w.caution("influence", "One %s alone moves the estimates far (Cook's distance above 1): the answer rests on it. Look whether what is recorded of it is right.", one)
	}
	id := f.id
	if id == nil {
		id = w.identifier()
	}
	if !w.ctx.Names.Show || w.ctx.Names.Public || id == nil || id.Len() != f.table.Rows() {
		w.caution("rows-hidden", "Which single %s move the estimates most is not shown: this report shows no single %s.", many, many)
		return
	}
	out := document.Table{ID: w.ask.ID + "-influence", Caption: "The " + many + " that move the estimates most", Columns: []document.TableColumn{
		{Head: words.Capital(plainName(id.Name)), Wide: true}, {Head: "Seen", Align: document.Right}, {Head: words.Capital(what) + " expected", Align: document.Right},
		{Head: "Standardised", Align: document.Right}, {Head: "Leverage", Align: document.Right}, {Head: "Cook's distance", Align: document.Right}},
		Notes: []string{"A row that moves the estimates much is to be looked at, not to be left out."}}
	for _, i := range order[:min(len(order), mostListed)] {
		r := rows[i]
		name := valueText(id, f.design.Rows[i])
		t.row(name, r.Fitted, f.data.Y[i]-r.Fitted, r.Residual, r.Hat, r.Cook)
		seen, fitted := words.Plain(f.data.Y[i]), words.Plain(r.Fitted)
		if what == "share" {
			seen, fitted = map[bool]string{true: "yes", false: "no"}[f.data.Y[i] == 1], words.Percent(r.Fitted, 50)
		}
		out.Rows = append(out.Rows, []string{name, seen, fitted, words.SignedFixed(r.Residual, 2), words.Fixed(r.Hat, 3), words.Fixed(math.Min(r.Cook, 999), 3)})
	}
	w.print(out)
}
