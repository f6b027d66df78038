package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"
)

// progress shows how far a job is: a bar on a terminal, else a line a step.
type progress struct {
	out  io.Writer
	wide int // 0: not a terminal
	last string
}

func newProgress(out io.Writer) *progress {
	p := &progress{out: out}
	if f, ok := out.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil {
			p.wide = max(40, min(w, 100))
		}
	}
	return p
}

// show says what is being done, done steps of total being finished.
func (p *progress) show(step string, done, total int) {
	if p.wide == 0 {
		if step != p.last {
			fmt.Fprintln(p.out, step)
			p.last = step
		}
		return
	}
	const bar = 20
	filled := bar
	if total > 0 {
		filled = bar * done / total
	}
	line := strings.Repeat("━", filled) + strings.Repeat("─", bar-filled) + " " + step
	if r := []rune(line); len(r) > p.wide-1 {
		line = string(r[:p.wide-1])
	}
	fmt.Fprint(p.out, "\r\x1b[K", line)
}

// clear takes the bar off the terminal.
func (p *progress) clear() {
	if p.wide > 0 {
		fmt.Fprint(p.out, "\r\x1b[K")
	}
}
