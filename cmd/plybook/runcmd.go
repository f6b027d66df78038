package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plybook/reports/batch"
	"plybook/reports/words"
)

func newRun() *cobra.Command {
	var o batch.Options
	var strict bool
	c := &cobra.Command{
		Use:   "run NOTEBOOK...",
		Short: "Answer the questions of notebooks and write their reports",
		Long: `Reads each notebook and its log, answers the questions, and writes a folder
NAME-report beside the notebook:

  report.pdf     the report to print
  report.html    the same in one file for the screen, with figures described
  numbers.xlsx   every number, a sheet a question, and the list of problems
  numbers.json   the same for programs
  figures/       each figure as PNG, SVG and PDF
  run.json       version, settings, and the checksum of every file read

A question that cannot be answered shows why in its place; the others are
answered all the same. Nothing is sent anywhere.

Exit status: 0 done; 1 a question or one of several notebooks could not be
answered, or with --strict a row or value was set aside; 2 nothing was
written; 130 interrupted.`,
		Example: `  plybook run demo/quality.md
  plybook run q3.md --log "log/*.xlsx" --out q3-report`,
		Args:              needs(1, 0, "a notebook"),
		ValidArgsFunction: filesWithEnding("md"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.Out != "" && len(args) > 1 {
				return errors.New("--out names one folder, but several notebooks were given")
			}
			o.Release = release()
			status, written := statusDone, 0
			for _, path := range args {
				o.Notebook = path
				bar := newProgress(cmd.ErrOrStderr())
				o.Progress = bar.show
				res, err := batch.Run(cmd.Context(), o)
				bar.clear()
				switch {
				case err != nil && (len(args) == 1 || cmd.Context().Err() != nil):
					return &exitError{statusNothing, err}
				case err != nil: // the other notebooks are run all the same
					fmt.Fprintf(cmd.ErrOrStderr(), "%s: %v\n", path, err)
					status = statusAskFailed
				default:
					written++
					if report(cmd.OutOrStdout(), cmd.ErrOrStderr(), res, strict) {
						status = statusAskFailed
					}
				}
			}
			if written == 0 {
				return &exitError{statusNothing, errors.New("nothing was written; see above")}
			}
			if status != statusDone {
				return &exitError{status, errors.New("not everything could be done; see above")}
			}
			return nil
		},
	}
	c.Flags().StringVar(&o.Out, "out", "", "folder to write (default: NAME-report beside the notebook)")
	c.Flags().StringArrayVar(&o.Log, "log", nil, "log file or pattern, instead of the notebook's list; may be repeated")
	c.Flags().BoolVar(&strict, "strict", false, "exit with status 1 if any row or value was set aside")
	c.Flags().BoolVar(&o.Pages, "pages", false, "write an image of every printed page as well (needs pdftoppm)")
	return c
}

// report says what a run came to; it is true where the status is not 0.
func report(out, errOut io.Writer, r *batch.Result, strict bool) bool {
	bad := false
	for _, n := range r.Notes {
		fmt.Fprintf(errOut, "%s: note: %s\n", n.Pos, n.Text)
	}
	for _, a := range r.Failed {
		bad = true
		fmt.Fprintf(errOut, "%s:%d:%d: %s: %s\n", a.Error.File, a.Error.Line, a.Error.Column, orText(a.ID, "a question"), a.Error.Text)
	}
	for _, f := range r.Faults {
		bad = true
		fmt.Fprintln(errOut, f)
	}
	fmt.Fprintf(out, "%s: %s answered", r.Folder, words.N(r.Asks-len(r.Failed), "question", "questions"))
	if n := len(r.Failed); n > 0 {
		fmt.Fprintf(out, ", %d not", n)
	}
	fmt.Fprintf(out, "; %s read, %d set aside, %s set aside\n", words.N(r.Read, "row", "rows"), r.SetAside, words.N(r.Values, "single value", "single values"))
	if strict && r.SetAside+r.Values > 0 {
		fmt.Fprintln(errOut, "--strict: rows or values were set aside; plybook inspect lists them")
		bad = true
	}
	return bad
}

func orText(s, instead string) string {
	if s == "" {
		return instead
	}
	return s
}

// filesWithEnding completes file names in the shell.
func filesWithEnding(ends ...string) cobra.CompletionFunc {
	return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return ends, cobra.ShellCompDirectiveFilterFileExt
	}
}
