package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"plybook/reports/notebook"
)

// needs checks the number of arguments and says in words what is wanted:
// "a notebook", "one file". most is 0 for any number.
func needs(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) < least:
			return fmt.Errorf("%s needs %s; see %s --help", cmd.Name(), what, cmd.CommandPath())
		case most > 0 && len(args) > most:
			return fmt.Errorf("%s takes %s, but %d were given; see %s --help", cmd.Name(), what, len(args), cmd.CommandPath())
		}
		return nil
	}
}

// expand turns the arguments of a command into files. A pattern that the shell
// has left as it is, such as log/*.csv, stands for the files that match it, but
// for those of an open workbook and what inspect itself wrote.
func expand(args []string) ([]string, error) {
	var out []string
	for _, a := range args {
		if _, err := os.Lstat(a); err == nil || !strings.ContainsAny(a, "*?[") {
			out = append(out, a)
			continue
		}
		found, err := filepath.Glob(a)
		if err != nil {
			return nil, fmt.Errorf("the pattern %q is not valid: %w", a, err)
		}
		before := len(out)
		for _, f := range found { // in the order of their names
			if base := filepath.Base(f); !strings.HasPrefix(base, "~$") && !strings.HasPrefix(base, ".") && !isOurs(f) {
				out = append(out, f)
			}
		}
		if len(out) == before {
			return nil, fmt.Errorf("no file matches %q", a)
		}
	}
	return out, nil
}

// flagName is a flag in the list of a command's flags.
var flagName = regexp.MustCompile(`(?m)^\s+(?:-[a-z], )?--([a-z-]+)`)

// flagFault ends a complaint about a flag with the nearest one there is.
func flagFault(cmd *cobra.Command, err error) error {
	if name, ok := strings.CutPrefix(err.Error(), "unknown flag: --"); ok {
		var flags []string
		for _, m := range flagName.FindAllStringSubmatch(cmd.Flags().FlagUsages(), -1) {
			flags = append(flags, m[1])
		}
		if near := notebook.Nearest(name, flags); near != "" {
			return fmt.Errorf("%w; did you mean --%s?", err, near)
		}
	}
	return fmt.Errorf("%w; see %s --help", err, cmd.CommandPath())
}
