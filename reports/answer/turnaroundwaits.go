package answer

import (
	"math"
	"slices"

	"plybook/analysis/cohort"
	"plybook/analysis/survival"
	"plybook/reports/words"
)

func (g *waits) add(days float64, cause, person int) {
	g.days, g.cause, g.person = append(g.days, days), append(g.cause, cause), append(g.person, person)
}

// further says whether a way has reached a step after the given one, so that
// it is not waiting for it.
func (j *turnaroundJob) further(way, step int) bool {
	for _, s := range j.steps[step+1:] {
		if !math.IsNaN(s.days[way]) {
			return true
		}
	}
	c, ok := j.table.Col(cohort.StepDelivered)
	return ok && !c.Own && !c.Missing[j.ways[way].Row]
}

func (g *waits) describe(level float64) error {
	if len(g.days) == 0 {
		return nil
	}
	n := map[int]int{}
	for _, p := range g.person {
		n[p]++
	}
	for _, p := range g.person {
		if n[p] > 1 {
			g.repeats++
		}
	}
	got, err := survival.Waits(survival.Data{Time: g.days, Cause: g.cause, Cluster: g.person}, waitQuantiles, level)
	if err != nil {
		return err
	}
	g.got = got
	for i, d := range g.days {
		if g.cause[i] == 0 && (g.over == 0 || d > got.Greatest) {
			g.longOpen++
		}
	}
	return nil
}

// withholdFew leaves out, where small counts are hidden, the groups that
// stand for few people.
func (j *turnaroundJob) withholdFew() error {
	var gone []string
	shown := 0
	for _, g := range j.waits {
		if j.smallCount(g.sockets()) || j.smallCount(len(g.days)) {
			g.withheld = true
			if name := j.groupLabel(g.group); !slices.Contains(gone, name) {
				gone = append(gone, name)
			}
			continue
		}
		shown++
	}
	if shown == 0 {
		return j.tooFew(1)
	}
	if len(gone) > 0 {
		j.caution("groups-hidden", "This report hides counts below %d. Steps with so few are left out, of: %s.", j.ctx.Front.HideBelow, words.List(gone))
	}
	return nil
}

func (j *turnaroundJob) groupLabel(name string) string {
	if j.ask.By == "" {
		if name == "all" {
			return "all together"
		}
		return name
	}
	return j.display(name)
}

func (j *turnaroundJob) pairLabel(g *waits) string {
	return j.steps[g.from].label + " to " + j.steps[g.to].label
}

// told is whether a quantile may be shown: with small counts hidden, only
// where at least five waits lie on either side of it, so that it is not
// nearly one person's.
func (j *turnaroundJob) told(g *waits, p float64) bool {
	return !j.public() || float64(len(g.days))*math.Min(p, 1-p) >= 5
}

// quantile gives estimate and limits of a quantile; NaN where not reached or
// not shown.
func (j *turnaroundJob) quantile(g *waits, k int) (est, low, high float64) {
	nan := math.NaN()
	if g.got == nil || !j.told(g, waitQuantiles[k]) {
		return nan, nan, nan
	}
	q := g.got.Quantiles[k]
	at := func(l survival.Limit) float64 {
		if !l.OK {
			return nan
		}
		return l.Value
	}
	est, low, high = at(q.Estimate), at(q.Low), at(q.High)
	if j.public() { // the shortest and the longest wait are one person's
		if low <= g.got.Least {
			low = nan
		}
		if high >= g.got.Greatest {
			high = nan
		}
	}
	return est, low, high
}
