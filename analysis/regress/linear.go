package regress

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq"
	"plybook/analysis/stats"
)

// Coefficient is one row of the table of terms.
type Coefficient struct {
	Name     string
	Term     int     // number of the term; -1 for the intercept
	Estimate float64 // unit of the response per unit of the column
	ModelSE  float64 // standard error if all rows scatter alike and independently
	SE       float64 // standard error from the covariance used
	// DF are the degrees of freedom of the t distribution: residual for
	// model-based and HC, clusters less 1 for CR0 and CR1, Satterthwaite for
	// CR2.
	DF        float64
	T, P      float64
	Low, High float64
	// Tested is false where the data allow no error; SE, DF, T, P, Low and
	// High then are 0 and mean nothing, and a warning says why.
	Tested bool
}

// FTest is a test against Fisher's F with DF1 and DF2 degrees of freedom.
type FTest struct {
	Name      string
	Statistic float64
	DF1, DF2  float64
	P         float64
}

// Covariances of the coefficients, rows and columns in the order of Coef.
// Those that do not apply, or that the data do not allow, are nil.
type Covariances struct {
	Model, HC0, HC1, HC2, HC3, NeweyWest, CR0, CR1, CR2 [][]float64
}

// Linear is a finished linear model.
type Linear struct {
	Coef  []Coefficient
	Terms []FTest // Wald tests with the covariance used, one per term of several columns
	Cov   Covariances
	Used  Robust  // covariance behind SE, P, Low and High
	Level float64 // confidence level of Low and High

	Rows     int     // rows used
	Total    float64 // sum of their weights
	DF       float64 // residual degrees of freedom
	Clusters int     // 0 for none
	Lag      int     // of NeweyWest: how many rows apart two may lean on one another

	Sigma      float64 // residual standard deviation, unit of the response
	RSS        float64 // residual sum of squares
	R2         float64 // about the mean with an intercept, about zero without
	AdjustedR2 float64
	Overall    *FTest // model-based F test of all columns; nil where there is no column or no scatter
	// LogLikelihood and AIC are those of independent normal rows with the
	// maximum-likelihood variance, all constants included, the variance
	// counted as a parameter. They are 0 for an exact fit.
	LogLikelihood, AIC float64
	Exact              bool // the model passes through every row: no errors can be given

	// Fitted, Residuals and Hat have one entry per row of the data. Rows of
	// weight 0 have a hat value of 0.
	Fitted, Residuals, Hat []float64
	Warnings               []stats.Warning

	kernel *kernel
}

// kernel is the linear algebra behind a fit, kept for contrasts.
type kernel struct {
	p        *problem
	f        *lsq.Factor
	coef     []float64
	residual []float64
	middle   [][]float64 // of the covariance used, in the coordinates of Q
	blocks   []block     // nil without clusters
	sums     *sums
}

// FitLinear fits a linear model by least squares.
//
// Columns are centred, scaled and orthogonalised, and the solution is refined
// with residuals in twice the working precision. Columns that repeat one
// another or never vary give a *SingularError, other unusable data the errors
// of this package and stats.ErrNoRows.
func FitLinear(d LinearData, o LinearOptions) (*Linear, error) {
	p, err := prepare(d, &o)
	if err != nil {
		return nil, fmt.Errorf("linear model: %w", err)
	}
	f, err := lsq.New(p.x, d.Names, len(p.y), d.Intercept, p.weight)
	if err != nil {
		return nil, fmt.Errorf("linear model: %w", err)
	}
	k := &kernel{p: p, f: f}
	if k.coef, k.residual, err = f.Solve(p.y); err != nil {
		return nil, fmt.Errorf("linear model: %w", err)
	}
	m := &Linear{
		Used: o.Robust, Level: o.Level, Rows: len(p.used), Total: p.total,
		DF: p.total - float64(f.P), Clusters: p.groups, kernel: k,
	}
	m.summarise()
	h := k.leverages()
	m.rows(h)
	m.covariances(h)
	if err := m.coefficients(); err != nil {
		return nil, fmt.Errorf("linear model: %w", err)
	}
	return m, nil
}

// summarise fills the figures of the whole fit.
func (m *Linear) summarise() {
	k, p := m.kernel, m.kernel.p
	weight := func(i int) float64 {
		if p.weight == nil {
			return 1
		}
		return p.weight[i]
	}
	centre := 0.0
	if p.data.Intercept {
		for range 2 {
			s := 0.0
			for i, y := range p.y {
				s += weight(i) * (y - centre)
			}
			centre += s / p.total
		}
	}
	tss, size := 0.0, 0.0
	for i, y := range p.y {
		m.RSS += weight(i) * k.residual[i] * k.residual[i]
		tss += weight(i) * (y - centre) * (y - centre)
		size += weight(i) * y * y
	}
	for j, c := range p.x { // what the sums of products could round away
		b := k.coef[len(k.coef)-len(p.x)+j]
		for i, v := range c {
			size += weight(i) * (b * v) * (b * v)
		}
	}
	columns := float64(len(p.x))
	m.R2 = 1
	if m.RSS <= 1e-26*size {
		m.Exact, m.RSS, m.AdjustedR2 = true, 0, 1
		return
	}
	m.Sigma = math.Sqrt(m.RSS / m.DF)
	m.R2 = math.Max(0, 1-m.RSS/tss)
	free := p.total
	if p.data.Intercept {
		free--
	}
	m.AdjustedR2 = 1 - (1-m.R2)*free/m.DF
	if columns > 0 {
		stat := math.Max(0, tss-m.RSS) / columns / (m.RSS / m.DF)
		m.Overall = &FTest{"F test of all columns, model-based", stat, columns, m.DF, lsq.FP(stat, columns, m.DF)}
	}
	m.LogLikelihood = -p.total / 2 * (math.Log(2*math.Pi*m.RSS/p.total) + 1)
	m.AIC = -2*m.LogLikelihood + 2*float64(k.f.P+1)
}

// rows fills fitted values, residuals and hat values of all rows of the data.
func (m *Linear) rows(h []float64) {
	k, d := m.kernel, m.kernel.p.data
	n := len(d.Y)
	m.Fitted, m.Residuals, m.Hat = make([]float64, n), make([]float64, n), make([]float64, n)
	next := 0
	for i, y := range d.Y {
		if next < len(k.p.used) && k.p.used[next] == i {
			m.Residuals[i], m.Hat[i] = k.residual[next], h[next]
			m.Fitted[i] = y - k.residual[next]
			next++
			continue
		}
		x := make([]float64, 0, k.f.P)
		if d.Intercept {
			x = append(x, 1)
		}
		for _, c := range d.X {
			x = append(x, c[i])
		}
		m.Fitted[i] = floats.Dot(x, k.coef)
		m.Residuals[i] = y - m.Fitted[i]
	}
}

// covariances fills every covariance that applies and settles which is used.
func (m *Linear) covariances(h []float64) {
	k := m.kernel
	p := k.f.P
	if m.Exact {
		m.warn("exact-fit", "The model passes through every row exactly, so that no error can be given. Check that the outcome is not worked out from the columns.", "")
		return
	}
	identity := square(p)
	for j := range identity {
		identity[j][j] = m.Sigma * m.Sigma
	}
	m.Cov.Model = k.f.Cov(identity)
	hc0, hc2, hc3, fixed := k.heteroscedastic(h)
	hc1 := scaled(hc0, m.Total/m.DF)
	m.Cov.HC0, m.Cov.HC1 = k.f.Cov(hc0), k.f.Cov(hc1)
	if len(fixed) == 0 {
		m.Cov.HC2, m.Cov.HC3 = k.f.Cov(hc2), k.f.Cov(hc3)
	}
	var cr0, cr1, cr2 [][]float64
	if k.p.cluster != nil {
		k.blocks = k.blocksOf()
		cr0, cr2 = clustered(k.blocks, p)
		g := float64(k.p.groups)
		cr1 = scaled(cr0, g/(g-1))
		m.Cov.CR0, m.Cov.CR1, m.Cov.CR2 = k.f.Cov(cr0), k.f.Cov(cr1), k.f.Cov(cr2)
	}
	var newey [][]float64
	if m.Used == NeweyWest {
		newey, m.Lag = k.neweyWest(m.Total / m.DF)
		m.Cov.NeweyWest = k.f.Cov(newey)
	}
	if (m.Used == HC2 || m.Used == HC3) && len(fixed) > 0 {
		what := fmt.Sprintf("Row %d fixes", k.p.used[fixed[0]]+1)
		if len(fixed) > 1 {
			what = fmt.Sprintf("%d rows (the first is row %d) each fix", len(fixed), k.p.used[fixed[0]]+1)
		}
		m.warn("leverage", fmt.Sprintf("%s a coefficient alone (for instance a category seen once), so that %v errors cannot be worked out. Errors that take the scatter as equal in all rows are used instead.", what, m.Used), "")
		m.Used = ModelBased
	}
	k.middle = map[Robust][][]float64{ModelBased: identity, HC0: hc0, HC1: hc1, HC2: hc2, HC3: hc3, NeweyWest: newey, CR0: cr0, CR1: cr1, CR2: cr2}[m.Used]
	k.sums = &sums{coef: k.coef, l: k.f.L, middle: k.middle, blocks: k.blocks, used: m.Used, level: m.Level, df: m.DF, clusters: m.Clusters, tiny: 1e-24 * m.Sigma * m.Sigma}
	if k.p.cluster != nil && m.Used >= CR0 && k.p.groups < 40 {
		m.warn("few-clusters", fmt.Sprintf("Only %d clusters: their differences, on which the errors rest, are known roughly.", k.p.groups), "")
	}
}

func scaled(m [][]float64, s float64) [][]float64 {
	out := square(len(m))
	for j := range m {
		floats.AddScaled(out[j], s, m[j])
	}
	return out
}

func (m *Linear) warn(code, text, about string) {
	m.Warnings = append(m.Warnings, stats.Warning{Code: code, Text: text, About: about})
}

// coefficients fills Coef and Terms from the covariance used.
func (m *Linear) coefficients() error {
	k := m.kernel
	m.Coef = make([]Coefficient, k.f.P)
	for j := range m.Coef {
		c := make([]float64, k.f.P)
		c[j] = 1
		e, err := m.Contrast(c)
		if err != nil {
			return err
		}
		row := Coefficient{Name: k.p.names[j], Term: k.p.terms[j], Estimate: k.coef[j], Tested: e.Tested,
			SE: e.SE, DF: e.DF, T: e.T, P: e.P, Low: e.Low, High: e.High}
		if m.Cov.Model != nil {
			row.ModelSE = math.Sqrt(m.Cov.Model[j][j])
		}
		m.Coef[j] = row
		switch {
		case !e.Tested && !m.Exact:
			m.warn("one-cluster-decides", fmt.Sprintf("The coefficient of %s rests on one cluster alone; clusters cannot show its error.", row.Name), row.Name)
		case e.Tested && m.Used == CR2 && e.DF < 4:
			m.warn("low-df", fmt.Sprintf("So few clusters bear on %s (%.1f degrees of freedom) that its p-value and interval are rough.", row.Name, e.DF), row.Name)
		}
	}
	return m.termTests()
}

// termTests fills Terms.
func (m *Linear) termTests() error {
	k := m.kernel
	if m.Exact {
		return nil
	}
	var order []int
	columns := map[int][]int{}
	for j, t := range k.p.terms {
		if t < 0 {
			continue
		}
		if len(columns[t]) == 0 {
			order = append(order, t)
		}
		columns[t] = append(columns[t], j)
	}
	for _, t := range order {
		if len(columns[t]) < 2 {
			continue
		}
		c := make([][]float64, len(columns[t]))
		tested := true
		for s, j := range columns[t] {
			c[s] = make([]float64, k.f.P)
			c[s][j] = 1
			tested = tested && m.Coef[j].Tested
		}
		name := m.termName(t, columns[t])
		if !tested {
			m.warn("term-not-tested", fmt.Sprintf("%s is not tested as a whole, since the error of one of its coefficients is not known.", name), name)
			continue
		}
		w, err := m.Wald(c)
		if err != nil {
			m.warn("term-not-tested", fmt.Sprintf("%s is not tested as a whole: %v.", name, err), name)
			continue
		}
		w.Name = name
		m.Terms = append(m.Terms, w)
	}
	return nil
}

func (m *Linear) termName(t int, columns []int) string {
	p := m.kernel.p
	if p.data.TermNames != nil {
		return p.data.TermNames[t]
	}
	name := p.names[columns[0]]
	for _, j := range columns[1:] {
		name += ", " + p.names[j]
	}
	return name
}
