package answer

import (
	"errors"
	"math"

	"plybook/analysis/design"
	"plybook/analysis/survival"
	"plybook/reports/notebook"
)

// spans are the lives of a parametric ask, each with the stretch in which its
// event fell: the day itself where end reasons date it.
type spans struct {
	*lives
	left, right []float64
	seen        bool // the event is seen at visits only
}

// halfDay is where a life of 0 days, which has no logarithm, enters.
const halfDay = 0.5

// parametricLives makes the lives of an ask with their stretches.
func (w *work) parametricLives() (*spans, error) {
	if w.ask.Event == nil || w.ask.Event.Condition == nil {
		l, err := w.buildLives(false)
		if err != nil {
			return nil, err
		}
		s := &spans{lives: l}
		for j, t := range l.Time {
			r := t
			if l.Cause[j] == 0 {
				r = math.Inf(1)
			}
			s.left, s.right = append(s.left, t), append(s.right, r)
		}
		return s, nil
	}
	l, got, err := w.seenLives()
	if err != nil {
		return nil, err
	}
	return &spans{lives: l, left: got.Left, right: got.Right, seen: true}, nil
}

// parametricData are the rows of a design as the kernel takes them.
func (s *spans) parametricData(d *design.Design, cluster []int) survival.ParametricData {
	data := survival.ParametricData{X: d.X, Names: d.Names()}
	for _, j := range d.Rows {
		data.Entry = append(data.Entry, s.Entry[j])
		data.Left = append(data.Left, s.left[j])
		data.Right = append(data.Right, s.right[j])
		if cluster != nil {
			data.Cluster = append(data.Cluster, cluster[j])
		}
	}
	return data
}

// parametricError says why no curve can be fitted, at its place.
func (w *work) parametricError(err error, d *design.Design) error {
	var sep *survival.SeparationError
	var col *survival.ColumnsError
	name := distributions[w.ask.Method].String() + " regression"
	switch {
	case errors.As(err, &sep):
		return w.separationError(sep, d, "")
	case errors.As(err, &col):
		return w.modelError(err, d, name, col.Columns)
	case errors.Is(err, survival.ErrShape):
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-shape",
			Text: "the events seen do not tell the shape of a generalised gamma curve, as where they are few, run up against a wall, or are of very unlike sockets; ask of sockets that are alike (keep), or with weibull or log-normal, which are two of its shapes"}
	case errors.Is(err, survival.ErrNoSpread):
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-spread",
			Text: "the events seen do not say how long sockets last and how much they differ, as when there is but one event, or all fell on one day; ask of more rows, or use kaplan-meier"}
	}
	return err
}
