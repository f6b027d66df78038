package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"
)

// Exit statuses of the command.
const (
	statusDone        = 0
	statusAskFailed   = 1 // an ask failed, or under --strict a row was set aside
	statusNothing     = 2 // nothing was written: usage, unreadable log, bad front matter
	statusInterrupted = 130
)

// exitError carries an exit status with what is to be said about it.
type exitError struct {
	status int
	err    error
}

func (e *exitError) Error() string { return e.err.Error() }
func (e *exitError) Unwrap() error { return e.err }

// run is the whole command: it takes the arguments and the streams, and
// gives the exit status.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return statusDone
	}
	if ctx.Err() != nil {
		fmt.Fprintln(errOut, "interrupted; what stood before is untouched")
		return statusInterrupted
	}
	status := statusNothing
	if e := (*exitError)(nil); errors.As(err, &e) {
		status = e.status
	}
	fmt.Fprintln(errOut, "plybook:", err)
	return status
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "plybook",
		Short: "A notebook for a prosthetics lab's fit-check log",
		Long: `plybook reads the spreadsheets in which a prosthetics lab keeps its fittings,
says plainly what is wrong in them, answers the questions of a notebook, and
writes the answers as a report that can be printed, checked and run again.

Start here:
  plybook example demo           write an invented lab's log and four notebooks
  plybook run demo/quality.md    read the log, answer the questions, write the report
  plybook inspect demo/log/*     list what is wrong in a log, with a marked copy
  plybook blank my-log.xlsx      write an empty log to fill in
  plybook intake our-sheet.xlsx  propose how your own sheets are read as a log
  plybook export demo/research.md  write the log with codes and days, for others

Reports are for review by licensed clinicians. They are not a diagnosis.`,
		SilenceUsage:      true,
		SilenceErrors:     true,
		Version:           release(),
		DisableAutoGenTag: true,
	}
	root.SetFlagErrorFunc(flagFault)
	root.SetVersionTemplate("plybook {{.Version}}\n")
	root.SetHelpCommand(newHelp())
	root.AddCommand(newRun(), newInspect(), newIntake(), newBlank(), newExample(), newExport(), newFigures(), newManual())
	return root
}
