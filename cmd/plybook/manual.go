package main

import (
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"plybook/reports/manual"
	"plybook/reports/notebook"
)

func newManual() *cobra.Command {
	return &cobra.Command{
		Use:   "manual [TOPIC]",
		Short: "Read the manual: a page for each method, and the log, notebook and reports",
		Long: `Prints a page of the manual, or the list of its pages: one for each method,
with a question to copy, and one each for the log, its columns and words, the
notebook, privacy and the reports.`,
		Example: `  plybook manual
  plybook manual kaplan-meier
  plybook manual log`,
		Args: needs(0, 1, "one page"),
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
			return listTopics(out)
		},
	}
}

// listTopics lists the pages of the manual, the methods first.
func listTopics(out io.Writer) error {
	topics, err := manual.Topics()
	if err != nil {
		return err
	}
	methods := notebook.Methods()
	fmt.Fprintln(out, "Pages of the manual; read one with plybook manual TOPIC.")
	for _, part := range []struct {
		head string
		in   func(topic string) bool
	}{
		{"Methods", func(t string) bool { return slices.Contains(methods, t) }},
		{"Everything else", func(t string) bool { return !slices.Contains(methods, t) }},
	} {
		fmt.Fprintf(out, "\n%s:\n", part.head)
		for _, t := range topics {
			if !part.in(t) {
				continue
			}
			about, err := manual.About(t)
			if err != nil {
				return err
			}
			fmt.Fprintf(out, "  %-20s  %s\n", t, about)
		}
	}
	return nil
}
