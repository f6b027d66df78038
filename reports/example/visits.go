package example

import (
	"math"

	"plybook/ingest"
)

// wearing is a stretch of time over which a socket is seen at visits.
type wearing struct {
	socket          string
	cast, delivered ingest.Date
	from, to        ingest.Date
	definitive      bool
	remade          bool // the last day is the decision to remake
	seldom          bool // a spare: seen now and then
}

// wear draws the visits of a socket: delivery, follow-ups that thin out,
// walk-ins, and the visit at which a remake is decided.
func (d *drawer) wear(l *limb, w wearing) {
	r := d.r
	add := func(on ingest.Date, purpose, action string) {
		if on >= w.from && on <= w.to {
			d.visits = append(d.visits, d.visit(l, w, on, purpose, action))
		}
	}
	if w.from == w.delivered {
		add(w.delivered, "delivery", d.one("none", "none", "sock advice", "alignment"))
	}
	on := w.from
	gaps := []int{8, 14, 21, 35}
	if w.from != w.delivered {
		// Seen before the log opened, at some time within one gap.
		gaps = nil
		on -= ingest.Date(r.IntN(55))
	}
	last := w.to
	if w.remade {
		last = w.to - 1
	}
	for i := 0; ; i++ {
		gap := 54 + r.IntN(32)
		if w.seldom {
			gap = 120 + r.IntN(90)
		} else if i < len(gaps) {
			gap = gaps[i] - 3 + r.IntN(7)
		}
		if on += ingest.Date(gap); on > last {
			break
		}
		add(on, "follow-up", d.action(0.45))
	}
	if !w.seldom {
		for at := w.from + wait(r, 1.3); at <= last; at += wait(r, 1.3) {
			add(at, "walk-in", d.action(0.9))
		}
	}
	if w.remade {
		add(w.to, d.one("follow-up", "walk-in"), "recast")
	}
}

// action draws what was done, something with chance p.
func (d *drawer) action(p float64) string {
	if !d.chance(p) {
		return "none"
	}
	return d.pick([]Share{
		{"sock advice", 0.26}, {"heat relief", 0.18}, {"ground", 0.13}, {"pad added", 0.13},
		{"alignment", 0.12}, {"trim line lowered", 0.07}, {"suspension", 0.05}, {"reline", 0.04}, {"other", 0.02},
	})
}

// visit draws one visit of a worn socket.
func (d *drawer) visit(l *limb, w wearing, on ingest.Date, purpose, action string) visitDraft {
	t, r := d.t, d.r
	months := float64(on-w.delivered) / daysPerMonth
	ply := d.ply(l, w.cast, on, months)
	v := d.seen(l, w.socket, on, purpose, ply)
	hours := l.hours0 + l.hoursRate*months + t.HoursErrorSD*r.NormFloat64()
	if w.definitive && !w.seldom && purpose != "delivery" && d.chance(0.88) {
		v.Hours = ingest.Some(math.Round(clamp(hours, 0, 24)*10) / 10)
	}
	v.Action = coded(action)
	if action == "sock advice" && v.Ply.OK {
		v.PlyLeft = ingest.Some(socks(ply + 1 + float64(r.IntN(3))))
	}
	if action != "none" && action != "recast" && v.Comfort.OK && d.chance(0.6) {
		v.ComfortLeft = ingest.Some(clamp(v.Comfort.Value+float64(r.IntN(3)), 0, 10))
	}
	return v
}

// ply draws the total ply on arrival.
func (d *drawer) ply(l *limb, cast, on ingest.Date, months float64) float64 {
	t := d.t
	before := l.volume(t, cast)
	lost := 100 * (before - l.volume(t, on)) / before
	return math.Max(0, math.Round(l.ply0+t.PlyPerPct*lost+t.PlyPerMonth*months+t.PlyErrorSD*d.r.NormFloat64()))
}

// seen draws what every visit has: ply, comfort, mass, skin.
func (d *drawer) seen(l *limb, socket string, on ingest.Date, purpose string, ply float64) visitDraft {
	t, r := d.t, d.r
	v := visitDraft{Visit: ingest.Visit{
		Socket: socket, Date: on, Purpose: coded(purpose), SkinChecked: coded("no"),
		SeenBy: d.one("C1", "C2", "C3", "C4", "T1"),
	}}
	if d.chance(0.7) {
		v.Minute = ingest.Some(8*60 + 15*r.IntN(32))
	}
	if d.chance(0.96) {
		v.Ply = ingest.Some(socks(ply))
	}
	comfort := t.ComfortIntercept + t.ComfortPerPly*ply + t.ComfortLevel[l.level] + l.comfort + t.ComfortErrorSD*r.NormFloat64()
	if d.chance(0.94) {
		v.Comfort = ingest.Some(clamp(math.Round(comfort), 0, 10))
	}
	if d.chance(0.4) {
		years := float64(on-t.Opens) / daysPerYear
		v.MassKG = ingest.Some(math.Round(clamp(l.mass+l.massYear*years+r.NormFloat64()*0.8, 38, 150)*10) / 10)
	}
	v.Minutes = ingest.Some(float64(10 + 5*r.IntN(10)))
	if d.chance(t.SkinChecked) {
		v.SkinChecked = coded("yes")
		odds := math.Exp(t.FindingOdds + t.FindingPerPly*ply)
		if d.chance(odds / (1 + odds)) {
			v.findings = append(v.findings, d.finding(l))
			if d.chance(0.15) {
				if second := d.finding(l); second.Region != v.findings[0].Region {
					v.findings = append(v.findings, second)
				}
			}
		} else if d.chance(0.08) {
			v.findings = append(v.findings, ingest.Finding{
				Region: coded(d.one(regions(l.level)...)), Finding: coded("none"), Severity: ingest.Some(0)})
		}
	}
	return v
}

// checkFitting draws the fitting of a check socket.
func (d *drawer) checkFitting(l *limb, socket string, cast, on ingest.Date, accepted, asIs bool) {
	v := d.seen(l, socket, on, "check fitting", d.ply(l, cast, on, 0))
	switch {
	case !accepted:
		v.Accepted, v.Action = coded("no"), coded("recast")
	case asIs:
		v.Accepted, v.Action = coded("yes"), coded("none")
	default:
		v.Accepted, v.Action = coded("adjusted"), coded(d.one("heat relief", "ground", "pad added", "trim line lowered", "alignment"))
	}
	v.Minutes = ingest.Some(float64(40 + 5*d.r.IntN(11)))
	d.visits = append(d.visits, v)
}

// finding draws one skin finding.
func (d *drawer) finding(l *limb) ingest.Finding {
	r := d.r
	kind := d.pick([]Share{
		{"redness fading", 0.30}, {"redness persisting", 0.20}, {"callus", 0.13}, {"pain", 0.12},
		{"abrasion", 0.08}, {"blister", 0.07}, {"bruise", 0.03}, {"rash", 0.03}, {"ulcer", 0.02}, {"folliculitis", 0.02},
	})
	f := ingest.Finding{Region: coded(d.one(regions(l.level)...)), Finding: coded(kind)}
	switch kind {
	case "redness fading":
		f.Severity, f.FadesMin = ingest.Some(1), ingest.Some(float64(2+r.IntN(8)))
	case "redness persisting":
		f.Severity, f.FadesMin = ingest.Some(1+r.IntN(2)), ingest.Some(float64(12+r.IntN(20)))
	case "ulcer":
		f.Severity, f.SizeMM = ingest.Some(3), ingest.Some(float64(5+r.IntN(12)))
	case "abrasion", "blister":
		f.Severity, f.SizeMM = ingest.Some(1+r.IntN(2)), ingest.Some(float64(4+r.IntN(15)))
	default:
		f.Severity = ingest.Some(1 + r.IntN(2))
	}
	return f
}

// regions are where findings are seen at a level, the common ones more than
// once.
func regions(level string) []string {
	switch level {
	case "transfemoral":
		return []string{"ischial tuberosity", "ischial tuberosity", "adductor longus tendon", "perineum", "greater trochanter", "distal lateral femur", "distal lateral femur", "scar"}
	case "knee disarticulation":
		return []string{"patella", "medial femoral condyle", "lateral femoral condyle", "distal end", "scar"}
	case "transradial":
		return []string{"olecranon", "olecranon", "medial epicondyle", "distal ulna", "distal radius", "scar"}
	}
	return []string{"anterior distal tibia", "anterior distal tibia", "fibular head", "fibular head", "tibial crest", "patellar tendon", "distal fibula", "patella", "distal end", "scar"}
}

// socks is the ply as a list of socks, the thick ones first.
func socks(total float64) *ingest.Ply {
	p := &ingest.Ply{Total: total}
	for left := total; left >= 1; {
		sock := 1.0
		if left >= 5 {
			sock = 5
		} else if left >= 3 {
			sock = 3
		}
		p.Socks = append(p.Socks, sock)
		left -= sock
	}
	return p
}
