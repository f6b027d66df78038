package forecast

import (
	"errors"
	"math"
	"math/rand/v2"
	"sort"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Draws is how many futures are drawn.
const Draws = 4000

// Amount is what is foretold of one period, or of several together.
type Amount struct {
	Expected  float64 // mean
	Low, High float64 // counts that hold the share Confidence of futures between them
}

// Prediction is what is foretold of the periods after a series.
type Prediction struct {
	Periods []Amount
	Total   Amount
}

// Predict foretells the next periods. What is not known of omega and of the
// coefficients is drawn too: omega by its weight, the coefficients by the
// normal approximation at that omega. The same seed gives the same numbers.
func (f *Fit) Predict(ahead int, confidence float64, seed int) (*Prediction, error) {
	if ahead < 1 || !(confidence > 0 && confidence < 1) {
		return nil, errors.New("nothing to foretell")
	}
	random := rand.New(rand.NewPCG(uint64(seed), 0x9e3779b97f4a7c15))
	past := f.covariates(0, len(f.series.Count))
	coming := f.covariates(len(f.series.Count), ahead)
	each := make([][]float64, ahead)
	total := make([]float64, Draws)
	for d := range total {
		p := f.pick(random.Float64())
		a, b := p.at.a, p.at.b
		coef := p.at.coef
		if p.chol != nil {
			coef = p.draw(random)
			at := pass(f.series.Count, past, p.omega, coef, false)
			a, b = at.a, at.b
		}
		for k := range ahead {
			e := 1.0
			if len(coef) > 0 {
				dot := 0.0
				for j, c := range coef {
					dot += c * coming[k][j]
				}
				e = math.Exp(dot)
			}
			a, b = p.omega*a, p.omega*b
			y := poisson(random, e*distuv.Gamma{Alpha: a, Beta: b, Src: random}.Rand())
			a, b = a+y, b+e
			each[k] = append(each[k], y)
			total[d] += y
		}
	}
	out := &Prediction{Total: amount(total, confidence)}
	for _, ys := range each {
		out.Periods = append(out.Periods, amount(ys, confidence))
	}
	return out, nil
}

// most is a rate no lab reaches; beyond it the drawn level has run away.
const most = 1e9

func poisson(random *rand.Rand, mean float64) float64 {
	if !(mean > 0) {
		return 0
	}
	return distuv.Poisson{Lambda: math.Min(mean, most), Src: random}.Rand()
}

// pick is the grid point at a share of belief.
func (f *Fit) pick(u float64) *gridPoint {
	for i := range f.grid {
		if u -= f.grid[i].weight; u < 0 {
			return &f.grid[i]
		}
	}
	return &f.grid[len(f.grid)-1]
}

// draw takes coefficients from the normal distribution about their estimates.
func (p *gridPoint) draw(random *rand.Rand) []float64 {
	n := len(p.at.coef)
	z := mat.NewVecDense(n, nil)
	for j := range n {
		z.SetVec(j, random.NormFloat64())
	}
	// With U'U the information, U^-1 z has the inverse of it as covariance.
	var u mat.TriDense
	p.chol.UTo(&u)
	var x mat.VecDense
	if err := x.SolveVec(&u, z); err != nil {
		return p.at.coef
	}
	out := make([]float64, n)
	for j := range out {
		out[j] = p.at.coef[j] + x.AtVec(j)
	}
	return out
}

// amount describes drawn counts: the smallest with at least the lower tail at
// or below it, and likewise above.
func amount(ys []float64, confidence float64) Amount {
	s := append([]float64(nil), ys...)
	sort.Float64s(s)
	sum := 0.0
	for _, y := range s {
		sum += y
	}
	at := func(p float64) float64 {
		return s[min(max(int(math.Ceil(p*float64(len(s))))-1, 0), len(s)-1)]
	}
	tail := (1 - confidence) / 2
	return Amount{Expected: sum / float64(len(s)), Low: at(tail), High: at(1 - tail)}
}
