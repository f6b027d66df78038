package survival

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
)

// LandmarkData is a stack of landmarks, an entry per row: a row for each life
// at each landmark (a time since its start) at which it was still at risk,
// with the values known by then. Cause is what ended the life: 0 nothing yet,
// 1 the event, 2 an ending that makes it impossible.
type LandmarkData struct {
	Landmark []float64 // from 0; below Time
	Time     []float64 // end of the life, on the same clock, whenever it came
	Cause    []int
	X        [][]float64 // one slice per column, each as long as Time
	Names    []string
	Terms    []Term // nil: every column is a term
	Life     []int  // rows of one life share a number
	Cluster  []int  // rows of one person share a number
}

// LandmarkOptions are the settings of a landmark model.
type LandmarkOptions struct {
	Ahead float64 // how far ahead of each landmark; above 0
	Level float64 // confidence, between 0 and 1; 0: 0.95
}

// EventsPerColumn is how many lives with the event each column of a landmark
// model needs; below it the model is refused (Peduzzi and others 1995, J Clin
// Epidemiol 48:1503: from 10 on estimates of Cox regressions were little
// biased and their intervals about right). It is a least, not enough to
// predict well: see Riley and others 2019, Stat Med 38:1276.
const EventsPerColumn = 10

// FewEventsError reports fewer events than a landmark model needs.
type FewEventsError struct {
	Events, Columns int // lives with the event within Ahead of a landmark; columns of the model
}

func (e *FewEventsError) Error() string {
	return fmt.Sprintf("%d events for %d columns, fewer than %d for each", e.Events, e.Columns, EventsPerColumn)
}

// Landmark is a fitted landmark model. It is never changed after the fit, and
// keeps the slices it was fitted to: they must not be changed either.
type Landmark struct {
	Event     *Cox // of the event; its columns are X, then those of the landmark
	Competing *Cox // of the competing ending; nil where it has no columns
	// TimeColumns is how many columns of the landmark follow those of X: it
	// and its square, in units of Ahead, where windows overlap so that they
	// can be told from the time worn; else 0.
	TimeColumns int
	Rows        int
	Landmarks   []float64 // distinct, ascending
	Lives       int
	Clusters    int
	Events      int // lives with the event within Ahead of a landmark
	Competed    int // lives with a competing ending so
	Ahead       float64
	Level       float64

	data LandmarkData
	base landmarkBase
	cll  []float64 // of the risk of each row
	risk []float64
	seen *landmarkSeen
	all  Scores
}

// landmarkFit is what a prediction is made from.
type landmarkBase struct {
	ahead       float64
	timeColumns int
	event       linear
	competing   linear // without columns: nothing changes it
	time        []float64
	d1, d2      []float64 // hazards at the time, with all columns at the centre
}

// linear is a predictor less its value at a centre.
type linear struct{ coef, centre []float64 }

func (l linear) at(x func(j int) float64) float64 {
	eta := 0.0
	for j, b := range l.coef {
		eta += b * (x(j) - l.centre[j])
	}
	return eta
}

// FitLandmark fits a landmarking super model for the event within Ahead of
// any landmark: all landmarks stacked, each row watched from its landmark for
// Ahead and no longer, one proportional hazard for each kind of ending on the
// clock of the life with a baseline common to all landmarks, and the landmark
// itself and its square among the columns (van Houwelingen 2007, Scand J Stat
// 34:70; van Houwelingen and Putter, Dynamic prediction in clinical survival
// analysis, 2011, section 7.3, the model they call ipl*; for competing events
// Nicolaie and others 2013, Stat Med 32:2031). Ties are
// Breslow's: an event stands in several landmarks, and these are not ties of
// several lives. Errors are grouped by cluster.
//
// A landmark model is chosen over a regression with columns that vary because
// it predicts: its columns say what the value known today does to the time
// ahead, whatever becomes of the value later. It is chosen over one model per
// landmark because it shares the events.
//
// The competing endings have the same columns where EventsPerColumn of them
// fall to each; else only a baseline (Nelson and Aalen).
//
// Errors: stats.ErrNoRows, stats.ErrNoEvents, *FewEventsError, and those of
// FitCox.
func FitLandmark(d LandmarkData, o LandmarkOptions) (*Landmark, error) {
	l, err := fitLandmark(d, o)
	if err != nil {
		return nil, fmt.Errorf("landmark model: %w", err)
	}
	return l, nil
}

func fitLandmark(d LandmarkData, o LandmarkOptions) (*Landmark, error) {
	level, err := levelOrDefault(o.Level)
	if err != nil {
		return nil, err
	}
	if err := d.check(o.Ahead); err != nil {
		return nil, err
	}
	l := &Landmark{Rows: len(d.Time), Ahead: o.Ahead, Level: level, data: d}
	l.count()
	if l.Events == 0 {
		return nil, stats.ErrNoEvents
	}
	if l.overlap() {
		l.TimeColumns = min(2, len(l.Landmarks)-1)
	}
	if n := len(d.X) + l.TimeColumns; l.Events < EventsPerColumn*n {
		return nil, &FewEventsError{l.Events, n}
	}
	for {
		l.Event, err = FitCox(d.cox(1, o.Ahead, l.TimeColumns, nil, d.Cluster), CoxOptions{Ties: Breslow})
		var col *ColumnsError
		if errors.As(err, &col) && col.Columns[0] >= len(d.X) {
			l.TimeColumns-- // the landmark tells no more than the time worn
			continue
		}
		if err != nil {
			return nil, err
		}
		break
	}
	if l.Competed >= EventsPerColumn*(len(d.X)+l.TimeColumns) {
		// Columns that tell nothing of the competing ending leave it with its
		// baseline.
		if c, err := FitCox(d.cox(2, o.Ahead, l.TimeColumns, nil, d.Cluster), CoxOptions{Ties: Breslow}); err == nil {
			l.Competing = c
		}
	}
	if err := l.base.from(d, l.Event, l.Competing, o.Ahead, l.TimeColumns, nil); err != nil {
		return nil, err
	}
	l.risk = l.base.risks(d)
	for _, p := range l.risk {
		l.cll = append(l.cll, logLog(p))
	}
	l.seen = newLandmarkSeen(d, o.Ahead, nil)
	l.all = l.seen.scores(l.risk)
	return l, nil
}

func (d LandmarkData) check(ahead float64) error {
	n := len(d.Time)
	switch {
	case n == 0:
		return stats.ErrNoRows
	case !(ahead > 0) || math.IsInf(ahead, 0):
		return fmt.Errorf("%g ahead is not a time above 0", ahead)
	case len(d.Landmark) != n, len(d.Cause) != n, len(d.Life) != n, len(d.Cluster) != n:
		return &RowError{-1, fmt.Sprintf("%d times, but %d landmarks, %d causes, %d lives and %d clusters", n, len(d.Landmark), len(d.Cause), len(d.Life), len(d.Cluster))}
	}
	for i := range d.Time {
		if d.Cause[i] < 0 || d.Cause[i] > 2 {
			return &RowError{i, fmt.Sprintf("cause %d is not 0, 1 or 2", d.Cause[i])}
		}
		if !(d.Landmark[i] >= 0 && d.Landmark[i] < d.Time[i]) {
			return &RowError{i, "the life was over at the landmark"}
		}
	}
	return nil
}

// overlap says whether a life can stand in the windows of two landmarks.
func (l *Landmark) overlap() bool {
	for k := 1; k < len(l.Landmarks); k++ {
		if l.Landmarks[k]-l.Landmarks[k-1] < l.Ahead {
			return true
		}
	}
	return false
}

// count counts landmarks, lives, clusters and endings.
func (l *Landmark) count() {
	d := l.data
	lives, clusters := map[int]bool{}, map[int]bool{}
	by := [3]map[int]bool{{}, {}, {}}
	for i := range d.Time {
		lives[d.Life[i]], clusters[d.Cluster[i]] = true, true
		l.Landmarks = append(l.Landmarks, d.Landmark[i])
		if d.Time[i] <= d.Landmark[i]+l.Ahead {
			by[d.Cause[i]][d.Life[i]] = true
		}
	}
	slices.Sort(l.Landmarks)
	l.Landmarks = slices.Compact(l.Landmarks)
	l.Lives, l.Clusters, l.Events, l.Competed = len(lives), len(clusters), len(by[1]), len(by[2])
}

// cox is the stack as rows of a Cox regression of one cause.
func (d LandmarkData) cox(cause int, ahead float64, timeColumns int, weight []float64, cluster []int) CoxData {
	out := CoxData{Entry: d.Landmark, X: slices.Clone(d.X), Names: slices.Clone(d.Names), Weight: weight, Cluster: cluster}
	if d.Terms != nil {
		out.Terms = slices.Clone(d.Terms)
	}
	for i, t := range d.Time {
		end := d.Landmark[i] + ahead
		out.Time = append(out.Time, min(t, end))
		out.Event = append(out.Event, d.Cause[i] == cause && t <= end)
	}
	for k := range timeColumns {
		x := make([]float64, len(d.Time))
		for i, s := range d.Landmark {
			x[i] = math.Pow(s/ahead, float64(k+1))
		}
		if out.Terms != nil {
			out.Terms = append(out.Terms, Term{timeNames[k], []int{len(out.X)}})
		}
		out.X, out.Names = append(out.X, x), append(out.Names, timeNames[k])
	}
	return out
}

var timeNames = [...]string{"landmark", "landmark squared"}

// some are the rows of d with a weight above 0.
func (d LandmarkData) some(weight []float64) (LandmarkData, []float64) {
	var keep []int
	var w []float64
	for i, x := range weight {
		if x > 0 {
			keep, w = append(keep, i), append(w, x)
		}
	}
	out := LandmarkData{Landmark: chosen(d.Landmark, keep), Time: chosen(d.Time, keep), Cause: chosen(d.Cause, keep), Names: d.Names, Terms: d.Terms,
		Life: chosen(d.Life, keep), Cluster: chosen(d.Cluster, keep)}
	for _, x := range d.X {
		out.X = append(out.X, chosen(x, keep))
	}
	return out, w
}

func chosen[T any](x []T, at []int) []T {
	out := make([]T, len(at))
	for k, i := range at {
		out[k] = x[i]
	}
	return out
}
