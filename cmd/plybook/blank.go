package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"plybook/ingest"
)

func newBlank() *cobra.Command {
	return &cobra.Command{
		Use:   "blank FILE.xlsx",
		Short: "Write an empty log to fill in",
		Long: `Writes a workbook with the six sheets of a log, a note on every column and
lists to choose from. A file that exists already is left alone.`,
		Example: `  plybook blank my-log.xlsx`,
		Args:    needs(1, 1, "one file, such as my-log.xlsx"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := ingest.WriteBlank(args[0]); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), args[0]+": an empty log")
			return nil
		},
	}
}
