package example

import (
	"math"

	"plybook/ingest"
)

// profile is the shape of a limb: girths at stations a fixed step apart,
// relative to the first, and where they are measured from.
type profile struct {
	landmark string
	stepMM   float64
	girths   []float64
}

func profileOf(level string) profile {
	switch level {
	case "transfemoral":
		return profile{"ischial level", 50, []float64{1, 0.98, 0.94, 0.89, 0.82}}
	case "knee disarticulation":
		return profile{"ischial level", 60, []float64{1, 0.97, 0.92, 0.85, 0.80}}
	case "transradial":
		return profile{"olecranon", 30, []float64{1, 1.02, 0.97, 0.88, 0.80}}
	}
	return profile{"mid-patellar tendon", 30, []float64{1, 1.03, 1.02, 0.98, 0.93, 0.86}}
}

// girthsMM are the girths of a limb of this shape whose frusta between the
// first and the last station hold ml: the volume of a frustum of height h
// between girths a and b is h (a^2 + a b + b^2) / (12 pi).
func (p profile) girthsMM(ml float64) []float64 {
	unit := 0.0
	for i := 1; i < len(p.girths); i++ {
		a, b := p.girths[i-1], p.girths[i]
		unit += p.stepMM * (a*a + a*b + b*b) / (12 * math.Pi)
	}
	scale := math.Sqrt(ml * 1000 / unit)
	out := make([]float64, len(p.girths))
	for i, g := range p.girths {
		out[i] = math.Round(g * scale)
	}
	return out
}

// tape draws one set of girths.
func (d *drawer) tape(l *limb, on ingest.Date) []ingest.Station {
	p := profileOf(l.level)
	girths := p.girthsMM(l.volume(d.t, on) + d.t.VolumeErrorML*d.r.NormFloat64())
	off := ingest.Opt[float64]{}
	if d.chance(0.8) {
		off = ingest.Some(float64(5 + d.r.IntN(11)))
	}
	by := d.one("C1", "C2", "T1", "T2")
	out := make([]ingest.Station, len(girths))
	for i, g := range girths {
		out[i] = ingest.Station{Limb: l.code, Date: on, Landmark: p.landmark, StationMM: float64(i) * p.stepMM,
			LimbMM: g, Over: coded("skin"), MinutesOff: off, MeasuredBy: by}
	}
	return out
}

// measure draws the girths taken at a cast, with targets and the modified
// model, and from the change of practice a second set by another measurer.
func (d *drawer) measure(l *limb, on ingest.Date, s *socketDraft) {
	set := d.tape(l, on)
	top := 0.03 + 0.02*d.r.Float64()
	for i := range set {
		reduction := top * (1 - 0.5*float64(i)/float64(len(set)-1))
		set[i].Socket = s.Socket.Socket
		set[i].TargetMM = ingest.Some(math.Round(set[i].LimbMM * (1 - reduction)))
		set[i].ModelMM = ingest.Some(set[i].TargetMM.Value + math.Round(1.5*d.r.NormFloat64()))
	}
	d.stations = append(d.stations, set...)
	if on < d.t.PracticeChange {
		return
	}
	again := d.tape(l, on)
	for i := range again {
		again[i].Repeat = "2"
		again[i].Socket = s.Socket.Socket
		again[i].MinutesOff = set[i].MinutesOff
		if again[i].MeasuredBy == set[i].MeasuredBy {
			again[i].MeasuredBy = "C4"
		}
	}
	d.stations = append(d.stations, again...)
}

// watchVolume draws the girths of a new limb every few weeks of its first
// ten months.
func (d *drawer) watchVolume(l *limb, from, exit ingest.Date) {
	for on := from; on <= min(exit, from+300); on += ingest.Date(28 + d.r.IntN(14)) {
		d.stations = append(d.stations, d.tape(l, on)...)
	}
}

// form draws the pulling of sheet plastic for a socket tried on or delivered
// on a day; laminated sockets have none.
func (d *drawer) form(l *limb, s *socketDraft, by ingest.Date) {
	on := by - ingest.Date(1+d.r.IntN(2))
	if on > l.exit || !s.CastOn.OK || on < s.CastOn.Value {
		return
	}
	f := ingest.Forming{Socket: s.Socket.Socket, Date: on, SheetMaterial: s.Material, FormedBy: d.one("T1", "T2", "T3")}
	oven, minutes := 0.0, 0.0
	switch s.Material {
	case "PETG":
		f.SheetMM, oven, minutes = ingest.Some(12.0), 168, 15
		if l.level == "transfemoral" {
			// Half an inch at 400 F for 15 minutes, turned half-way: common
			// practice, no source.
			f.SheetMM, oven = ingest.Some(12.7), 204
		}
	case "polypropylene":
		f.SheetMM, oven, minutes = ingest.Some(6.0), 186, 21
	default:
		return
	}
	r := d.r
	f.OvenC = ingest.Some(math.Round(oven + 4*r.NormFloat64()))
	f.Minutes = ingest.Some(math.Round(clamp(minutes+1.5*r.NormFloat64(), 8, 30)))
	f.FlippedAtMin = ingest.Some(math.Round(f.Minutes.Value / 2))
	f.ThinnestMM = ingest.Some(math.Round(10*f.SheetMM.Value*clamp(0.55+0.06*r.NormFloat64(), 0.3, 0.8)) / 10)
	f.Result = d.pick([]Share{{"good", 0.88}, {"thin spot", 0.06}, {"webbing", 0.04}, {"pulled again", 0.02}})
	d.forming = append(d.forming, f)
}
