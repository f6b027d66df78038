package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"unicode"

	"plybook/ingest"
	"plybook/reports/words"
)

// showWhy prints where the values of a person, limb, socket or visit come
// from. It writes no file: codes are looked up in codes.csv, if there is one.
func showWhy(ctx context.Context, out io.Writer, paths []string, opts ingest.Options, code string) error {
	codes := filepath.Join(filepath.Dir(paths[0]), ingest.CodesFile)
	coder, err := ingest.OpenCodes(codes, nil)
	if err != nil {
		return err
	}
	switch {
	case coder.Exists():
		opts.Codes = coder
	case opts.Intake.Coded():
		return fmt.Errorf("the intake has columns replaced by codes, and there is no %s yet; run plybook inspect without --why first, which makes it", codes)
	}
	trace, err := ingest.ReadTrace(ctx, paths, opts, code)
	if err != nil {
		return err
	}
	if n := len(trace.Matches); n > 1 {
		fmt.Fprintf(out, "The code names %d things; all are listed.\n\n", n)
	}
	for i, m := range trace.Matches {
		if i > 0 {
			fmt.Fprintln(out)
		}
		showMatch(out, m)
	}
	if trace.Fresh > 0 {
		fmt.Fprintf(out, "\n%s lacks a code for %s of the log: those shown here are not kept. Run plybook inspect without --why.\n", codes, words.N(trace.Fresh, "value", "values"))
	}
	return nil
}

func showMatch(out io.Writer, m ingest.TraceMatch) {
	name := m.Name
	if name == "" {
		name = "(not shown: looks like a name)" // and has no code yet
	}
	used := 0
	for _, r := range m.Rows {
		if !r.Aside {
			used++
		}
	}
	fmt.Fprintf(out, "%s %s, %s: %s used, %d set aside\n", m.Kind, printable(name), m.How, words.N(used, "row", "rows"), len(m.Rows)-used)
	table := ""
	for _, r := range m.Rows {
		if r.Table != table {
			table = r.Table
			fmt.Fprintf(out, "\n%s\n", table)
		}
		showRow(out, r)
	}
}

func showRow(out io.Writer, r ingest.TraceRow) {
	state := ""
	if r.Aside {
		state = ": set aside, not in the log"
	}
	fmt.Fprintf(out, "  %s%s\n", r.At, state)
	for _, s := range r.Why {
		fmt.Fprintf(out, "    ! %s\n", s)
	}
	named := func(v ingest.TraceValue) string {
		if v.Own {
			return printable(v.Column) + " (own)"
		}
		return printable(v.Column)
	}
	wide, long := 0, 0
	for _, v := range r.Values {
		wide, long = max(wide, len([]rune(named(v)))), max(long, len([]rune(shownValue(v))))
	}
	wide, long = min(wide, 24), min(long, 28)
	for _, v := range r.Values {
		line := fmt.Sprintf("    %-*s  %-*s", wide, named(v), long, shownValue(v))
		if v.At != "" {
			line += "  " + v.At
		}
		switch {
		case v.Hidden != "":
			line += "  not shown: " + v.Hidden
		case v.Text != "":
			line += fmt.Sprintf("  %q", cut(v.Text))
		}
		line = strings.TrimRight(line, " ")
		if done := strings.Join(v.Done, "; "); done == ingest.AsItStands {
			fmt.Fprintf(out, "%s, %s\n", line, done)
		} else {
			fmt.Fprintf(out, "%s\n%*s    %s\n", line, wide+2, "", done)
		}
	}
	for _, s := range r.Joined {
		fmt.Fprintf(out, "    -> %s\n", s)
	}
}

// shownValue is a value in the list: a dash where nothing is stored.
func shownValue(v ingest.TraceValue) string {
	switch {
	case v.Value != "":
		return printable(v.Value)
	case v.Hidden != "":
		return "(not shown)"
	}
	return "-"
}

// printable leaves out of a text what is no letter, figure, mark or space:
// a cell may hold orders to the terminal.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, strings.Join(strings.Fields(s), " "))
}

// cut shortens a text of a cell for a line.
func cut(s string) string {
	if r := []rune(s); len(r) > 80 {
		return string(r[:77]) + "..."
	}
	return s
}

// whyAlone refuses flags that ask for files or for the whole list beside
// --why.
func whyAlone(o inspectOptions) error {
	switch {
	case o.colour:
		return errors.New("--why writes no marked copy, so that --colour says nothing beside it")
	case o.all:
		return errors.New("--why lists one person or socket, so that --all says nothing beside it")
	}
	return nil
}
