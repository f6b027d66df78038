package cohort

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"plybook/analysis/table"
)

// Change is a value that holds from the end of a day on, in days since the
// start of a life or of a watch; below 0 for one recorded before it.
type Change struct {
	Time float64
	Row  int // of History.Column
}

// History is how a column changed over each of several lives or watches.
type History struct {
	Column  *table.Column
	Changes [][]Change // in time order, one a day: of several in a day the last
}

// The columns that come from the measurements of a limb, on the days on
// which it was measured.
const (
	volumeChange = "volume_change_pct"
	volumeML     = "volume_ml"
)

// FixedError reports a column that does not vary as a log records it, or
// that tells no more than the clock does.
type FixedError struct {
	Column string
	Clock  bool
}

func (e *FixedError) Error() string {
	if e.Clock {
		return fmt.Sprintf("column %q tells the time alone, which the clock does already", e.Column)
	}
	return fmt.Sprintf("column %q stands once for each socket, limb or person and does not vary", e.Column)
}

// History finds how a column of the visits (ply, comfort, own ones...), or
// volume_ml or volume_change_pct from the measurements of the limb, changed
// over each life, from the socket's delivery up to the
// life's end. A value recorded on the day of an
// event is among them and was not known before it: see Spells. Errors:
// *FixedError, *table.ConditionError for a column that does not exist.
func (l *Lives) History(name string) (*History, error) {
	of := make([][]int, l.Len())
	for j, k := range l.socket {
		of[j] = []int{k}
	}
	return l.cohort.history(name, of, l.Start, l.Time)
}

// History is as that of Lives, over the sockets of each subject together.
func (r *Repeats) History(name string) (*History, error) {
	return r.cohort.history(name, r.sockets, r.Start, r.Exit)
}

func (c *Cohort) history(name string, sockets [][]int, start, length []float64) (*History, error) {
	if name == "days_since_delivery" || name == "months_since_amputation" || name == "follow_up_days" {
		return nil, &FixedError{Column: name, Clock: true}
	}
	out := &History{Changes: make([][]Change, len(sockets))}
	if name == volumeChange || name == volumeML {
		out.Column = derived(name, Visits, 0)
		for j, members := range sockets {
			for _, k := range members {
				c.addMeasured(out, j, k, start[j], length[j])
			}
			out.settle(j)
		}
		return out, nil
	}
	col, err := c.visitColumn(name)
	if err != nil {
		var missing *table.ConditionError
		if errors.As(err, &missing) && c.standsElsewhere(name) {
			return nil, &FixedError{Column: name}
		}
		return nil, err
	}
	out.Column = col
	for j, members := range sockets {
		for _, k := range members {
			for _, v := range c.sockets.visits[k] {
				at := c.visits.date[v] - start[j]
				if !col.Missing[v] && at <= length[j] && c.visits.date[v] >= c.start(k) {
					out.Changes[j] = append(out.Changes[j], Change{at, int(v)})
				}
			}
		}
		out.settle(j)
	}
	return out, nil
}

// standsElsewhere says whether a column is one of sockets or limbs.
func (c *Cohort) standsElsewhere(name string) bool {
	t, err := c.Rows(Sockets)
	if err != nil {
		return false
	}
	_, err = t.Lookup(name)
	return err == nil
}

// addMeasured adds what was measured of the limb while a socket was worn.
func (c *Cohort) addMeasured(h *History, j, k int, start, length float64) {
	s := &c.sockets
	if s.limb[k] < 0 {
		return
	}
	key, _, ok := c.castSeries(s.limb[k], s.cast[k])
	if !ok {
		return
	}
	last := c.lastDayOf(k)
	for _, m := range c.measures.of[key] {
		at := m.date - start
		if m.date < s.delivered[k] || m.date > last || at > length {
			continue
		}
		var v float64
		if h.Column.Name == volumeChange {
			v = c.changeSince(s.cast[k], m.date, key, m.profile)
		} else {
			v = c.volume(key, m.profile)
		}
		if !math.IsNaN(v) {
			h.Changes[j] = append(h.Changes[j], Change{at, len(h.Column.Num)})
			h.Column.Num, h.Column.Missing = append(h.Column.Num, v), append(h.Column.Missing, false)
		}
	}
}

// settle puts the changes of one subject in order and keeps one a day.
func (h *History) settle(j int) {
	in := h.Changes[j]
	sort.SliceStable(in, func(a, b int) bool { return in[a].Time < in[b].Time })
	out := in[:0]
	for _, x := range in {
		if n := len(out); n > 0 && out[n-1].Time == x.Time {
			out[n-1] = x
			continue
		}
		out = append(out, x)
	}
	h.Changes[j] = out
}

// at is the row in force just after a time, -1 before the first value. A
// life that begins and ends in one moment knows only what was there before.
func (h *History) at(j int, time float64, before bool) int {
	row := -1
	for _, x := range h.Changes[j] {
		if x.Time > time || before && x.Time == time {
			break
		}
		row = x.Row
	}
	return row
}

// Same says whether two rows of the column hold one value.
func (h *History) Same(a, b int) bool {
	if a < 0 || b < 0 {
		return a == b
	}
	if h.Column.Kind == table.Text {
		return h.Column.Text[a] == h.Column.Text[b]
	}
	return h.Column.Num[a] == h.Column.Num[b]
}
