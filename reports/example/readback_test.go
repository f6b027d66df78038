package example

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"sync"
	"testing"

	"plybook/ingest"
)

// onceRead writes the example and reads its workbooks back.
var onceRead = sync.OnceValues(func() (log *ingest.Log, err error) {
	dir, err := os.MkdirTemp("", "lab")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if err := Write(context.Background(), dir, Seed); err != nil {
		return nil, err
	}
	books, err := filepath.Glob(filepath.Join(dir, "log", "*.xlsx"))
	if err != nil {
		return nil, err
	}
	return ingest.Read(context.Background(), books, ingest.Options{})
})

func readBack(t *testing.T) *ingest.Log {
	t.Helper()
	log, err := onceRead()
	if err != nil {
		t.Fatal(err)
	}
	return log
}

// TestPlantedFaultsAreFound wants a problem in the row of every planted
// fault, of the kind that the fault is.
func TestPlantedFaultsAreFound(t *testing.T) {
	log := readBack(t)
	type place struct {
		file, sheet string
		row         int
		code        string
	}
	found := map[place]bool{}
	columns := map[string]bool{}
	second := map[string]bool{} // rows named in the text of a second everyday socket
	inText := regexp.MustCompile(`\b[A-Z]{1,2}([0-9]+)\b`)
	for _, p := range log.Problems {
		found[place{filepath.Base(p.File), p.Tab, p.Row, p.Code}] = true
		switch p.Code {
		case "identifying-column":
			columns[p.Column] = true
		case "two-open-everyday":
			for _, m := range inText.FindAllStringSubmatch(p.Text, -1) {
				second[m[1]] = true
			}
		}
	}
	codes := map[Defect]string{
		UnknownSocket: "unknown-socket", UnknownVisit: "unknown-visit", BadDate: "bad-date", FarDate: "date-outside-log",
		BadComfort: "comfort-range", BadGirth: "implausible-value", BadPly: "ply-as-date", EndedEarly: "ended-before-delivered",
		BeforeBirth: "date-before-birth", TwoEveryday: "two-open-everyday", DiedOpen: "open-at-death", UnknownReason: "unknown-word",
		DuplicateRow: "duplicate-row", DuplicateID: "same-identifier", UnknownWord: "unknown-word",
	}
	for _, p := range Plant(Seed) {
		if p.What == IdentifyingEntry {
			if !columns["Phone"] {
				t.Errorf("the column of telephone numbers was not found")
			}
			continue
		}
		if p.What == TwoEveryday && second[strconv.Itoa(p.Row)] {
			continue // the question is asked at the other of the two
		}
		if !found[place{p.File, p.Sheet, p.Row, codes[p.What]}] {
			t.Errorf("%s %s row %d: %s was not found", p.File, p.Sheet, p.Row, p.What)
		}
	}
}

// TestMessKeepsTheTruth compares what is read with what was drawn, record by
// record. Apart from the values in which a fault was planted nothing may
// differ, so that every truth holds for the messy log too.
func TestMessKeepsTheTruth(t *testing.T) {
	log, drawn := readBack(t), Draw(Seed)
	faults := map[Defect]int{}
	for _, p := range Plant(Seed) {
		faults[p.What]++
	}

	limbs := map[string]ingest.Limb{}
	for _, l := range log.Limbs {
		limbs[l.Limb] = l
	}
	compare(t, "limbs", len(drawn.Limbs), faults[BeforeBirth]+faults[UnknownWord], func(i int) (any, any) {
		want := drawn.Limbs[i]
		got := limbs[want.Limb]
		return limbFacts(got), limbFacts(want)
	})

	sockets := map[string]ingest.Socket{}
	for _, s := range log.Sockets {
		sockets[s.Socket] = s
	}
	aside := map[string]bool{}
	compare(t, "sockets", len(drawn.Sockets), faults[EndedEarly]+faults[TwoEveryday]+faults[DiedOpen]+faults[UnknownReason]+
		2 /* bad dates of order */ +12 /* use left blank */ +faults[EndedEarly], /* what replaced these */ func(i int) (any, any) {
		want := drawn.Sockets[i]
		got, ok := sockets[want.Socket]
		if !ok {
			aside[want.Socket] = true
			if want.Kind.Code != kindPreparatory {
				t.Errorf("socket %s (%s) was set aside", want.Socket, want.Kind.Code)
			}
		}
		return socketFacts(got), socketFacts(want)
	})
	if len(aside) != faults[EndedEarly] {
		t.Errorf("%d sockets set aside, want %d", len(aside), faults[EndedEarly])
	}

	visits := map[string]ingest.Visit{}
	for _, v := range log.Visits {
		visits[v.Visit] = v
	}
	ofAside, plyText := 0, map[string]bool{}
	compare(t, "visits", len(drawn.Visits), faults[BadComfort]+faults[BadPly], func(i int) (any, any) {
		want := drawn.Visits[i]
		if aside[want.Socket] {
			ofAside++
			return nil, nil
		}
		got := visits[want.Visit]
		if got.Ply.OK {
			plyText[got.Ply.Value.Text] = true
		}
		return visitFacts(got), visitFacts(want)
	})
	if len(log.Visits) != len(drawn.Visits)-ofAside {
		t.Errorf("%d visits read, want %d", len(log.Visits), len(drawn.Visits)-ofAside)
	}
	for _, text := range []string{"5+3", "3-5", "none", "sheath + 3", "1x5 1x1"} {
		if !plyText[text] {
			t.Errorf("no ply was written %q", text)
		}
	}

	// Girths have no identifier: each key's sum tells them apart enough.
	girths := func(l *ingest.Log) map[string]float64 {
		out := map[string]float64{}
		for _, s := range l.Stations {
			if s.Repeat != "3" {
				out[fmt.Sprintf("%s %d %g %s", s.Limb, s.Date, s.StationMM, s.Repeat)] += s.LimbMM
			}
		}
		return out
	}
	got, want := girths(log), girths(drawn)
	if len(got) != len(want) {
		t.Errorf("%d places measured, want %d", len(got), len(want))
	}
	for key, mm := range want {
		if math.Abs(got[key]-mm) > 1e-6 {
			t.Errorf("girth at %s: %g mm, want %g", key, got[key], mm)
		}
	}
	if len(log.Forming) != len(drawn.Forming)-formingOf(drawn, aside) {
		t.Errorf("%d formings, want %d", len(log.Forming), len(drawn.Forming))
	}
}

func formingOf(log *ingest.Log, sockets map[string]bool) int {
	n := 0
	for _, f := range log.Forming {
		if sockets[f.Socket] {
			n++
		}
	}
	return n
}

// compare counts pairs that differ and fails where there are more than the
// planted faults allow.
func compare(t *testing.T, what string, n, allowed int, pair func(i int) (got, want any)) {
	t.Helper()
	differ := 0
	for i := range n {
		got, want := pair(i)
		if reflect.DeepEqual(got, want) {
			continue
		}
		if differ++; differ > allowed && differ < allowed+4 {
			t.Errorf("%s %d: %+v, want %+v", what, i, got, want)
		}
	}
	if differ > allowed {
		t.Errorf("%s: %d of %d differ, want at most %d", what, differ, n, allowed)
	}
}

type facts []any

func limbFacts(l ingest.Limb) facts {
	return facts{l.Person, l.Side.Code, l.Level.Code, l.Cause.Code, l.Amputated, l.Born, l.Sex.Code, l.Activity.Code, l.Programme, l.LastSeen, l.Died}
}

func socketFacts(s ingest.Socket) facts {
	return facts{s.Limb, s.Kind.Code, s.Number, s.Use.Code, s.Referred, s.Ordered, s.CastOn, s.CastMethod, s.ShapeMethod.Code,
		s.Replaces, s.Material, s.LinerMM, s.Delivered, s.RemakeDecided, s.Ended, s.EndReason.Code}
}

func visitFacts(v ingest.Visit) facts {
	total := func(p ingest.Opt[*ingest.Ply]) float64 {
		if !p.OK {
			return 0
		}
		return p.Value.Total
	}
	return facts{v.Socket, v.Date, v.Minute, v.Purpose.Code, v.Ply.OK, total(v.Ply), v.Comfort, v.PlyLeft.OK, total(v.PlyLeft),
		v.ComfortLeft, v.Hours, v.MassKG, v.Accepted.Code, v.SkinChecked.Code, v.Action.Code, v.Minutes}
}
