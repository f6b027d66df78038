package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"plybook/reports/example"
)

func newExample() *cobra.Command {
	var seed uint64
	c := &cobra.Command{
		Use:   "example DIR",
		Short: "Write an invented lab's log and four notebooks",
		Long: `Writes the log of an invented lab, three years long and as messy as a real
one, and four notebooks that ask questions of it: quality.md for the monthly
meeting, workshop.md for technicians, research.md for a paper, annual.md for
the yearly report. Nobody in it exists.`,
		Example: `  plybook example demo
  plybook run demo/quality.md`,
		Args: needs(1, 1, "one folder to write to"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := example.Write(cmd.Context(), args[0], seed); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: an invented log and four notebooks; next: plybook run %s\n", args[0], filepath.Join(args[0], "quality.md"))
			return nil
		},
	}
	c.Flags().Uint64Var(&seed, "seed", example.Seed, "another seed draws another lab from the same truth")
	return c
}
