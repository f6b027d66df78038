package main

import (
	"bytes"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"plybook/reports/contact"
	"plybook/reports/words"
)

func newFigures() *cobra.Command {
	var out, before string
	c := &cobra.Command{
		Use:   "figures REPORT-FOLDER...",
		Short: "Lay the figures of reports side by side on one page",
		Long: `Writes one HTML file with all figures of the report folders given, to be
looked over in colour, in grey, or as somebody sees them who cannot tell red
from green. With --before, a folder that holds earlier reports of the same
names, changed figures stand beside the earlier ones.`,
		Example: `  plybook figures demo/quality-report demo/annual-report
  plybook figures demo/*-report --before demo-before --out changes.html`,
		Args: needs(1, 0, "a report folder"),
		RunE: func(cmd *cobra.Command, args []string) error {
			list, err := contact.Collect(args, before)
			if err != nil {
				return err
			}
			var b bytes.Buffer
			if err := contact.Sheet(&b, list); err != nil {
				return err
			}
			if err := os.WriteFile(out, b.Bytes(), 0o644); err != nil {
				return fmt.Errorf("writing the sheet of figures: %w", err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %s\n", out, words.N(len(list), "figure", "figures"))
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "figures.html", "file to write")
	c.Flags().StringVar(&before, "before", "", "folder that holds earlier reports, to compare with")
	return c
}
