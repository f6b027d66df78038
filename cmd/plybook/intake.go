package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"plybook/ingest"
	"plybook/reports/words"
)

func newIntake() *cobra.Command {
	var out string
	var force bool
	c := &cobra.Command{
		Use:   "intake LOG...",
		Short: "Propose how a lab's own sheets are read as a log",
		Long: `Looks at sheets of your own form (one wide sheet, a sheet a year, two-row
headers, totals below, notes at the side) and writes an intake file: a plain
text that says, line by line, which column is what. Behind each line stand up
to three values of the column and how sure the guess is. Columns that name
people are never shown.

1. Look through the file once. Change what is wrong.
2. A lone ? is a question that the sheets cannot answer, such as whether
   03/04/2024 is in March or in April. Write the answer in its place. Until
   then the file is refused, with the line.
3. Check it with plybook inspect, which takes the file as its intake and lists
   what is wrong in the sheets.
4. Name it in your notebook, between the lines of ---:  intake: intake.yaml

The sheets themselves are never changed. An intake file that exists is left
alone unless --force is given. plybook manual intake explains every line.`,
		Example: `  plybook intake our-sheet.xlsx
  plybook intake 2024.xlsx 2025.xlsx --out lab-intake.yaml`,
		Args:              needs(1, 0, "the files in which the lab keeps its fittings"),
		ValidArgsFunction: filesWithEnding("xlsx", "csv"),
		RunE: func(cmd *cobra.Command, args []string) error {
			args, err := expand(args)
			if err != nil {
				return err
			}
			var paths []string
			for _, a := range args {
				if !isOurs(a) {
					paths = append(paths, a)
				}
			}
			if len(paths) == 0 {
				return errors.New("no file was given but what inspect itself wrote")
			}
			p, err := ingest.ProposeIntake(cmd.Context(), paths)
			if err != nil {
				return err
			}
			o := cmd.OutOrStdout()
			if len(p.Intake.Sheets) == 0 {
				fmt.Fprintln(o, "these sheets are in the plain layout already and need no intake file; nothing was written")
				return nil
			}
			text := p.Text()
			parsed, err := ingest.ParseIntake(out, []byte(text))
			if err != nil {
				return fmt.Errorf("the proposal is at fault: %w", err)
			}
			if err := writeNew(out, text, force); err != nil {
				return err
			}
			fmt.Fprintf(o, "%s: how %s of yours can be read; look through it\n", out, words.N(len(parsed.Sheets), "table", "tables"))
			for _, q := range parsed.Questions {
				fmt.Fprintln(o, q)
			}
			if n := len(parsed.Questions); n > 0 {
				fmt.Fprintf(o, "%s to answer in the file\n", words.N(n, "question", "questions"))
			}
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "intake.yaml", "intake file to write")
	c.Flags().BoolVar(&force, "force", false, "overwrite an intake file that exists")
	return c
}

// writeNew writes a file readable by its owner alone; one that exists is
// left alone unless force is given.
func writeNew(path, text string, force bool) error {
	flags := os.O_WRONLY | os.O_CREATE | os.O_EXCL
	if force {
		flags = os.O_WRONLY | os.O_CREATE | os.O_TRUNC
	}
	f, err := os.OpenFile(path, flags, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s exists already; name another file with --out, or give --force to overwrite it", path)
	}
	if err != nil {
		return fmt.Errorf("write the intake file: %w", err)
	}
	if _, err := f.WriteString(text); err != nil {
		f.Close()
		return fmt.Errorf("write the intake file: %w", err)
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("write the intake file: %w", err)
	}
	return nil
}
