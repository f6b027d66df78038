package impute

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
)

// Completed are several completed copies of a table.
type Completed struct {
	Sets    [][]Column // each with the columns given, nothing missing
	Missing []int      // how many values of each column were missing
}

// Complete fills the missing values by chained equations (van Buuren and
// Groothuis-Oudshoorn 2011, J Stat Softw 45(3)): each is first drawn among
// the values known; then, column by column, the fewest missing first, it is
// drawn anew given all the other columns, for Cycles rounds.
//
// A number is drawn by predictive mean matching: a linear model of the rows
// known, its coefficients and its error drawn from their posterior under a
// flat prior; the value is that of one of the Donors rows whose prediction is
// nearest to the drawn prediction of the row to be filled (Little 1988, J Bus
// Econ Stat 6:287). So only values that occur are filled in. A category is
// drawn from a multinomial logistic model, its coefficients drawn from the
// normal approximation of their posterior; a few weighted rows that say
// nothing keep them finite (White, Daniel and Royston 2010, Comput Stat Data
// Anal 54:2267).
//
// For a regression of times to an event the columns must hold whether the
// event was seen and the cumulative hazard up to the end of each row (White
// and Royston 2009, Stat Med 28:1982); for other regressions the outcome.
//
// Each set has a stream of random numbers of its own, so that the outcome
// does not hang on how many are made at once. It stops at the context's end
// with its error. Other errors: *ColumnError.
func Complete(ctx context.Context, cols []Column, o Options) (*Completed, error) {
	if o.Sets == 0 {
		o.Sets = 20
	}
	if o.Cycles == 0 {
		o.Cycles = 10
	}
	if o.Donors == 0 {
		o.Donors = 5
	}
	if o.Sets < 1 || o.Cycles < 1 || o.Donors < 1 {
		return nil, fmt.Errorf("imputation: %d sets, %d cycles and %d donors", o.Sets, o.Cycles, o.Donors)
	}
	out := &Completed{Sets: make([][]Column, o.Sets), Missing: make([]int, len(cols))}
	for j, c := range cols {
		if c.len() != cols[0].len() {
			return nil, fmt.Errorf("imputation: %d values of %s and %d of %s", c.len(), c.Name, cols[0].len(), cols[0].Name)
		}
		known := 0
		for i := range c.len() {
			if c.missing(i) {
				out.Missing[j]++
			} else if known++; c.Kind == Number && math.IsInf(c.Num[i], 0) || c.Kind == Category && c.Cat[i] >= c.Cats {
				return nil, fmt.Errorf("imputation: %s has an impossible value in row %d", c.Name, i+1)
			}
		}
		if known == 0 && c.len() > 0 {
			return nil, &ColumnError{j, c.Name, ErrNothingKnown}
		}
	}
	errs := make([]error, o.Sets)
	next := make(chan int)
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), o.Sets) {
		wait.Go(func() {
			for m := range next {
				s := newFilling(cols, out.Missing, o, rand.New(rand.NewPCG(o.Seed, uint64(m)+1)))
				if errs[m] = s.run(ctx); errs[m] == nil {
					out.Sets[m] = s.cols
				}
			}
		})
	}
	for m := range o.Sets {
		next <- m
	}
	close(next)
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("imputation: %w", err)
		}
	}
	return out, nil
}

// filling is one completed table in the making.
type filling struct {
	cols  []Column
	gone  [][]int // rows missing, by column
	kept  [][]int // rows known
	order []int   // columns with something missing
	o     Options
	rng   *rand.Rand
}

func newFilling(cols []Column, missing []int, o Options, rng *rand.Rand) *filling {
	s := &filling{o: o, rng: rng, gone: make([][]int, len(cols)), kept: make([][]int, len(cols))}
	for j, c := range cols {
		c.Num, c.Cat = slices.Clone(c.Num), slices.Clone(c.Cat)
		for i := range c.len() {
			if c.missing(i) {
				s.gone[j] = append(s.gone[j], i)
			} else {
				s.kept[j] = append(s.kept[j], i)
			}
		}
		for _, i := range s.gone[j] {
			from := s.kept[j][rng.IntN(len(s.kept[j]))]
			if c.Kind == Category {
				c.Cat[i] = c.Cat[from]
			} else {
				c.Num[i] = c.Num[from]
			}
		}
		s.cols = append(s.cols, c)
		if missing[j] > 0 {
			s.order = append(s.order, j)
		}
	}
	slices.SortStableFunc(s.order, func(a, b int) int { return cmp.Compare(missing[a], missing[b]) })
	return s
}

func (s *filling) run(ctx context.Context) error {
	for range s.o.Cycles {
		for _, j := range s.order {
			if err := ctx.Err(); err != nil {
				return err
			}
			x := s.others(j)
			var err error
			if s.cols[j].Kind == Category {
				err = s.fillCategory(j, x)
			} else {
				err = s.fillNumber(j, x)
			}
			if err != nil {
				return &ColumnError{j, s.cols[j].Name, err}
			}
		}
	}
	return nil
}

// others are a constant and the other columns, categories as 0 and 1, each
// with mean 0 and deviation 1 over the rows known of column j; those that do
// not vary there are left out.
func (s *filling) others(j int) [][]float64 {
	n := s.cols[j].len()
	one := make([]float64, n)
	for i := range one {
		one[i] = 1
	}
	out := [][]float64{one}
	put := func(x []float64) {
		mean, sd := 0.0, 0.0
		for _, i := range s.kept[j] {
			mean += x[i] / float64(len(s.kept[j]))
		}
		for _, i := range s.kept[j] {
			sd += (x[i] - mean) * (x[i] - mean) / float64(len(s.kept[j]))
		}
		sd = math.Sqrt(sd)
		if !(sd > 1e-12*math.Abs(mean)) {
			return
		}
		z := make([]float64, n)
		for i := range z {
			z[i] = (x[i] - mean) / sd
		}
		out = append(out, z)
	}
	for k, c := range s.cols {
		if k == j {
			continue
		}
		if c.Kind == Number {
			put(c.Num)
			continue
		}
		for v := 1; v < c.Cats; v++ {
			x := make([]float64, n)
			for i, have := range c.Cat {
				if have == v {
					x[i] = 1
				}
			}
			put(x)
		}
	}
	return out
}
