package main

import (
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

func newInspect() *cobra.Command {
	var noMarks, noCodes bool
	var intakePath string
	c := &cobra.Command{
		Use:   "inspect LOG...",
		Short: "List what is wrong in a log and mark it in a copy",
		Long: `Reads the files of a log, lists every problem with its cell, and writes beside
each file a copy in which the same cells carry a border and a comment, and
the list as problems-found.csv. The log itself is never changed. What is
written holds what the log holds about people: it is readable by you alone,
and does not belong in a report.

It also keeps codes.csv beside the log, with a random code for every person
and member of staff. Reports then show these codes. Keep the file to
yourself: it is the only way from a code back to a person.`,
		Example: `  plybook inspect demo/log/*
  plybook inspect --intake intake.yaml our-sheet.xlsx`,
		Args:              needs(1, 0, "the files of a log"),
		ValidArgsFunction: filesWithEnding("xlsx", "csv"),
		RunE: func(cmd *cobra.Command, args []string) error {
			var paths []string
			for _, a := range args {
				if !isOurs(a) {
					paths = append(paths, a)
				}
			}
			if len(paths) == 0 {
				return errors.New("no file of a log was given, only what inspect itself wrote")
			}
			today := ingest.Date(time.Now().Unix() / 86400)
			opts := ingest.Options{Today: ingest.Some(today)}
			if intakePath != "" {
				it, err := ingest.LoadIntake(intakePath)
				if err != nil {
					return err
				}
				opts.Intake = it
			}
			log, err := ingest.Read(cmd.Context(), paths, opts)
			if err != nil {
				return err
			}
			out := cmd.OutOrStdout()
			listProblems(out, log.Problems)
			for _, s := range log.Sheets {
				name := s.File
				if s.Sheet != "" {
					name += ":" + s.Sheet
				}
				if s.Table == "" {
					fmt.Fprintf(out, "%s: not part of the log\n", name)
					continue
				}
				fmt.Fprintf(out, "%s: %s read, %d used, %d set aside; %s set aside\n", name, words.N(s.Read, "row", "rows"), s.Used, s.SetAside, words.N(s.ValuesSetAside, "value", "values"))
			}
			if !noMarks {
				for _, f := range paths {
					target := markedName(f)
					if err := ingest.WriteMarked(log, f, target); err != nil {
						return err
					}
					fmt.Fprintf(out, "%s: the marked copy\n", target)
				}
				list := filepath.Join(filepath.Dir(paths[0]), ingest.ProblemsFile)
				if err := ingest.SaveProblems(list, log); err != nil {
					return err
				}
				fmt.Fprintf(out, "%s: the list of problems\n", list)
			}
			if noCodes {
				return nil
			}
			path := filepath.Join(filepath.Dir(paths[0]), ingest.CodesFile)
			if _, err := ingest.LoadOrMakeCodes(path, study.Persons(log), study.Staff(log), nil); err != nil {
				return err
			}
			fmt.Fprintf(out, "%s: the codes of persons and staff; keep it to yourself\n", path)
			return nil
		},
	}
	c.Flags().StringVar(&intakePath, "intake", "", "intake file that says how sheets of your own form are read (see plybook intake)")
	c.Flags().BoolVar(&noMarks, "no-marked-copy", false, "only show the problems: write neither copies nor the list")
	c.Flags().BoolVar(&noCodes, "no-codes", false, "make no codes for persons and staff")
	return c
}

// listProblems lists what was lost first, then what was read but should be
// looked at again.
func listProblems(out io.Writer, ps []ingest.Problem) {
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
			if n == 0 {
				fmt.Fprintln(out, kind.head+":")
			}
			n++
			fmt.Fprintln(out, p)
		}
		if n > 0 {
			fmt.Fprintln(out)
		}
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
