package answer

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/regress"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// cookLimit is the distance from which on a row is worth a look. Cook and
// Weisberg 1982, Residuals and influence in regression, section 3.5: 1 is
// where leaving it out moves the estimates to the edge of a 50 percent region.
const cookLimit = 1

// cooked is a row with how it stands to a model.
type cooked struct {
	row                  int
	residual, hat, after float64 // standardised residual, hat value, Cook's distance
}

// linearDiagnostics answers `diagnostics` of a linear model: residuals
// against what is fitted and against a normal distribution, and the rows that
// sway it.
func (w *work) linearDiagnostics(fit *regress.Linear, d *design.Design, y *table.Column) {
	if !w.ask.Diagnostics {
		return
	}
	t := tableOf("influence", text("row"), number("fitted", y.Unit), number("residual", y.Unit), number("standardised_residual", ""), number("hat", ""), number("cooks_distance", ""))
	defer func() { w.addTable(t) }()
	if fit.Exact {
		w.caution("exact-fit", "The model passes through every row, so that there are no residuals to look at.")
		return
	}
	p := float64(len(fit.Coef))
	spec := figure.ResidualsSpec{ID: w.ask.ID + "-residuals", Title: "What the model leaves over", Unit: y.Unit}
	var rows []cooked
	for i, e := range fit.Residuals {
		h := fit.Hat[i]
		if !(1-h > 1e-10) {
			continue // a row that alone decides an estimate has no residual
		}
		r := e / (fit.Sigma * math.Sqrt(1-h))
		rows = append(rows, cooked{i, r, h, r * r * h / ((1 - h) * p)})
		spec.Residuals = append(spec.Residuals, figure.Residual{Fitted: fit.Fitted[i], Residual: r})
	}
	one, many := w.nouns()
	if n := len(fit.Residuals) - len(rows); n > 0 {
		w.caution("influence", "%s alone %s an estimate: nothing else tells of it.", words.Capital(w.n(n, one, many)), w.agree(n, "decides", "decide"))
	}
	slices.SortStableFunc(rows, func(a, b cooked) int { return cmp.Compare(b.after, a.after) })
	if len(rows) > 0 && rows[0].after > cookLimit {
		w.caution("influence", "One %s alone moves the estimates far (Cook's distance above 1): the answer rests on it. Look whether what is recorded of it is right.", one)
	}
	if !w.public() {
		w.Figures = append(w.Figures, figure.Residuals(spec))
	}
	w.Methods += " Residuals are standardised by their own leverage; influence is Cook's distance."
	w.References = append(w.References, "Cook RD, Weisberg S. Residuals and influence in regression. New York: Chapman and Hall; 1982.")
	id := w.identifier()
	if !w.ctx.Names.Show || w.ctx.Names.Public || id == nil {
		w.caution("rows-hidden", "The residuals of single %s, and which of them move the estimates most, are not shown: this report shows no single %s.", many, many)
		return
	}
	out := document.Table{ID: w.ask.ID + "-influence", Caption: "The " + many + " that move the estimates most", Columns: []document.TableColumn{
		{Head: words.Capital(plainName(id.Name)), Wide: true}, {Head: "Fitted", Align: document.Right}, {Head: "Residual", Align: document.Right},
		{Head: "Standardised", Align: document.Right}, {Head: "Leverage", Align: document.Right}, {Head: "Cook's distance", Align: document.Right}},
		Notes: []string{"A row that moves the estimates much is to be looked at, not to be left out."}}
	for _, c := range rows[:min(len(rows), mostListed)] {
		name := valueText(id, d.Rows[c.row])
		t.row(name, fit.Fitted[c.row], fit.Residuals[c.row], c.residual, c.hat, c.after)
		out.Rows = append(out.Rows, []string{name, words.Plain(fit.Fitted[c.row]), words.SignedPlain(fit.Residuals[c.row]), words.SignedFixed(c.residual, 2), words.Fixed(c.hat, 3), words.Fixed(c.after, 3)})
	}
	w.print(out)
}

// identifier is the column that names a row of the table, or what it is of.
func (w *work) identifier() *table.Column {
	for _, n := range []string{strings.TrimSuffix(w.table.Name, "s"), "visit", "socket", "limb", "person"} {
		if c, ok := w.table.Col(n); ok {
			return c
		}
	}
	return nil
}
