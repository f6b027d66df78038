package main

import (
	"fmt"
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
