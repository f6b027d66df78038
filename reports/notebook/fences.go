package notebook

import (
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml/token"
)

// block is the inside of front matter, an ask or a decision: its lines
// without the indentation of the fence, and where each began in the file.
type block struct {
	file   string
	first  int      // line of the file on which lines[0] stands
	lines  []string // without line ends
	indent []int    // characters taken off the front of each line
}

// at is the place in the file of a line and column of the block.
func (b block) at(line, col int) Pos {
	p := Pos{File: b.file, Line: b.first + max(line, 1) - 1, Column: max(col, 1)}
	if i := line - 1; i >= 0 && i < len(b.indent) {
		p.Column += b.indent[i]
	}
	return p
}

func (b block) tokenPos(t *token.Token) Pos {
	if t == nil || t.Position == nil {
		return b.at(1, 1)
	}
	return b.at(t.Position.Line, t.Position.Column)
}

// source is the block as written.
func (b block) source() string { return strings.Join(b.lines, "\n") }

// chunk is a run of lines of the notebook: prose, or a fenced ask or
// decision.
type chunk struct {
	kind  string // "prose", "ask", "decision"
	pos   Pos    // of the first line of prose, or of the fence
	body  block
	fault *Error // the block is not closed, or words follow on its first line
}

// fence is an opening line of a fenced block.
type fence struct {
	mark   byte // ` or ~
	n      int
	indent string // white space before the marks
	info   string
}

func readFence(line string) (fence, bool) {
	rest := strings.TrimLeft(line, " \t")
	f := fence{indent: line[:len(line)-len(rest)]}
	if rest == "" || rest[0] != '`' && rest[0] != '~' {
		return fence{}, false
	}
	f.mark = rest[0]
	for f.n < len(rest) && rest[f.n] == f.mark {
		f.n++
	}
	f.info = strings.TrimSpace(rest[f.n:])
	if f.n < 3 || f.mark == '`' && strings.Contains(f.info, "`") {
		return fence{}, false
	}
	return f, true
}

// word is the first word of the info string, in lower case.
func (f fence) word() string {
	w, _, _ := strings.Cut(strings.ReplaceAll(f.info, "\t", " "), " ")
	return strings.ToLower(w)
}

func (f fence) ours() bool { w := f.word(); return w == "ask" || w == "decision" }

// closes says whether the line ends the block that f opened.
func (f fence) closes(line string) bool {
	g, ok := readFence(line)
	return ok && g.mark == f.mark && g.n >= f.n && g.info == ""
}

// opensWithin says whether a line inside the block of f begins another,
// which can only be because f was never closed: a block that shows another
// is written with a longer fence.
func (f fence) opensWithin(line string) bool {
	g, ok := readFence(line)
	return ok && g.mark == f.mark && g.n >= f.n && g.info != ""
}

// cut divides the lines of the notebook after the front matter into prose,
// asks and decisions. lines[from] is the first line to look at.
func cut(file string, lines []string, from int) (chunks []chunk, warnings []Error) {
	prose := from
	flush := func(to int) {
		for prose < to && strings.TrimSpace(lines[prose]) == "" {
			prose++
		}
		if prose < to {
			chunks = append(chunks, chunk{
				kind: "prose",
				pos:  Pos{file, prose + 1, 1},
				body: block{file: file, first: prose + 1, lines: lines[prose:to]},
			})
		}
	}
	open := map[unclosed]reach{}
	for i := from; i < len(lines); {
		f, ok := readFence(lines[i])
		if !ok {
			i++
			continue
		}
		pos := Pos{file, i + 1, utf8.RuneCountInString(f.indent) + 1}
		if !f.ours() {
			end, closed := i+1, false
			deep := len(f.indent) >= 4
			if r, ok := open[unclosed{f.mark, deep}]; !ok || f.n < r.n || i >= r.until {
				var until int
				end, closed, until = skipOrdinary(lines, i, f)
				if until > 0 {
					open[unclosed{f.mark, deep}] = reach{f.n, until}
				}
			}
			if !closed && len(f.indent) < 4 {
				warnings = append(warnings, Error{Pos: pos, Code: CodeUnterminated, Text: "the block opened here is never closed"})
			}
			if near := Nearest(f.word(), []string{"ask", "decision"}); near != "" {
				warnings = append(warnings, Error{Pos: pos, Code: CodeNotRun, Nearest: near,
					Text: "this block is shown as it is and not run; for an answer its first line must be ```" + near})
			}
			i = end
			continue
		}
		flush(i)
		c := chunk{kind: f.word(), pos: pos, body: block{file: file, first: i + 2}}
		if len(strings.Fields(f.info)) > 1 {
			c.fault = &Error{Pos: pos, Code: CodeBadYAML, Text: "nothing may follow the word " + f.word() + " on this line"}
		}
		j, closed := i+1, false
		for ; j < len(lines); j++ {
			if f.closes(lines[j]) {
				closed = true
				break
			}
			if f.opensWithin(lines[j]) {
				break
			}
			text, n := dedent(lines[j], f.indent)
			c.body.lines = append(c.body.lines, text)
			c.body.indent = append(c.body.indent, n)
		}
		if !closed {
			c.fault = &Error{Pos: pos, Code: CodeUnterminated,
				Text: "this " + f.word() + " is never closed: end it with a line of " + strings.Repeat(string(f.mark), f.n)}
		} else {
			j++
		}
		chunks = append(chunks, c)
		i, prose = j, j
	}
	flush(len(lines))
	return chunks, warnings
}

// unclosed and reach remember that no line before until closes a fence of
// that mark and at least n characters, so that it is looked for once only.
type unclosed struct {
	mark byte
	deep bool // indented as far as code is
}

type reach struct{ n, until int }

// skipOrdinary returns the line after an ordinary fenced block, and whether
// the block was closed. Where it was not, the scan goes on behind its first
// line, so that no ask is lost in it; until is then the line up to which no
// fence as long can be closed, 0 if that is not known.
func skipOrdinary(lines []string, i int, f fence) (next int, closed bool, until int) {
	for j := i + 1; j < len(lines); j++ {
		if f.closes(lines[j]) {
			return j + 1, true, 0
		}
		if g, ok := readFence(lines[j]); ok && g.ours() && f.opensWithin(lines[j]) {
			return i + 1, false, 0
		}
		if len(f.indent) >= 4 && strings.TrimSpace(lines[j]) != "" && !strings.HasPrefix(lines[j], "    ") && !strings.HasPrefix(lines[j], "\t") {
			return i + 1, false, j // marks within indented code: not a fence at all
		}
	}
	return i + 1, false, len(lines)
}

// dedent takes the indentation of the fence off a line, as far as it goes.
func dedent(line, indent string) (string, int) {
	n := 0
	for n < len(indent) && n < len(line) && line[n] == indent[n] {
		n++
	}
	if strings.TrimSpace(line) == "" {
		return "", n
	}
	return line[n:], n
}
