package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"plybook/reports/manual"
	"plybook/reports/notebook"
)

// newHelp tells about a command, and of a word that is none where to look.
func newHelp() *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "Tell about a command",
		Long:  "Tells what a command does, what it takes and what it writes. The methods and the log are in plybook manual.",
		RunE: func(cmd *cobra.Command, args []string) error {
			root := cmd.Root()
			if len(args) == 0 {
				return root.Help()
			}
			word := strings.Join(args, " ")
			var names []string
			for _, c := range root.Commands() {
				if c.Hidden {
					continue
				}
				names = append(names, c.Name())
				if c.Name() == word {
					c.InitDefaultHelpFlag() // so that both ways of asking say the same
					return c.Help()
				}
			}
			return noHelp(word, names)
		},
	}
}

// noHelp says which command, or page of the manual, may have been meant.
func noHelp(word string, commands []string) error {
	topics, err := manual.Topics()
	if err != nil {
		return err
	}
	for _, t := range topics {
		if t == word {
			return fmt.Errorf("%q is no command but a page of the manual; read it with plybook manual %s", word, t)
		}
	}
	if near := notebook.Nearest(word, commands); near != "" {
		return fmt.Errorf("there is no command %q; did you mean %q?", word, near)
	}
	if near := notebook.Nearest(word, topics); near != "" {
		return fmt.Errorf("there is no command %q; plybook manual %s is the page that comes nearest", word, near)
	}
	return fmt.Errorf("there is no command %q; the commands are %s", word, strings.Join(commands, ", "))
}
