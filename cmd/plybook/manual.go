package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"plybook/reports/manual"
)

func newManual() *cobra.Command {
	return &cobra.Command{
		Use:   "manual [TOPIC]",
		Short: "Read the manual: a page for each method",
		Long:  "Prints a page of the manual, or the list of its pages.",
		Example: `  plybook manual
  plybook manual kaplan-meier`,
		Args: cobra.MaximumNArgs(1),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			topics, err := manual.Topics()
			if err != nil {
				return nil, cobra.ShellCompDirectiveError
			}
			return topics, cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			if len(args) == 1 {
				page, err := manual.Page(args[0])
				if err != nil {
					return err
				}
				_, err = fmt.Fprint(out, page)
				return err
			}
			topics, err := manual.Topics()
			if err != nil {
				return err
			}
			fmt.Fprintln(out, "Pages of the manual; read one with plybook manual TOPIC:")
			for _, t := range topics {
				fmt.Fprintln(out, "  "+t)
			}
			return nil
		},
	}
}
