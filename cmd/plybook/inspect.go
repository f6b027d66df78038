package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"plybook/ingest"
	"plybook/reports/study"
	"plybook/reports/words"
)

// inspectOptions are the flags of inspect.
type inspectOptions struct {
	intake, why      string
	noMarks, noCodes bool
	all, colour      bool
}

func newInspect() *cobra.Command {
	var o inspectOptions
	c := &cobra.Command{
		Use:   "inspect LOG...",
		Short: "List what is wrong in a log and mark it in a copy",
		Long: `Reads the files of a log and lists every problem with its cell, the problems by
kind, and what to mend to win most rows back. Beside the log it writes:

  NAME-marked.xlsx      a copy of each workbook in which the problem cells carry
                        a border and a comment, with a list of links in front;
                        all else in it is as it was
  problems-found.xlsx   problems by kind and one by one, and the rows concerned
                        of files that get no marked copy: text tables, and
                        workbooks of more than 500,000 cells
  problems-found.csv    the list as text
  codes.csv             a random code for every person and member of staff, and
                        for what an intake has codes stand for

The log itself is never changed: mend it, and inspect again. What is written
holds what the log holds about people: it is readable by you alone, and does
not belong in a report. Reports show the codes of codes.csv; keep that file to
yourself: it is the only way from a code back to a person.`,
		Example: `  plybook inspect demo/log/*
  plybook inspect --intake intake.yaml our-sheet.xlsx`,
		Args:              needs(1, 0, "the files of a log"),
		ValidArgsFunction: filesWithEnding("xlsx", "csv"),
		RunE: func(cmd *cobra.Command, args []string) error {
			args, err := expand(args)
			if err != nil {
				return err
			}
			paths := logFiles(args)
			if len(paths) == 0 {
				return errors.New("no file of a log was given, only what inspect itself wrote")
			}
			opts := ingest.Options{Today: ingest.Some(ingest.Date(time.Now().Unix() / 86400))}
			if o.intake != "" {
				it, err := ingest.LoadIntake(o.intake)
				if err != nil {
					return err
				}
				opts.Intake = it
			}
			if cmd.Flags().Changed("why") {
				if err := whyAlone(o); err != nil {
					return err
				}
				return showWhy(cmd.Context(), cmd.OutOrStdout(), paths, opts, o.why)
			}
			path := filepath.Join(filepath.Dir(paths[0]), ingest.CodesFile)
			if !o.noCodes || opts.Intake.Coded() {
				if opts.Codes, err = ingest.OpenCodes(path, nil); err != nil {
					return err
				}
			}
			log, err := ingest.Read(cmd.Context(), paths, opts)
			if err != nil {
				return err
			}
			if !o.noCodes { // kept first: what is written next may show them
				if err := opts.Codes.Add(study.Persons(log), study.Staff(log)); err != nil {
					return err
				}
				if err := opts.Codes.Save(path); err != nil {
					return err
				}
			}
			out := cmd.OutOrStdout()
			listProblems(out, log.Problems, o.all)
			listSheets(out, log)
			listKinds(out, log)
			if !o.noMarks {
				if err := writeMarks(cmd.Context(), out, log, paths, o.colour); err != nil {
					return err
				}
			}
			if !o.noCodes {
				fmt.Fprintf(out, "%s: the codes of persons and staff; keep it to yourself\n", path)
			}
			return nil
		},
	}
	c.Flags().StringVar(&o.intake, "intake", "", "intake file that says how sheets of your own form are read (see plybook intake)")
	c.Flags().StringVar(&o.why, "why", "", "only tell where the values of a person, limb, socket or visit come from")
	c.Flags().BoolVar(&o.noMarks, "no-marked-copy", false, "only show the problems: write neither copies nor the list")
	c.Flags().BoolVar(&o.noCodes, "no-codes", false, "make no codes for persons and staff")
	c.Flags().BoolVar(&o.all, "all", false, "show every problem, however many there are")
	c.Flags().BoolVar(&o.colour, "colour", false, "fill problem cells with a pale colour in the marked copy as well")
	return c
}

// logFiles are the files of a log among arguments: not what inspect wrote
// beside it, but for a marked copy whose log is not given, which someone has
// mended.
func logFiles(args []string) []string {
	var paths []string
	for _, a := range args {
		if !isOurs(a) {
			paths = append(paths, a)
		}
	}
	if len(paths) > 0 {
		return paths
	}
	for _, a := range args {
		ext := filepath.Ext(a)
		if info, err := os.Stat(a); err == nil && !info.IsDir() && strings.HasSuffix(strings.TrimSuffix(a, ext), ingest.MarkedSuffix) {
			paths = append(paths, a)
		}
	}
	return paths
}

func listSheets(out io.Writer, log *ingest.Log) {
	for _, s := range log.Sheets {
		name := s.File
		if s.Sheet != "" {
			name += ":" + s.Sheet
		}
		switch {
		case ingest.IsProblemSheet(s.Sheet):
			fmt.Fprintf(out, "%s: the list of problems of a marked copy, not read\n", name)
		case s.Table == "":
			fmt.Fprintf(out, "%s: not part of the log\n", name)
		default:
			fmt.Fprintf(out, "%s: %s read, %d used, %d set aside; %s set aside\n", name, words.N(s.Read, "row", "rows"), s.Used, s.SetAside, words.N(s.ValuesSetAside, "value", "values"))
		}
	}
}

// listKinds shows the problems by kind and what to mend first.
func listKinds(out io.Writer, log *ingest.Log) {
	kinds := ingest.ProblemKinds(log)
	if len(kinds) == 0 {
		fmt.Fprintln(out, "\nNo problem was found.")
		return
	}
	fmt.Fprintln(out, "\nProblems by kind, worst first:")
	for _, k := range kinds {
		var parts []string
		for _, n := range []struct {
			n    int
			what string
		}{{k.Rows, "set a row aside"}, {k.Values, "set a value aside"}, {k.Kept, "kept"}} {
			if n.n > 0 {
				parts = append(parts, fmt.Sprintf("%d %s", n.n, n.what))
			}
		}
		fmt.Fprintf(out, "  %s (%s): %s. %s\n", k.Name, k.Code, strings.Join(parts, ", "), k.Fix)
	}
	wins := ingest.Wins(log)
	if len(wins) == 0 {
		return
	}
	fmt.Fprintln(out, "\nTo win most rows back, mend in this order:")
	for i, w := range wins {
		if i == 5 {
			rest := 0
			for _, w := range wins[i:] {
				rest += w.Rows
			}
			fmt.Fprintf(out, "  the rest: %s\n", words.N(rest, "row", "rows"))
			break
		}
		p := w.Cells[0]
		at := p.File
		if p.Tab != "" {
			at += ":" + p.Tab
		}
		at += "!" + p.Cell
		if n := len(w.Cells) - 1; n > 0 {
			at += fmt.Sprintf(" and %d more", n)
		}
		fmt.Fprintf(out, "  %s: %s, column %s (%s)\n", words.N(w.Rows, "row", "rows"), w.Code, w.Column, at)
	}
	fmt.Fprintln(out)
}

// writeMarks writes the marked copies and the lists beside the log.
func writeMarks(ctx context.Context, out io.Writer, log *ingest.Log, paths []string, colour bool) error {
	dir := filepath.Dir(paths[0])
	if _, err := os.Stat(filepath.Join(dir, "numbers.json")); err == nil {
		return fmt.Errorf("%s is the folder of a report, where nothing that tells of persons may lie; move the log elsewhere, or use --no-marked-copy", dir)
	}
	var rowsOf []string
	for _, f := range paths {
		can, why, err := ingest.CanMark(ctx, f)
		if err != nil {
			return err
		}
		if !can {
			rowsOf = append(rowsOf, f)
			fmt.Fprintf(out, "%s: %s; the rows concerned are in %s\n", f, why, ingest.ProblemsBook)
			continue
		}
		target := markedName(f)
		note := func(sentence string) { fmt.Fprintf(out, "%s: note: %s\n", target, sentence) }
		if err := ingest.WriteMarked(ctx, log, f, target, ingest.MarkOptions{Colour: colour, Note: note}); err != nil {
			return err
		}
		fmt.Fprintf(out, "%s: the marked copy\n", target)
	}
	book := filepath.Join(dir, ingest.ProblemsBook)
	if err := ingest.SaveProblemBook(ctx, book, log, rowsOf); err != nil {
		return err
	}
	fmt.Fprintf(out, "%s: the problems by kind and one by one\n", book)
	list := filepath.Join(dir, ingest.ProblemsFile)
	if err := ingest.SaveProblems(list, log); err != nil {
		return err
	}
	fmt.Fprintf(out, "%s: the list of problems\n", list)
	return nil
}

// fewProblems is how many problems are shown one by one unless all are asked
// for; of more, the first of each kind.
const (
	fewProblems = 500
	firstOfKind = 5
)

// listProblems lists what was lost first, then what was read but should be
// looked at again.
func listProblems(out io.Writer, ps []ingest.Problem, all bool) {
	of := map[string]int{}
	shown := 0
	for _, kind := range []struct {
		head string
		done []ingest.Done
	}{
		{"Set aside", []ingest.Done{ingest.RowSetAside, ingest.RecordSetAside}},
		{"Single values set aside", []ingest.Done{ingest.ValueSetAside}},
		{"Read, but look again", []ingest.Done{ingest.Kept}},
	} {
		n := 0
		for _, p := range ps {
			if !slices.Contains(kind.done, p.Done) {
				continue
			}
			if of[p.Code]++; !all && len(ps) > fewProblems && of[p.Code] > firstOfKind {
				continue
			}
			if n == 0 {
				fmt.Fprintln(out, kind.head+":")
			}
			n++
			shown++
			fmt.Fprintln(out, p)
		}
		if n > 0 {
			fmt.Fprintln(out)
		}
	}
	if shown < len(ps) {
		fmt.Fprintf(out, "%d of %d problems are shown, the first %d of each kind; --all shows every one.\n\n", shown, len(ps), firstOfKind)
	}
}

// markedName is the name of the marked copy of a log file, beside it.
func markedName(file string) string {
	ext := filepath.Ext(file)
	return strings.TrimSuffix(file, ext) + ingest.MarkedSuffix + ext
}

// isOurs says whether a file is one that inspect writes, or a folder.
func isOurs(path string) bool {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return true
	}
	return ingest.IsOwnOutput(path)
}
