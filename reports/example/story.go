package example

import (
	"fmt"
	"math"

	"plybook/ingest"
)

// fitting is what one making of a definitive socket led to.
type fitting struct {
	check     string      // code of the last check socket; empty if none was cast
	socket    int         // index of the definitive socket, -1 if none was written down
	cast      ingest.Date // last cast
	delivered ingest.Opt[ingest.Date]
	method    string
}

// story tells a limb's sockets, from the first to the end of follow-up.
func (d *drawer) story(l *limb) {
	t, r := d.t, d.r
	if l.worn {
		number := 2 + r.IntN(5)
		delivered := t.Opens - 1 - ingest.Date(r.IntN(700))
		delivered = max(delivered, l.amputated+150)
		d.later(l, d.inherited(l, delivered, number), number)
		return
	}
	referred := l.amputated + ingest.Date(20+r.IntN(50))
	referred = max(referred, l.entry)
	if referred > l.exit {
		return
	}
	d.watchVolume(l, referred, l.exit)
	ordered := referred + ingest.Date(3+r.IntN(12))
	replaces := ""
	prep := -1
	if d.chance(0.55) {
		if prep = d.preparatory(l, referred, ordered); prep < 0 {
			return
		}
		replaces = d.sockets[prep].Socket.Socket
		ordered = d.sockets[prep].Delivered.Value + ingest.Date(60+r.IntN(70))
	} else {
		ordered += ingest.Date(40 + r.IntN(40))
	}
	made := d.make(l, referred, ordered, replaces, 1)
	if prep >= 0 {
		d.endPreparatory(l, prep, made)
	}
	if made.delivered.OK {
		d.later(l, made, 1)
	}
}

// later tells the life of a delivered definitive socket and of all that
// follow it.
func (d *drawer) later(l *limb, made fitting, number int) {
	t, r := d.t, d.r
	for {
		start := made.delivered.Value
		from := max(start, t.Opens)
		code := d.sockets[made.socket].Socket.Socket
		on, reason, remake := d.life(l, made.method, number == 1, start, from)
		d.wear(l, wearing{socket: code, cast: made.cast, delivered: start, from: from,
			to: min(on, l.exit), definitive: true, remade: remake && on <= l.exit})
		d.spare(l, made)
		if on > l.exit {
			d.leave(l, made.socket)
			return
		}
		s := &d.sockets[made.socket]
		s.EndReason = coded(reason)
		s.Ended = ingest.Some(on)
		if reason == reasonStopped {
			return
		}
		out := !remake || d.chance(t.OutOfUse)
		if !out {
			s.RemakeDecided = ingest.Some(on)
		}
		next := d.make(l, on, on+ingest.Date(orderMin+r.IntN(orderSpan)), code, number+1)
		if !next.delivered.OK {
			return
		}
		if !out {
			// make may have moved the rows: take the socket anew.
			d.sockets[made.socket].Ended = next.delivered
		}
		made, number = next, number+1
	}
}

// life draws when and why a definitive socket ends, given that it was still
// worn on the day from.
func (d *drawer) life(l *limb, method string, first bool, start, from ingest.Date) (on ingest.Date, reason string, remake bool) {
	t, r := d.t, d.r
	hr := math.Exp(t.LogHR(method, l.cause, first))
	reached := math.Pow(float64(from-start)/t.ScaleDays, t.Shape)
	exact := t.ScaleDays * math.Pow(reached+r.ExpFloat64()/hr, 1/t.Shape)
	total := 0.0
	for _, e := range t.OtherEnds {
		total += e.Value
	}
	other := float64(from-start) + r.ExpFloat64()/total*daysPerYear
	if other < exact {
		return start + ingest.Date(math.Ceil(other)), d.pick(t.OtherEnds), false
	}
	shares := make([]Share, 0, 16)
	for _, code := range t.Reasons() {
		shares = append(shares, Share{code, t.ReasonShare(code, exact)})
	}
	return start + ingest.Date(math.Ceil(exact)), d.pick(shares), true
}

// leave writes down what is known of a socket still worn when the person's
// follow-up ends.
func (d *drawer) leave(l *limb, i int) {
	reason := ""
	switch l.how {
	case exitDeath:
		reason = reasonDied
	case exitMoved:
		reason = reasonMoved
	case exitNoted:
		reason = "lost to follow-up"
	default:
		return
	}
	d.sockets[i].Ended = ingest.Some(l.exit)
	d.sockets[i].EndReason = coded(reason)
}

// newSocket is a row with what is the same for every socket of the limb.
func (d *drawer) newSocket(l *limb, kind string) socketDraft {
	l.made++
	s := socketDraft{Socket: ingest.Socket{
		Socket: fmt.Sprintf("%s-%d", l.code, l.made), Limb: l.code, Kind: coded(kind), Site: l.site,
		Suspension: d.one("pin", "pin", "suction", "sleeve"), LinerMM: ingest.Some(float64([]int{3, 6, 6, 9}[d.r.IntN(4)])),
	}}
	if l.level == "transradial" {
		s.LinerMM = ingest.Some(3.0)
	}
	return s
}

// cast fills in who cast and shaped a socket and how.
func (d *drawer) cast(s *socketDraft, on ingest.Date) {
	method := castHand
	if d.chance(d.t.VacuumCast) {
		method = castVacuum
	}
	s.CastOn = ingest.Some(on)
	s.CastMethod = method
	s.CastBy = d.one("C1", "C2", "C2", "C3", "C4")
	s.ShapeMethod = coded(d.one("hand", "hand", "digital"))
	s.ShapeStyle = d.one("total surface", "total surface", "patellar tendon", "hybrid")
	s.ShapedBy = d.one("T1", "T1", "T2", "T3")
}

// inherited is the definitive socket that a worn-in limb had when the log
// opened.
func (d *drawer) inherited(l *limb, delivered ingest.Date, number int) fitting {
	s := d.newSocket(l, kindDefinitive)
	cast := delivered - ingest.Date(18+d.r.IntN(14))
	d.cast(&s, cast)
	s.Number = ingest.Some(number)
	s.Use = coded("everyday")
	s.Material = d.one("carbon laminate", "carbon laminate", "polypropylene")
	s.Delivered = ingest.Some(delivered)
	s.first = "no"
	d.sockets = append(d.sockets, s)
	return fitting{socket: len(d.sockets) - 1, cast: cast, delivered: s.Delivered, method: s.CastMethod}
}

// make tells the making of a definitive socket: cast, check socket, check
// fitting, again until one is accepted, delivery. Nothing is written down
// that happens after the person's follow-up ends.
func (d *drawer) make(l *limb, referred, ordered ingest.Date, replaces string, number int) fitting {
	t, r := d.t, d.r
	f := fitting{socket: -1}
	on := ordered + castMin + ingest.Date(math.Min(r.ExpFloat64()*castMean, castMost))
	for {
		if on > l.exit {
			return f
		}
		c := d.newSocket(l, kindCheck)
		d.cast(&c, on)
		c.Referred, c.Ordered = ingest.Some(referred), ingest.Some(ordered)
		c.Material = "PETG"
		c.Replaces = f.check
		f.check, f.cast = c.Socket.Socket, on
		f.method = c.CastMethod
		p := t.FirstFitBefore
		if on >= t.PracticeChange {
			p = t.FirstFitAfter
		}
		accepted, asIs := d.chance(p), d.chance(t.AsIs)
		fit := on + fittingMin + ingest.Date(r.IntN(fittingSpan))
		delivered := max(fit+1, on+ingest.Date(math.Round(math.Exp(t.MakeLogMean+t.MakeLogSD*r.NormFloat64()))))
		d.measure(l, on, &c)
		d.form(l, &c, fit)
		if fit > l.exit {
			d.sockets = append(d.sockets, c)
			return f
		}
		d.checkFitting(l, f.check, on, fit, accepted, asIs)
		if !accepted {
			c.Ended = ingest.Some(fit)
			c.EndReason = coded(remakeFor + d.one("casting or measuring error", "casting or measuring error", "shaping error", "fabrication error"))
			d.sockets = append(d.sockets, c)
			on = fit + recastMin + ingest.Date(r.IntN(recastSpan))
			continue
		}
		s := c
		l.made++
		s.Socket.Socket = fmt.Sprintf("%s-%d", l.code, l.made)
		s.Kind = coded(kindDefinitive)
		s.Number = ingest.Some(number)
		s.Use = coded("everyday")
		s.Material = d.one("carbon laminate", "carbon laminate", "polypropylene")
		s.first = "no"
		if number == 1 {
			s.first = "yes"
		}
		if s.Replaces = replaces; replaces == "" {
			s.Replaces = f.check
		}
		if delivered <= l.exit {
			s.Delivered = ingest.Some(delivered)
			c.Ended, c.EndReason = s.Delivered, coded("planned step")
		}
		d.sockets = append(d.sockets, c)
		if delivered > l.exit && l.how != exitCall {
			return f // never finished, never entered
		}
		d.form(l, &s, delivered)
		d.sockets = append(d.sockets, s)
		f.socket, f.delivered = len(d.sockets)-1, s.Delivered
		return f
	}
}

// preparatory makes the first socket of a new limb and returns its index,
// -1 where follow-up ended first.
func (d *drawer) preparatory(l *limb, referred, ordered ingest.Date) int {
	on := ordered + ingest.Date(2+d.r.IntN(12))
	delivered := on + ingest.Date(9+d.r.IntN(9))
	if delivered > l.exit {
		return -1
	}
	s := d.newSocket(l, kindPreparatory)
	d.cast(&s, on)
	s.Referred, s.Ordered, s.Delivered = ingest.Some(referred), ingest.Some(ordered), ingest.Some(delivered)
	s.Material = "polypropylene"
	s.Use = coded("everyday")
	d.measure(l, on, &s)
	d.form(l, &s, delivered)
	d.sockets = append(d.sockets, s)
	return len(d.sockets) - 1
}

// endPreparatory tells the wearing of a preparatory socket until the first
// definitive one is delivered or follow-up ends.
func (d *drawer) endPreparatory(l *limb, i int, made fitting) {
	s := &d.sockets[i]
	w := wearing{socket: s.Socket.Socket, cast: s.CastOn.Value, delivered: s.Delivered.Value, from: s.Delivered.Value, to: l.exit}
	if made.delivered.OK {
		s.Ended, s.EndReason = made.delivered, coded("planned step")
		w.to = made.delivered.Value - 1
	} else {
		d.leave(l, i)
	}
	d.wear(l, w)
}

// spare sometimes adds a second definitive socket from the same model, for
// sport, water or in reserve. Its life has the same truth as any later
// socket's.
func (d *drawer) spare(l *limb, made fitting) {
	t, r := d.t, d.r
	if !d.chance(0.07) {
		return
	}
	delivered := max(made.delivered.Value, t.Opens) + ingest.Date(20+r.IntN(90))
	if delivered > l.exit {
		return
	}
	of := d.sockets[made.socket]
	s := d.newSocket(l, kindDefinitive)
	s.CastMethod, s.CastBy = of.CastMethod, of.CastBy // no cast of its own
	s.ShapeMethod, s.ShapeStyle, s.ShapedBy = of.ShapeMethod, of.ShapeStyle, of.ShapedBy
	s.Ordered = ingest.Some(delivered - ingest.Date(12+r.IntN(6)))
	s.Material = "polypropylene"
	s.Use = coded(d.one("spare", "spare", "water", "sport"))
	s.Delivered = ingest.Some(delivered)
	s.first = "no"
	on, reason, remake := d.life(l, s.CastMethod, false, delivered, delivered)
	d.sockets = append(d.sockets, s)
	i := len(d.sockets) - 1
	d.wear(l, wearing{socket: s.Socket.Socket, cast: made.cast, delivered: delivered, from: delivered,
		to: min(on, l.exit), definitive: true, remade: remake && on <= l.exit, seldom: true})
	if on > l.exit {
		d.leave(l, i)
		return
	}
	d.sockets[i].Ended, d.sockets[i].EndReason = ingest.Some(on), coded(reason)
	if remake {
		d.sockets[i].RemakeDecided = ingest.Some(on)
	}
}
