package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"plybook/reports/export"
	"plybook/reports/output"
	"plybook/reports/words"
)

func newExport() *cobra.Command {
	var o export.Options
	c := &cobra.Command{
		Use:   "export NOTEBOOK",
		Short: "Write the log of a notebook as a data set with codes and days",
		Long: `Writes a folder NAME-export beside the notebook with the log as the notebook
sees it, made harder to tell people by, readable by you alone:

  limbs.csv, sockets.csv, ...   one file a table; data.xlsx has them together
  log.xlsx        the same as a log that plybook reads
  dictionary.csv  what each column is and how it was made
  changes.csv     what was left out, made coarser or withheld
  about.md, about.html   all of this in words

Codes are drawn anew at random, dates become days since the person's first
delivery, ages from 90 on are one group. What an outsider may know (age, sex,
year, programme, site, level, cause, side, activity) is made coarser until each
combination is shared by so many persons as --k says. Staff, remarks and
columns that may identify people never go along.

This does not by itself meet a legal standard. Whether the data set may be
given to anybody is for your institution to decide.

Exit status: 0 done; 2 nothing was written; 130 interrupted.`,
		Example: `  plybook export demo/research.md
  plybook export demo/research.md --k 20 --leave-out side --leave-out programme`,
		Args:              needs(1, 1, "a notebook"),
		ValidArgsFunction: filesWithEnding("md"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.Notebook, o.Release = args[0], release()
			if cmd.Flags().Changed("k") && o.K < 2 {
				return errors.New("--k takes 2 or more: so many persons share each combination")
			}
			bar := newProgress(cmd.ErrOrStderr())
			o.Progress = bar.show
			res, err := export.Run(cmd.Context(), o)
			bar.clear()
			if errors.Is(err, output.ErrExists) {
				return fmt.Errorf("%w; --replace writes over an earlier export, --out names another folder", err)
			}
			if err != nil {
				return err
			}
			out := cmd.OutOrStdout()
			fmt.Fprintf(out, "%s: %s of %s in %d tables; each combination is shared by %d persons or more",
				res.Folder, words.N(res.Rows, "row", "rows"), words.N(res.Persons, "person", "persons"), res.Tables, res.Smallest)
			if res.Removed > 0 {
				fmt.Fprintf(out, "; %s left out", words.N(res.Removed, "person", "persons"))
			}
			fmt.Fprintln(out)
			if res.Key != "" {
				fmt.Fprintf(out, "%s: which code stands for whom; keep it to yourself, apart from the data set\n", res.Key)
			}
			fmt.Fprintln(out, "Whether it may be given to anybody is for your institution to decide; about.md says what remains.")
			return nil
		},
	}
	c.Flags().StringVar(&o.Out, "out", "", "folder to write (default: NAME-export beside the notebook)")
	c.Flags().StringArrayVar(&o.Log, "log", nil, "log file or pattern, instead of the notebook's list; may be repeated")
	c.Flags().IntVar(&o.K, "k", 0, "persons that share each combination (default: hide_below, else 5)")
	c.Flags().StringArrayVar(&o.Own, "own", nil, "a column of your own to take along; may be repeated")
	c.Flags().StringArrayVar(&o.LeaveOut, "leave-out", nil, "a column to leave out; may be repeated")
	c.Flags().StringVar(&o.KeyFile, "keep-key", "", "file in which to keep which code stands for whom (default: it is not kept)")
	c.Flags().BoolVar(&o.Replace, "replace", false, "write over an earlier export")
	return c
}
