package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"plybook/ingest"
)

func newBlank() *cobra.Command {
	var tables, from []string
	var intakePath string
	c := &cobra.Command{
		Use:   "blank FILE.xlsx",
		Short: "Write an empty log to fill in",
		Long: `Writes a workbook with the six sheets of a log, a note on every column and
lists to choose from, set up for printing. A file that exists already is left
alone. --tables leaves out the sheets that a lab does not keep. --from starts
it from a log: the limbs of the people in it and the sockets still in use are
filled in, by their codes, and the file is readable by you alone.`,
		Example: `  plybook blank my-log.xlsx
  plybook blank --tables visits,findings visits-2027.xlsx
  plybook blank --from log-2026.xlsx log-2027.xlsx`,
		Args: needs(1, 1, "one file, such as my-log.xlsx"),
		RunE: func(cmd *cobra.Command, args []string) error {
			opts := ingest.BlankOptions{Tables: tables}
			if len(from) > 0 {
				var read ingest.Options
				if intakePath != "" {
					it, err := ingest.LoadIntake(intakePath)
					if err != nil {
						return err
					}
					read.Intake = it
				}
				path := filepath.Join(filepath.Dir(from[0]), ingest.CodesFile)
				coder, err := ingest.OpenCodes(path, nil)
				if err != nil {
					return err
				}
				read.Codes = coder
				log, err := ingest.Read(cmd.Context(), from, read)
				if err != nil {
					return err
				}
				if coder.Fresh() > 0 {
					return fmt.Errorf("%s lacks codes that %s asks for; run plybook inspect --intake %s on the log first, which makes them", path, filepath.Base(intakePath), intakePath)
				}
				opts.From = log
			}
			if err := ingest.WriteBlank(args[0], opts); err != nil {
				return err
			}
			what := "an empty log"
			if opts.From != nil {
				what = "a log with the limbs and the sockets in use filled in; readable by you alone"
			}
			fmt.Fprintln(cmd.OutOrStdout(), args[0]+": "+what)
			return nil
		},
	}
	c.Flags().StringSliceVar(&tables, "tables", nil, "only these tables, with commas between them")
	c.Flags().StringSliceVar(&from, "from", nil, "files of a log to start from, with commas between them")
	c.Flags().StringVar(&intakePath, "intake", "", "intake file for --from, where the log is of your own form")
	return c
}
