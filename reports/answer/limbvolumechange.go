package answer

import (
	"errors"

	"plybook/analysis/limb"
)

// measureAll works out the volumes and changes of every limb.
func (v *volumes) measureAll() error {
	for _, l := range v.limbs {
		var profiles []limb.Profile
		for _, d := range l.days {
			profiles = append(profiles, d.set.Profile)
		}
		span, ok := limb.UsualSpan(profiles)
		if !ok {
			continue
		}
		l.span = span
		for _, d := range l.days {
			alone := v.error // what one person would read again
			alone.tape.Measurer = 0
			m, err := alone.measure(d.set, span, d.cap, alone.percent)
			switch {
			case err == nil:
				d.volume, d.reaches = m, true
			case errors.Is(err, limb.ErrOutside), errors.Is(err, limb.ErrTip):
				v.noReach++
			default:
				return err
			}
		}
		for k, d := range l.days {
			if k > 0 {
				l.changes = append(l.changes, v.compare(l.days[0], d, "first"))
			}
			if k > 1 {
				l.changes = append(l.changes, v.compare(l.days[k-1], d, "previous"))
			}
		}
	}
	return nil
}

// compare is the change from one day to a later one over the stations that
// both have.
func (v *volumes) compare(a, b *measuredDay, against string) volumeChange {
	c := volumeChange{earlier: a, later: b, against: against, otherMeasurer: a.measurers != b.measurers && a.measurers != "" && b.measurers != ""}
	both, err := limb.Common(a.set, b.set)
	if err != nil {
		return c
	}
	span, err := limb.CommonSpan(both[0].Profile, both[1].Profile)
	if err != nil {
		return c
	}
	percent := v.error.percent
	if c.otherMeasurer && v.error.source == errorCommon {
		percent = otherMeasurer
	}
	e := v.error
	if !c.otherMeasurer {
		e.tape.Measurer = 0
	}
	from, err1 := e.measure(both[0], span, a.cap, percent)
	to, err2 := e.measure(both[1], span, b.cap, percent)
	if err1 != nil || err2 != nil {
		return c
	}
	c.span, c.stations, c.from, c.to, c.change = span, len(both[0].Profile.Stations()), from, to, to.Less(from)
	c.low, c.high = c.change.Percent-v.z*c.change.PercentSE, c.change.Percent+v.z*c.change.PercentSE
	return c
}

// last is the change from the first day to the last; ok is false where the
// limb was measured on one day only, or the two share no stretch.
func (l *measuredLimb) last() (volumeChange, bool) {
	for k := len(l.changes) - 1; k >= 0; k-- {
		if c := l.changes[k]; c.against == "first" && c.later == l.days[len(l.days)-1] {
			return c, c.stations > 0
		}
	}
	return volumeChange{}, false
}
