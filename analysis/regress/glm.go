package regress

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// Family is how an outcome is spread about its mean, and the scale on which
// the columns add up.
type Family int

// The families.
const (
	// Logistic is an outcome of 0 or 1; its log odds are linear.
	Logistic Family = iota
	// Poisson is a count whose variance is its mean; its logarithm is linear.
	Poisson
	// NegativeBinomial is a count of variance m + m^2/Theta about a mean m
	// whose logarithm is linear.
	NegativeBinomial
)

var familyNames = [...]string{"logistic", "Poisson", "negative binomial"}

func (f Family) String() string {
	if f < 0 || int(f) >= len(familyNames) {
		return fmt.Sprintf("Family(%d)", int(f))
	}
	return familyNames[f]
}

// Errors of FitGLM beside those of FitLinear. Test with errors.Is.
var (
	// ErrSeparation is what errors.Is finds in a *SeparationError.
	ErrSeparation = errors.New("no finite estimate exists")
	// ErrPenalty reports a penalty that the family does not have.
	ErrPenalty = errors.New("the family has no penalised estimate")
)

// SeparationError reports that the likelihood keeps growing as coefficients
// grow without end: some sum of the columns tells those with the outcome from
// those without, or finds only counts of 0. Columns are indices of GLMData.X.
type SeparationError struct {
	Columns []int
	Names   []string
}

func (e *SeparationError) Error() string {
	return fmt.Sprintf("no finite estimate exists for %s: the likelihood keeps growing with it", join(e.Names))
}

// Unwrap lets errors.Is find ErrSeparation.
func (e *SeparationError) Unwrap() error { return ErrSeparation }

// GLMData is the data of a generalised linear model, which always has a
// constant. Rows must be complete.
type GLMData struct {
	Y         []float64   // 0 or 1, or a count
	X         [][]float64 // one slice per column, each as long as Y
	Names     []string    // one per column of X
	Terms     []int       // term of each column of X; nil: each column its own
	TermNames []string    // names of the terms, by number; nil: the columns' names

	// Weight counts rows: a row of weight 2 is two rows, in every error too.
	// Nil: 1 each; all must be above 0.
	Weight []float64
	// Offset is added to the linear predictor of each row: of a count, the
	// logarithm of the time at risk. Nil: 0.
	Offset []float64
	// Cluster numbers the cluster of each row; any numbers will do. Nil: none.
	Cluster []int
	// Order tells in which order the rows of a cluster come, for Serial. Nil:
	// as they stand.
	Order []float64
}

// GLMOptions are the settings of FitGLM.
type GLMOptions struct {
	Level float64 // confidence level of the intervals; 0 means 0.95
	// Robust is ModelBased, CR0, CR1 or CR2. RobustDefault is model-based, or
	// CR2 where clusters are given.
	Robust Robust
	// Firth penalises the likelihood (Firth 1993), which keeps every estimate
	// finite. Not for NegativeBinomial. Limits then are of the penalised
	// profile likelihood, and clusters are not allowed for.
	Firth bool
	// Profile asks for limits of the profile likelihood in Limits.
	Profile bool
	// Correlation of the rows of a cluster, beyond their columns: generalised
	// estimating equations. For Logistic and Poisson with clusters.
	Correlation   Correlation
	MaxIterations int // 0 means 100
}

// GLM is a finished generalised linear model.
type GLM struct {
	Family Family
	Coef   []Coefficient // the constant first; DF is 0 for the normal distribution
	Cov    Covariances   // those that apply: Model, CR0, CR1, CR2
	Used   Robust
	Level  float64
	// Limits are by (penalised) profile likelihood, in the order of Coef; nil
	// unless asked for or Firth.
	Limits []Limits
	Firth  bool

	Rows     int     // rows used
	Total    float64 // sum of their weights
	Sum      float64 // weighted sum of the outcome
	Exposure float64 // weighted sum of exp(offset)
	Patterns int     // different rows of columns
	DF       float64 // residual degrees of freedom
	Clusters int     // 0 for none

	// Correlation is the working correlation used, with its estimate Alpha and
	// the Scale, the mean squared Pearson residual; the estimates then have no
	// likelihood, and LogLik, AIC, LikelihoodRatio and Deviance are those of
	// independent rows.
	Correlation  Correlation
	Alpha, Scale float64

	// LogLik has all constants and, with Firth, the penalty. LogLikNull is
	// that with the constant alone (of NegativeBinomial with a Theta of its own).
	LogLik, LogLikNull     float64
	AIC                    float64    // Theta counts as a parameter; 0 with Firth
	LikelihoodRatio        stats.Test // of all columns; DF 0 where there is none
	Deviance, DevianceNull float64    // row by row; that of the constant alone at the same Theta
	Pearson                float64    // sum of the squared Pearson residuals

	// Theta is of NegativeBinomial; +Inf where the counts scatter no more than
	// Poisson counts, so that the fit is one of Poisson.
	Theta, ThetaSE float64
	// Overdispersion compares with Poisson: the likelihood ratio, whose p value
	// is halved since Theta lies at its limit (Self & Liang 1987, J Am Stat
	// Assoc 82:605). Of NegativeBinomial only.
	Overdispersion stats.Test

	Iterations int
	Warnings   []stats.Warning

	model *glmModel
	beta  []float64 // of the scaled columns, the constant first
	sums  *sums
	gee   *gee // nil without a working correlation
}

// Limits are the limits of a coefficient by profile likelihood, and the
// likelihood-ratio test that it is 0.
type Limits struct {
	Low, High       float64
	HasLow, HasHigh bool // false where the profile does not fall far enough within reach
	Test            stats.Test
}

// manyClusters is the number of clusters beyond which CR1 stands in for CR2:
// with so many the two differ by less than one part in ten thousand where all
// bear on a coefficient alike.
const manyClusters = 20000

// FitGLM maximises the likelihood by Fisher scoring over the different rows of
// columns. It returns *SingularError, *SeparationError, ErrTooFewRows,
// ErrConstantResponse (all rows 0, or all 1), ErrOneCluster, ErrInput and
// stats.ErrNoRows, ErrConvergence.
//
// Sources: McCullagh & Nelder 1989, Generalized linear models; Firth 1993,
// Biometrika 80:27; Heinze & Schemper 2002, Stat Med 21:2409; Lawless 1987,
// Can J Stat 15:209 (negative binomial); CR2 as for FitLinear, in the rows
// scaled by the root of their working weights.
func FitGLM(family Family, d GLMData, o GLMOptions) (*GLM, error) {
	m, err := fitGLM(family, d, o)
	if err != nil {
		return nil, fmt.Errorf("%v model: %w", family, err)
	}
	return m, nil
}

func fitGLM(family Family, d GLMData, o GLMOptions) (*GLM, error) {
	g, err := newGLMModel(family, d, &o)
	if err != nil {
		return nil, err
	}
	out := &GLM{Family: family, Used: o.Robust, Level: o.Level, Firth: o.Firth, Rows: len(d.Y), Total: g.total, Sum: g.sum,
		Exposure: g.exposure, Patterns: g.size, DF: g.total - float64(g.p), Clusters: g.clusters, model: g}
	null, err := g.null()
	if err != nil {
		return nil, err
	}
	at, err := g.climbFrom(g.foretaste(null.beta), &out.Iterations)
	if err != nil {
		return nil, err
	}
	if family == NegativeBinomial {
		if at, err = out.fitTheta(at); err != nil {
			return nil, err
		}
	}
	out.beta = at.beta
	if err := out.summarise(at, null); err != nil {
		return nil, err
	}
	if o.Correlation != Independent {
		if at, err = out.correlate(at, o.Correlation); err != nil {
			return nil, err
		}
		out.beta = at.beta
	}
	if err := out.inference(at); err != nil {
		return nil, err
	}
	if o.Profile || o.Firth {
		if err := out.profile(at); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// summarise fills the figures of the whole fit. null is the fit of the
// constant alone, of NegativeBinomial with the Theta that it had by itself.
func (m *GLM) summarise(at, null *glmPoint) error {
	g := m.model
	m.LogLik = at.loglik + g.constant
	m.LogLikNull = null.loglik + g.constant
	parameters := float64(g.p)
	if m.Family == NegativeBinomial {
		parameters++
	}
	if !m.Firth {
		m.AIC = -2*m.LogLik + 2*parameters
	}
	if m.Family == NegativeBinomial {
		ll, err := g.nullTheta(null)
		if err != nil {
			return err
		}
		m.LogLikNull = ll + g.constant
	}
	if k := float64(g.p - 1); k > 0 {
		stat := math.Max(0, 2*(m.LogLik-m.LogLikNull))
		m.LikelihoodRatio = stats.Test{Name: "likelihood-ratio test", Statistic: stat, DF: k, P: stats.ChiSquareP(stat, k)}
	}
	m.Deviance, m.Pearson = g.deviance(at.beta)
	if m.Family == NegativeBinomial || m.Firth { // the constant alone, at this Theta and without penalty
		flat, err := g.flat(null.beta)
		if err != nil {
			return err
		}
		null = flat
	}
	m.DevianceNull, _ = g.deviance(null.beta)
	return nil
}

func (m *GLM) warn(code, text, about string) {
	m.Warnings = append(m.Warnings, stats.Warning{Code: code, Text: text, About: about})
}

func join(names []string) string {
	switch len(names) {
	case 0:
		return "the constant"
	case 1:
		return names[0]
	}
	text := names[0]
	for _, n := range names[1 : len(names)-1] {
		text += ", " + n
	}
	return text + " and " + names[len(names)-1]
}
