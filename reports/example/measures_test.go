package example

import (
	"math"
	"sort"
	"testing"

	"plybook/ingest"
)

// score sums a residual over clusters and tests that it has mean 0, with the
// spread of the clusters' own sums.
type score struct {
	by map[string]float64
	n  int
}

func (s *score) add(cluster string, r float64) {
	if s.by == nil {
		s.by = map[string]float64{}
	}
	s.by[cluster] += r
	s.n++
}

func (s *score) test(t *testing.T, what string) {
	t.Helper()
	keys := make([]string, 0, len(s.by))
	for k := range s.by {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	total, square := 0.0, 0.0
	for _, k := range keys {
		total += s.by[k]
		square += s.by[k] * s.by[k]
	}
	within4(t, what+" (residual)", total/float64(s.n), 0, math.Sqrt(square)/float64(s.n))
}

// TestHoursWorn checks the linear mixed truth: mean and slope over all
// limbs, and the error's size within limbs about each limb's own line.
func TestHoursWorn(t *testing.T) {
	truth := Known()
	var level, slope score
	square, df := 0.0, 0.0
	for k, log := range draws() {
		delivered, limb := map[string]ingest.Date{}, map[string]string{}
		for _, s := range log.Sockets {
			delivered[s.Socket], limb[s.Socket] = s.Delivered.Value, s.Limb
		}
		type point struct{ m, r float64 }
		points := map[string][]point{}
		for _, v := range log.Visits {
			if !v.Hours.OK {
				continue
			}
			m := float64(v.Date-delivered[v.Socket]) / daysPerMonth
			r := v.Hours.Value - truth.HoursIntercept - truth.HoursPerMonth*m
			id := limb[v.Socket] + string(rune('A'+k))
			level.add(id, r)
			slope.add(id, r*m)
			points[id] = append(points[id], point{m, r})
		}
		for _, list := range points {
			n, sm, sr, smm, smr, srr := float64(len(list)), 0.0, 0.0, 0.0, 0.0, 0.0
			for _, p := range list {
				sm, sr, smm, smr, srr = sm+p.m, sr+p.r, smm+p.m*p.m, smr+p.m*p.r, srr+p.r*p.r
			}
			if xx := smm - sm*sm/n; n >= 4 && xx > 1 {
				xy := smr - sm*sr/n
				square += srr - sr*sr/n - xy*xy/xx
				df += n - 2
			}
		}
	}
	level.test(t, "hours worn")
	slope.test(t, "hours worn against months")
	variance := truth.HoursErrorSD*truth.HoursErrorSD + 0.01/12 // written to 0.1 h
	within4(t, "hours worn, error variance", square/variance, df, math.Sqrt(2*df))
}

func TestComfort(t *testing.T) {
	truth := Known()
	var level, ply score
	for k, log := range draws() {
		limb, limbs := map[string]string{}, map[string]ingest.Limb{}
		for _, l := range log.Limbs {
			limbs[l.Limb] = l
		}
		for _, s := range log.Sockets {
			limb[s.Socket] = s.Limb
		}
		for _, v := range log.Visits {
			if !v.Comfort.OK || !v.Ply.OK {
				continue
			}
			l := limbs[limb[v.Socket]]
			r := v.Comfort.Value - truth.ComfortIntercept - truth.ComfortPerPly*v.Ply.Value.Total - truth.ComfortLevel[l.Level.Code]
			id := l.Person + string(rune('A'+k))
			level.add(id, r)
			ply.add(id, r*v.Ply.Value.Total)
		}
	}
	level.test(t, "comfort")
	ply.test(t, "comfort against ply")
}

// TestVolume measures limbs with the tape readings of the log: the mean
// curve of transtibial limbs, and how far two readings of a day differ.
func TestVolume(t *testing.T) {
	truth := Known()
	const level = "transtibial"
	var mean, shrink score
	square, pairs := 0.0, 0.0
	for k, log := range draws() {
		amputated := map[string]ingest.Date{}
		for _, l := range log.Limbs {
			if l.Level.Code == level && l.Amputated.OK {
				amputated[l.Limb] = l.Amputated.Value
			}
		}
		for i := 0; i < len(log.Stations); {
			s := log.Stations[i]
			on, ok := amputated[s.Limb]
			if !ok {
				i++
				continue
			}
			set := log.Stations[i : i+len(profileOf(level).girths)]
			i += len(set)
			ml := frustaML(t, set)
			if s.Repeat == "2" {
				first := log.Stations[i-2*len(set) : i-len(set)]
				diff := ml - frustaML(t, first)
				square += diff * diff
				pairs++
				continue
			}
			e := math.Exp(-truth.ShrinkPerDay * float64(s.Date-on))
			r := ml - truth.VolumeMean[level]*(1+truth.DropMean*e)
			id := s.Limb + string(rune('A'+k))
			mean.add(id, r)
			shrink.add(id, r*e)
		}
	}
	mean.test(t, "volume")
	shrink.test(t, "volume while it shrinks")
	// Rounding six girths to 1 mm adds about 1 ml of error.
	variance := 2 * (truth.VolumeErrorML*truth.VolumeErrorML + 1)
	within4(t, "volume, two readings", square/variance, pairs, math.Sqrt(2*pairs))
}

func frustaML(t *testing.T, set []ingest.Station) float64 {
	t.Helper()
	mm3 := 0.0
	for i := 1; i < len(set); i++ {
		a, b := set[i-1], set[i]
		if a.Limb != b.Limb || a.Date != b.Date || a.Repeat != b.Repeat || b.StationMM <= a.StationMM {
			t.Fatalf("stations of limb %s on day %d do not stand together", a.Limb, a.Date)
		}
		mm3 += (b.StationMM - a.StationMM) * (a.LimbMM*a.LimbMM + a.LimbMM*b.LimbMM + b.LimbMM*b.LimbMM) / (12 * math.Pi)
	}
	return mm3 / 1000
}
