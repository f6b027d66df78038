package batch

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/study"
)

const shortNotebook = `---
title: The year
audience: AUDIENCE
to: 2025-12-31
in_short: [rows, broken]
---

Of whom we tell.

# Sockets

` + "```ask\nid: rows\nquestion: How many?\nmethod: summary\ncolumns: [first_fit, kind]\n```\n\n```ask\nid: broken\nquestion: What?\nmethod: summary\ncolumns: [nothing_such]\n```\n\n" +
	"```ask\nid: lasting\nquestion: How long?\nmethod: kaplan-meier\n```\n\n```decision\non: 2024-01-01\nwhat: Measure twice.\nreview: 2025-01-01\nfollows: rows\n```\n\n```decision\non: 2025-06-01\nwhat: Cast thrice.\nreview: 2026-01-01\n```\n"

// reportFrom is the report of a notebook on the log of forty sockets.
func reportFrom(t *testing.T, text string) *report {
	t.Helper()
	dir, ctx := t.TempDir(), context.Background()
	limbs, sockets := "Person,Limb,Side,Level\n", "Socket,Limb,Kind,Delivered,Ended,End reason\n"
	for k := range 40 {
		limbs += fmt.Sprintf("P%02d,P%02dL,left,transtibial\n", k, k)
		sockets += fmt.Sprintf("S%02d,P%02dL,definitive,2024-%02d-01,2025-%02d-01,remake: pain or pressure\n", k, k, 1+k%12, 1+k%11)
	}
	var paths []string
	for name, text := range map[string]string{"limbs.csv": limbs, "sockets.csv": sockets} {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, p)
	}
	nb, err := notebook.Parse("year.md", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	log, err := ingest.Read(ctx, paths, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	sc, err := study.New(nb, log, nil)
	if err != nil {
		t.Fatal(err)
	}
	r := report{nb: nb, log: log, today: sc.Today, release: "0", sets: sc.Sets}
	for _, ask := range nb.Asks() {
		r.answers = append(r.answers, answer.Run(ctx, sc, ask))
	}
	return &r
}

func shortReport(t *testing.T, audience string) string {
	t.Helper()
	r := reportFrom(t, strings.Replace(shortNotebook, "AUDIENCE", audience, 1))
	var b strings.Builder
	document.Walk(assemble(r).Blocks, func(x document.Block) {
		switch x := x.(type) {
		case document.Heading:
			b.WriteString("# " + x.Text + "\n")
		case document.Paragraph:
			for _, s := range x.Spans {
				b.WriteString(s.Text + " " + s.Link + "\n")
			}
		case document.List:
			for _, item := range x.Items {
				for _, s := range item {
					b.WriteString(s.Text + s.Link)
				}
				b.WriteString("\n")
			}
		case document.Table:
			b.WriteString(x.Caption + "\n")
			for _, row := range x.Rows {
				b.WriteString(strings.Join(row, " | ") + "\n")
			}
		}
	})
	return b.String()
}

func TestFirstPageDefinitionsAndDecisions(t *testing.T) {
	got := shortReport(t, "annual")
	short, rest, _ := strings.Cut(got, "# Sockets")
	if before, _, _ := strings.Cut(short, "# In short"); !strings.Contains(before, "Of whom we tell.") {
		t.Errorf("what stands before the first heading comes after the summary:\n%s", short)
	}
	for _, want := range []string{"# In short", "How many?#rows 40 sockets are described.", "What?#broken Not answered: there is no column \"nothing_such\" among the sockets."} {
		if !strings.Contains(short, want) {
			t.Errorf("no %q at the front:\n%s", want, short)
		}
	}
	if strings.Contains(short, "How long?") {
		t.Error("a question not named is told in short")
	}
	for _, want := range []string{"First-time fit | Yes where the first check fitting", "Remake | The end of a socket whose place a new one takes", "pain or pressure",
		"2024 | Measure twice.", "| see 2.1: the chart could not be drawn", "Decisions whose day of review has come", "Decisions still open"} {
		if !strings.Contains(rest, want) {
			t.Errorf("no %q in\n%s", want, rest)
		}
	}
	if strings.Contains(rest, "Bony") || strings.Contains(rest, "Over bone |") {
		t.Error("a column that no question uses is defined")
	}
	if got := shortReport(t, "quality"); strings.Contains(got, "Appendix: definitions") {
		t.Error("the lab's own meeting is told what its words mean")
	}
}
