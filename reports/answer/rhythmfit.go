package answer

import (
	"errors"
	"math"
	"slices"

	"plybook/analysis/design"
	"plybook/analysis/mixed"
	"plybook/analysis/rhythm"
)

// spreadOfMeans is how far the means of limbs must lie apart, in units of the
// column's own scatter, for what varies between limbs to be told from what
// varies within them.
const spreadOfMeans = 0.01

// cyclePart is one twelfth of the cycle, seen often.
type cyclePart struct {
	number   int
	at       float64 // its middle, within the arc's turn
	rows     int
	estimate mixed.Contrast // difference from the average row
	told     bool
}

// estimate fits the model: each limb with a level and, where a trend is asked
// for, a pace of its own; waves within limbs, and what the limb means of waves
// and trend would add (Mundlak 1978, Econometrica 46:69), so that limbs seen at
// other times do not pass for a pattern of one limb.
func (p *pattern) estimate() error {
	waves := rhythm.Columns(p.places, p.cycle.Length(), p.ask.Waves)
	d, first := p.withWaves(waves)
	fit, err := mixed.Fit(d, p.options)
	if errors.Is(err, mixed.ErrNotSeparable) || errors.Is(err, mixed.ErrConstantSlope) {
		d.Z, d.ZNames, p.noPace = nil, nil, true
		fit, err = mixed.Fit(d, p.options)
	}
	if err != nil {
		return p.failed(err)
	}
	p.data, p.fit, p.first = d, fit, first
	p.warnings(fit.Warnings)
	p.curve = p.curveOf(fit, waves)
	if p.ends, err = p.curve.Extremes(p.seen.Arc); err != nil {
		return p.failed(err)
	}
	n := 2 * p.ask.Waves
	if p.test, err = p.testOf(fit, first, n); err != nil {
		return p.failed(err)
	}
	for k := range p.ask.Waves {
		f, err := p.testOf(fit, first+2*k, 2)
		if err != nil {
			return p.failed(err)
		}
		p.each = append(p.each, f)
	}
	if p.hasMeans() {
		f, err := p.testOf(fit, first+n, n)
		if err != nil {
			return p.failed(err)
		}
		p.between = &f
	}
	return p.meansOfParts(d, waves)
}

// hasMeans says whether the limb means of the waves are in the model.
func (p *pattern) hasMeans() bool { return len(p.fit.Coef) > p.first+2*p.ask.Waves }

// testOf tests n coefficients from one on.
func (p *pattern) testOf(fit *mixed.Model, from, n int) (mixed.FTest, error) {
	rows := make([][]float64, n)
	for k := range rows {
		rows[k] = make([]float64, len(fit.Coef))
		rows[k][from+k] = 1
	}
	return fit.FTest(rows)
}

var waveNames = []string{"cosine", "sine", "cosine of the second wave", "sine of the second wave"}

// withWaves is the data of the model with columns of a pattern, and where the
// first of them stands among the coefficients. Limb means of columns and trend
// follow where they differ and limbs are enough to bear them.
func (p *pattern) withWaves(columns [][]float64) (mixed.Data, int) {
	d := p.data
	d.X, d.Names, d.Terms, d.TermNames = slices.Clone(d.X), slices.Clone(d.Names), nil, nil
	first := len(d.X) + 1
	var trend []float64
	if p.timeName != "" {
		trend = d.X[0]
		d.Z, d.ZNames = [][]float64{trend}, []string{p.timeName}
	}
	means := make([][]float64, 0, len(columns))
	for k, c := range columns {
		d.X, d.Names = append(d.X, c), append(d.Names, waveNames[k])
	}
	for _, c := range columns {
		m := p.limbMeans(c)
		if scatter(m) <= spreadOfMeans*scatter(c) {
			return d, first
		}
		means = append(means, m)
	}
	if len(p.names) < 2*(len(d.X)+len(means)+1) {
		return d, first
	}
	for k, m := range means {
		d.X, d.Names = append(d.X, m), append(d.Names, p.one+" mean of "+waveNames[k])
	}
	if trend != nil {
		if m := p.limbMeans(trend); scatter(m) > spreadOfMeans*scatter(trend) {
			d.X, d.Names = append(d.X, m), append(d.Names, p.one+" mean of "+p.timeName)
		}
	}
	return d, first
}

// limbMeans is the mean of a column over the rows of each row's limb.
func (p *pattern) limbMeans(c []float64) []float64 {
	sum, n := make([]float64, len(p.names)), make([]float64, len(p.names))
	for k, g := range p.data.Group {
		sum[g] += c[k]
		n[g]++
	}
	out := make([]float64, len(c))
	for k, g := range p.data.Group {
		out[k] = sum[g] / n[g]
	}
	return out
}

// scatter is the standard deviation of a column over the rows.
func scatter(c []float64) float64 {
	m, s := average(c), 0.0
	for _, v := range c {
		s += (v - m) * (v - m)
	}
	return math.Sqrt(s / float64(len(c)))
}

// curveOf is the curve of a fit; its sums are contrasts of the model, each with
// degrees of freedom of its own.
func (p *pattern) curveOf(fit *mixed.Model, waves [][]float64) rhythm.Curve {
	c := rhythm.Curve{Period: p.cycle.Length()}
	for k, x := range waves {
		c.Coef = append(c.Coef, fit.Coef[p.first+k].Estimate)
		c.Centre = append(c.Centre, average(x))
	}
	c.Sum = func(weights []float64) (rhythm.Estimate, error) {
		full := make([]float64, len(fit.Coef))
		copy(full[p.first:], weights)
		e, err := fit.Contrast(full)
		return rhythm.Estimate{Value: e.Estimate, SE: e.SE, Low: e.Low, High: e.High}, err
	}
	return c
}

func partName(k int) string { return "part " + string(rune('a'+k)) }

// meansOfParts fits the model anew with the parts of the cycle in place of the
// waves, so that a reader sees what the curve was drawn through. Rows outside
// the parts seen often count with the nearest. Where the fit fails, nothing is
// shown.
func (p *pattern) meansOfParts(d mixed.Data, waves [][]float64) error {
	period := p.cycle.Length()
	var parts []cyclePart
	index := map[int]int{}
	for k, often := range p.seen.Often {
		if often {
			parts = append(parts, cyclePart{number: k, at: p.seen.Arc.In((float64(k)+0.5)*period/rhythm.Parts, period)})
		}
	}
	slices.SortFunc(parts, func(a, b cyclePart) int {
		if a.at < b.at {
			return -1
		}
		return 1
	})
	for k := range parts {
		index[parts[k].number] = k
	}
	columns := make([][]float64, len(parts)-1)
	for k := range columns {
		columns[k] = make([]float64, len(p.places))
	}
	for i, v := range p.places {
		n := rhythm.PartOf(v, period)
		for off := 0; ; off++ {
			if k, ok := index[(n+off)%rhythm.Parts]; ok {
				n = k
				break
			}
			if k, ok := index[(n-off+rhythm.Parts)%rhythm.Parts]; ok {
				n = k
				break
			}
		}
		parts[n].rows++
		if n > 0 {
			columns[n-1][i] = 1
		}
	}
	p.parts = parts
	byPart := p.data
	byPart.X, byPart.Names = slices.Clone(d.X[:p.first-1]), slices.Clone(d.Names[:p.first-1])
	for k, c := range columns {
		byPart.X, byPart.Names = append(byPart.X, c), append(byPart.Names, partName(k))
	}
	byPart.X, byPart.Names = append(byPart.X, d.X[p.first-1+len(waves):]...), append(byPart.Names, d.Names[p.first-1+len(waves):]...)
	fit, err := mixed.Fit(byPart, p.options)
	if err != nil {
		return nil
	}
	n := float64(len(p.places))
	for k := range parts {
		c := make([]float64, len(fit.Coef))
		for j := 1; j < len(parts); j++ {
			c[p.first+j-1] = -float64(parts[j].rows) / n
		}
		if k > 0 {
			c[p.first+k-1]++
		}
		if e, err := fit.Contrast(c); err == nil {
			parts[k].estimate, parts[k].told = e, true
		}
	}
	return nil
}

// left is what each row leaves of its limb's own level and pace and of the
// other columns, the curve included.
func (p *pattern) left() []float64 {
	out := p.fit.Residuals()
	for k, v := range p.fitted() {
		out[k] += v
	}
	return out
}

// fitted is the curve at each row.
func (p *pattern) fitted() []float64 {
	out := make([]float64, len(p.places))
	for j, c := range rhythm.Columns(p.places, p.cycle.Length(), p.ask.Waves) {
		for k, v := range c {
			out[k] += p.curve.Coef[j] * (v - p.curve.Centre[j])
		}
	}
	return out
}

// explained is how much of what varies within a limb around its own line the
// curve accounts for.
func (p *pattern) explained() float64 {
	s := scatter(p.fitted())
	return s * s / (s*s + p.fit.Sigma*p.fit.Sigma)
}

// told says whether the pattern is told from none.
func (p *pattern) told() bool { return p.test.P < 1-p.ask.Confidence }

// secondWave says whether a second wave adds something to one.
func (p *pattern) secondWave() (mixed.FTest, bool) {
	if p.ask.Waves > 1 || p.seen.Count < partsForTwo || p.seen.Distinct < 6 || len(p.places) > lastRows {
		return mixed.FTest{}, false
	}
	d := p.data
	// The columns of the design again, without waves and limb means.
	d.X, d.Names = d.X[:p.first-1], d.Names[:p.first-1]
	q := *p.mixedJob
	q.data = d
	two := &pattern{mixedJob: &q, cycle: p.cycle, places: p.places, seen: p.seen}
	data, first := two.withWaves(rhythm.Columns(p.places, p.cycle.Length(), 2))
	if p.noPace {
		data.Z, data.ZNames = nil, nil
	}
	fit, err := mixed.Fit(data, p.options)
	if err != nil {
		return mixed.FTest{}, false
	}
	f, err := p.testOf(fit, first+2, 2)
	return f, err == nil
}

// patternColumns name the coefficients of waves and limb means in the table of
// terms.
func (p *pattern) patternColumns() *design.Design {
	d := *p.design
	d.Columns = slices.Clone(d.Columns)
	for _, n := range p.data.Names[len(d.Columns):] {
		d.Columns = append(d.Columns, design.Column{Term: n, Label: n})
	}
	return &d
}
