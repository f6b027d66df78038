package ingest

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"plybook/ingest/ingesttest"
)

// describeLog lists records and problems, one a line.
func describeLog(log *Log) []string {
	var out []string
	add := func(format string, args ...any) {
		out = append(out, strings.Join(strings.Fields(fmt.Sprintf(format, args...)), " "))
	}
	day := func(word string, d Opt[Date]) string {
		if !d.OK {
			return ""
		}
		return word + " " + d.Value.String()
	}
	num := func(word string, v Opt[float64]) string {
		if !v.OK {
			return ""
		}
		return word + " " + plain(v.Value)
	}
	ply := func(p Opt[*Ply]) string {
		if !p.OK {
			return ""
		}
		out := "ply " + plain(p.Value.Total)
		if len(p.Value.Socks) > 1 {
			var socks []string
			for _, x := range p.Value.Socks {
				socks = append(socks, plain(x))
			}
			out += " of " + strings.Join(socks, "+")
		}
		if p.Value.Sheath {
			out += " with sheath"
		}
		if p.Value.HalfSock {
			out += " with half sock"
		}
		return out + num(" morning", p.Value.Morning) + num(" evening", p.Value.Evening)
	}
	word := func(w, s string) string {
		if s == "" {
			return ""
		}
		return w + " " + s
	}
	for _, l := range log.Limbs {
		born := ""
		if l.Born.OK {
			born = fmt.Sprintf("born %d", l.Born.Value)
		}
		add("limb %s of %s: %s %s %s %s %s %s %s", l.Limb, l.Person, l.Side.Code, l.Level.Code, l.Cause.Code, l.Activity.Code, born, day("amputated", l.Amputated), day("died", l.Died))
	}
	for _, s := range log.Sockets {
		number := ""
		if s.Number.OK {
			number = fmt.Sprintf("number %d", s.Number.Value)
		}
		add("socket %s for %s: %s %s %s %s %s %s %s %s %s %s", s.Socket, s.Limb, s.Kind.Code, number, day("cast", s.CastOn), word("method", s.CastMethod), word("by", s.CastBy), day("delivered", s.Delivered), day("remake decided", s.RemakeDecided), day("ended", s.Ended), word("for", s.EndReason.Code), word("replaces", s.Replaces))
	}
	for _, s := range log.Stations {
		add("station %s %s %s %s mm: %s mm %s %s", s.Limb, s.Date, s.Landmark, plain(s.StationMM), plain(s.LimbMM), word("over", s.Over.Code), num("model", s.ModelMM))
	}
	for _, v := range log.Visits {
		var actions []string
		for _, a := range v.Actions {
			actions = append(actions, a.Code)
		}
		clock := ""
		if v.Minute.OK {
			clock = fmt.Sprintf("at %02d:%02d", v.Minute.Value/60, v.Minute.Value%60)
		}
		add("visit %s about %s on %s: %s %s %s %s %s %s %s %s %s %s", v.Visit, v.Socket, v.Date, clock, v.Purpose.Code, ply(v.Ply), num("comfort", v.Comfort), word("accepted", v.Accepted.Code), word("skin checked", v.SkinChecked.Code), num("hours", v.Hours), num("kg", v.MassKG), word("action", strings.Join(actions, "+")), word("by", v.SeenBy))
	}
	for _, f := range log.Findings {
		severity := ""
		if f.Severity.OK {
			severity = fmt.Sprintf("severity %d", f.Severity.Value)
		}
		add("finding %s: %s %s %s", f.Visit, f.Region.Code, f.Finding.Code, severity)
	}
	for _, f := range log.Forming {
		add("forming %s on %s %s %s %s", f.Socket, f.Date, num("mm", f.SheetMM), num("oven", f.OvenC), num("minutes", f.Minutes))
	}
	for _, table := range Tables() {
		for _, o := range log.Own[table] {
			name := o.Name
			if o.Identifying {
				name += " (dropped: identifying)"
			}
			add("own column of %s: %s", table, name)
		}
	}
	several := slices.ContainsFunc(log.Sheets, func(s Sheet) bool { return s.File != log.Sheets[0].File })
	place := func(file, sheet string) string {
		if several && file != "" {
			return "[" + baseName(file) + "] " + sheet
		}
		return sheet
	}
	for _, s := range log.Sheets {
		if s.Table != "" {
			add("ledger %s: read %d used %d aside %d values %d (%s)", place(s.File, s.Sheet), s.Read, s.Used, s.SetAside, s.ValuesSetAside, s.Table)
		}
	}
	for _, p := range log.Problems {
		add("problem %s!%s %s (%s)", place(p.File, p.Tab), p.Cell, p.Code, p.Done)
	}
	return out
}

// checkIntakeLedger checks the ledger of a log read by an intake: rows of
// sheets add up and those set aside each have their problem.
func checkIntakeLedger(t testing.TB, log *Log) {
	t.Helper()
	aside, values := make([]map[int]bool, len(log.Sheets)), make([]int, len(log.Sheets))
	for _, p := range log.Problems {
		if p.Sheet < 0 {
			continue
		}
		switch p.Done {
		case RowSetAside:
			if aside[p.Sheet] == nil {
				aside[p.Sheet] = map[int]bool{}
			}
			aside[p.Sheet][p.Row] = true
		case ValueSetAside, RecordSetAside:
			values[p.Sheet]++
		}
		if p.Done != Kept && p.Cell == "" {
			t.Errorf("a problem without a cell: %+v", p)
		}
	}
	for i, s := range log.Sheets {
		if s.Read != s.Used+s.SetAside || len(aside[i]) != s.SetAside || values[i] != s.ValuesSetAside {
			t.Errorf("%s %s: read %d, used %d, aside %d (problems name %d), values %d (problems name %d)", s.File, s.Sheet, s.Read, s.Used, s.SetAside, len(aside[i]), s.ValuesSetAside, values[i])
		}
	}
}

// proposeAndRead proposes an intake for a case, makes the edits and reads by
// it. The proposal is returned as it was before the edits.
func proposeAndRead(t testing.TB, c ingesttest.Case, paths []string) (string, *Log) {
	t.Helper()
	p, err := ProposeIntake(context.Background(), paths)
	if err != nil {
		t.Fatal(err)
	}
	text, err := c.Edit(p.Text())
	if err != nil {
		t.Fatal(err)
	}
	it, err := ParseIntake("intake.yaml", []byte(text))
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	log, err := Read(context.Background(), paths, Options{Intake: it, Codes: testCoder(t)})
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	checkIntakeLedger(t, log)
	return p.Text(), log
}

func cases(t testing.TB, dir string) []ingesttest.Case {
	t.Helper()
	cs, err := ingesttest.ReadAll(dir)
	if err != nil {
		t.Fatal(err)
	}
	return cs
}

// written makes the files of a case and returns their paths.
func written(t testing.TB, c ingesttest.Case) []string {
	t.Helper()
	paths, err := c.Write(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	return paths
}

// compareLines fails where what was read is not what was expected.
func compareLines(t testing.TB, got, want []string, more string) {
	t.Helper()
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("read:\n%s\n\nexpected:\n%s\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"), more)
	}
}

// checkProposal proposes an intake twice, reads by it with at most two lines
// edited, compares, and writes the proposal again from what was parsed.
func checkProposal(t testing.TB, c ingesttest.Case) {
	t.Helper()
	if len(c.Edits) > 2 {
		t.Errorf("%d lines have to be edited", len(c.Edits))
	}
	paths := written(t, c)
	text, log := proposeAndRead(t, c, paths)
	compareLines(t, describeLog(log), c.Expected, "proposal:\n"+text)
	if twice, _ := proposeAndRead(t, c, paths); twice != text {
		t.Errorf("proposed again:\n%s\nand first:\n%s", twice, text)
	}
	again, err := ParseIntake("intake.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	if a, b := uncommented(again.Text()), uncommented(text); a != b {
		t.Errorf("parsed and written again:\n%s\nproposed:\n%s", a, b)
	}
}

func TestLabLogsAreReadAsTheyStand(t *testing.T) {
	for _, c := range cases(t, "../testdata/intake") {
		t.Run(c.Name, func(t *testing.T) {
			if *update {
				updateCase(t, "../testdata/intake", c)
			} else {
				checkProposal(t, c)
			}
		})
	}
}

var comment = regexp.MustCompile(`(?m)[ ]*(?:^|[ ])#.*$`)

// uncommented is a proposal without its comments.
func uncommented(text string) string {
	text = comment.ReplaceAllString(text, "")
	return text[strings.Index(text, "sheets:"):]
}
