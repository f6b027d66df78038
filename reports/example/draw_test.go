package example

import (
	"fmt"
	"reflect"
	"testing"

	"plybook/ingest"
)

func TestDrawSizes(t *testing.T) {
	for _, seed := range []uint64{Seed, 1, 2, 3, 4, 5, 6, 7, 8} {
		log := Draw(seed)
		persons := map[string]bool{}
		sides := map[string]int{}
		for _, l := range log.Limbs {
			persons[l.Person] = true
			sides[l.Person]++
		}
		both := 0
		for _, n := range sides {
			if n == 2 {
				both++
			}
		}
		kinds := map[string]int{}
		for _, s := range log.Sockets {
			kinds[s.Kind.Code]++
		}
		for _, c := range []struct {
			what           string
			got, low, high int
		}{
			{"persons", len(persons), 180, 180},
			{"both-sided persons", both, 50, 50},
			{"limbs", len(log.Limbs), 230, 230},
			{"sockets", len(log.Sockets), 600, 880},
			{"check sockets", kinds[kindCheck], 220, 430},
			{"preparatory sockets", kinds[kindPreparatory], 20, 80},
			{"definitive sockets", kinds[kindDefinitive], 320, 450},
			{"visits", len(log.Visits), 3500, 4600},
			{"findings", len(log.Findings), 600, 1100},
			{"stations", len(log.Stations), 5000, 9500},
			{"formings", len(log.Forming), 350, 600},
		} {
			if c.got < c.low || c.got > c.high {
				t.Errorf("seed %d: %d %s, want %d to %d", seed, c.got, c.what, c.low, c.high)
			}
		}
	}
}

func TestDrawIsDetermined(t *testing.T) {
	if !reflect.DeepEqual(Draw(3), Draw(3)) {
		t.Error("the same seed drew two logs")
	}
	if reflect.DeepEqual(Draw(3), Draw(4)) {
		t.Error("two seeds drew the same log")
	}
}

// TestDrawHoldsTogether checks references, identifiers, and the order and
// span of dates, over several seeds.
func TestDrawHoldsTogether(t *testing.T) {
	for seed := uint64(1); seed <= 12; seed++ {
		for _, fault := range inconsistencies(Draw(seed), Known()) {
			t.Errorf("seed %d: %s", seed, fault)
		}
	}
}

func inconsistencies(log *ingest.Log, truth Truth) []string {
	var out []string
	bad := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	exit := map[string]ingest.Date{} // by limb
	amputated := map[string]ingest.Opt[ingest.Date]{}
	for _, l := range log.Limbs {
		if _, twice := exit[l.Limb]; twice {
			bad("limb %s twice", l.Limb)
		}
		end := l.LastSeen
		if l.Died.OK {
			end = l.Died
		}
		if !end.OK || l.Died.OK == l.LastSeen.OK {
			bad("limb %s: last seen %v, died %v", l.Limb, l.LastSeen, l.Died)
		}
		if end.Value < truth.Opens || end.Value > truth.Closes {
			bad("limb %s: follow-up ends on day %d", l.Limb, end.Value)
		}
		if l.Amputated.OK && (l.Amputated.Value > end.Value || dateOf(l.Amputated.Value).Year() < l.Born.Value+10) {
			bad("limb %s: amputated on day %d", l.Limb, l.Amputated.Value)
		}
		exit[l.Limb], amputated[l.Limb] = end.Value, l.Amputated
	}
	sockets := map[string]ingest.Socket{}
	for _, s := range log.Sockets {
		if _, twice := sockets[s.Socket]; twice {
			bad("socket %s twice", s.Socket)
		}
		sockets[s.Socket] = s
	}
	reasons := ingest.EndReasons()
	for _, s := range log.Sockets {
		if _, ok := exit[s.Limb]; !ok {
			bad("socket %s: no limb %s", s.Socket, s.Limb)
		}
		if r := s.Replaces; r != "" && (sockets[r].Limb != s.Limb || r == s.Socket) {
			bad("socket %s replaces %q", s.Socket, r)
		}
		last, lastName := ingest.Date(-1<<31), ""
		for _, at := range []struct {
			name string
			on   ingest.Opt[ingest.Date]
		}{{"amputated", amputated[s.Limb]}, {"referred", s.Referred}, {"ordered", s.Ordered}, {"cast_on", s.CastOn},
			{"delivered", s.Delivered}, {"remake_decided", s.RemakeDecided}, {"ended", s.Ended}} {
			if !at.on.OK {
				continue
			}
			if at.on.Value < last {
				bad("socket %s: %s before %s", s.Socket, at.name, lastName)
			}
			last, lastName = at.on.Value, at.name
			if at.name != "amputated" && (last > exit[s.Limb] || last < truth.Opens-800) {
				bad("socket %s: %s on day %d", s.Socket, at.name, last)
			}
		}
		if s.Ended.OK != (s.EndReason.Code != "") {
			bad("socket %s: ended %v for %q", s.Socket, s.Ended, s.EndReason.Code)
		}
		if s.RemakeDecided.OK && !s.Ended.OK {
			bad("socket %s: remake decided, not ended", s.Socket)
		}
		if s.EndReason.Code != "" && !reasons.Has(s.EndReason.Code) {
			bad("socket %s: unknown reason %q", s.Socket, s.EndReason.Code)
		}
		if s.Ended.OK && s.Delivered.OK && s.Ended.Value <= s.Delivered.Value && s.EndReason.Code != reasonDied && s.EndReason.Code != reasonMoved && s.EndReason.Code != "lost to follow-up" {
			bad("socket %s: a life of %d days", s.Socket, s.Ended.Value-s.Delivered.Value)
		}
		if s.Ended.OK && s.Ended.Value < truth.Opens {
			bad("socket %s: ended before the log opens", s.Socket)
		}
	}
	inside := func(what string, limb string, on ingest.Date) {
		if on < truth.Opens || on > exit[limb] {
			bad("%s of limb %s on day %d", what, limb, on)
		}
	}
	visits := map[string]bool{}
	for _, v := range log.Visits {
		s, ok := sockets[v.Socket]
		if !ok {
			bad("visit %s: no socket %s", v.Visit, v.Socket)
		}
		if visits[v.Visit] {
			bad("visit %s twice", v.Visit)
		}
		visits[v.Visit] = true
		inside("visit", s.Limb, v.Date)
		if v.Comfort.OK && (v.Comfort.Value < 0 || v.Comfort.Value > 10) || v.Hours.OK && (v.Hours.Value < 0 || v.Hours.Value > 24) {
			bad("visit %s: comfort %v, hours %v", v.Visit, v.Comfort, v.Hours)
		}
		if (v.Accepted.Code != "") != (v.Purpose.Code == "check fitting") {
			bad("visit %s: accepted %q at a %s", v.Visit, v.Accepted.Code, v.Purpose.Code)
		}
		if s.Ended.OK && v.Date > s.Ended.Value {
			bad("visit %s after socket %s ended", v.Visit, s.Socket)
		}
		for _, w := range []struct {
			code ingest.Coded
			in   ingest.Vocabulary
		}{{v.Purpose, ingest.Purposes()}, {v.Action, ingest.Actions()}, {v.Accepted, ingest.AcceptedWords()}} {
			if w.code.Code != "" && !w.in.Has(w.code.Code) {
				bad("visit %s: %q is no %s", v.Visit, w.code.Code, w.in.Name())
			}
		}
	}
	for _, f := range log.Findings {
		if !visits[f.Visit] {
			bad("finding of no visit %s", f.Visit)
		}
		if !ingest.RegionWords().Has(f.Region.Code) || !ingest.FindingWords().Has(f.Finding.Code) {
			bad("finding %q at %q", f.Finding.Code, f.Region.Code)
		}
	}
	for _, s := range log.Stations {
		inside("girth", s.Limb, s.Date)
		if s.Socket != "" && sockets[s.Socket].Limb != s.Limb {
			bad("girth of limb %s for socket %q", s.Limb, s.Socket)
		}
		if s.LimbMM < 100 || s.LimbMM > 800 {
			bad("limb %s: girth %g mm", s.Limb, s.LimbMM)
		}
	}
	for _, f := range log.Forming {
		s, ok := sockets[f.Socket]
		if !ok {
			bad("forming of no socket %s", f.Socket)
			continue
		}
		inside("forming", s.Limb, f.Date)
	}
	for _, l := range log.Limbs {
		for _, w := range []struct {
			code ingest.Coded
			in   ingest.Vocabulary
		}{{l.Side, ingest.Sides()}, {l.Level, ingest.Levels()}, {l.Cause, ingest.Causes()}, {l.Sex, ingest.Sexes()}, {l.Activity, ingest.Activities()}} {
			if !w.in.Has(w.code.Code) {
				bad("limb %s: %q is no %s", l.Limb, w.code.Code, w.in.Name())
			}
		}
	}
	return out
}

func BenchmarkDraw(b *testing.B) {
	for i := 0; b.Loop(); i++ {
		Draw(uint64(i))
	}
}
