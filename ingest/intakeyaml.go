package ingest

import (
	"errors"
	"regexp"
	"strings"
	"unicode/utf8"

	yaml "github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// This is the only file of the package that knows the YAML library. It hands
// over a tree of text as written; whether a value is a number or a word is
// decided by the key that takes it.

type ynodeKind int

const (
	yText ynodeKind = iota
	yNone
	yList
	yMap
)

func (k ynodeKind) String() string {
	return [...]string{"a single value", "nothing", "a list", "lines of \"key: value\""}[k]
}

type ynode struct {
	kind    ynodeKind
	text    string
	pos     IntakePos
	items   []ynode
	entries []yentry
}

type yentry struct {
	key   string
	pos   IntakePos
	value ynode
}

// Bounds of an intake file, far above what anyone writes.
const (
	maxIntake      = 1 << 20
	maxIntakeDepth = 12
)

// bareQuestion is a value of ? alone, which YAML takes for something else.
var bareQuestion = regexp.MustCompile(`(?m)^([ ]*(?:- )?(?:"(?:[^"\\\n]|\\.)*"|'[^'\n]*'|[^"'{\[:#\s][^:#\n]*):[ ]+)\?([ ]*(?:#.*)?)$`)

func parseIntakeYAML(path string, src []byte) (ynode, *IntakeError) {
	at := func(line, col int) IntakePos { return IntakePos{path, max(line, 1), max(col, 1)} }
	if !utf8.Valid(src) {
		return ynode{}, &IntakeError{IntakePos: at(1, 1), Text: "the file is not text in UTF-8"}
	}
	if len(src) > maxIntake {
		return ynode{}, &IntakeError{IntakePos: at(1, 1), Text: "the file is too long for an intake file"}
	}
	text := strings.TrimPrefix(strings.ReplaceAll(string(src), "\r\n", "\n"), "\ufeff")
	for i, line := range strings.Split(text, "\n") {
		for j, r := range line {
			if r == '\t' && strings.TrimSpace(line) != "" {
				return ynode{}, &IntakeError{IntakePos: at(i+1, j+1), Text: "a tab is used to indent: use spaces"}
			}
			if r != ' ' {
				break
			}
		}
	}
	file, err := guardedYAML(bareQuestion.ReplaceAllString(text, `$1"?"$2`))
	if err != nil {
		var syn *yaml.SyntaxError
		if errors.As(err, &syn) && syn.Token != nil && syn.Token.Position != nil {
			return ynode{}, &IntakeError{IntakePos: at(syn.Token.Position.Line, syn.Token.Position.Column), Text: "bad YAML: " + syn.Message + "; check the indentation, and put a text with : or # in quotes"}
		}
		first, _, _ := strings.Cut(err.Error(), "\n")
		return ynode{}, &IntakeError{IntakePos: at(1, 1), Text: "bad YAML: " + first}
	}
	c := yconv{path: path}
	var root ynode
	for i, d := range file.Docs {
		if i > 0 && d.Body != nil {
			return ynode{}, &IntakeError{IntakePos: c.pos(d.Body.GetToken()), Text: "a line of --- may not stand inside an intake file"}
		}
		if i == 0 && d.Body != nil {
			root = c.node(d.Body, 0)
		}
	}
	if c.err != nil {
		return ynode{}, c.err
	}
	if root.kind != yMap {
		return ynode{}, &IntakeError{IntakePos: at(1, 1), Text: "an intake file holds lines of \"key: value\", with `sheets` first"}
	}
	return root, nil
}

// guardedYAML keeps a fault of the library on strange input from ending the
// run.
func guardedYAML(src string) (f *ast.File, err error) {
	defer func() {
		if r := recover(); r != nil {
			f, err = nil, errors.New("this cannot be read as YAML")
		}
	}()
	return parser.Parse(lexer.Tokenize(src), 0, parser.AllowDuplicateMapKey())
}

type yconv struct {
	path string
	err  *IntakeError
}

func (c *yconv) pos(t *token.Token) IntakePos {
	if t == nil || t.Position == nil {
		return IntakePos{c.path, 1, 1}
	}
	return IntakePos{c.path, max(1, t.Position.Line), max(1, t.Position.Column)}
}

func (c *yconv) fail(t *token.Token, text string) ynode {
	if c.err == nil {
		c.err = &IntakeError{IntakePos: c.pos(t), Text: text}
	}
	return ynode{}
}

func (c *yconv) node(n ast.Node, depth int) ynode {
	if c.err != nil {
		return ynode{}
	}
	if n == nil {
		return ynode{kind: yNone, pos: IntakePos{c.path, 1, 1}}
	}
	t := n.GetToken()
	if depth > maxIntakeDepth {
		return c.fail(t, "lists and maps are nested too deeply here")
	}
	pos := c.pos(t)
	switch n := n.(type) {
	case *ast.NullNode, *ast.CommentGroupNode:
		return ynode{kind: yNone, pos: pos}
	case *ast.LiteralNode:
		text := ""
		if n.Value != nil {
			text = n.Value.Value
		}
		return ynode{kind: yText, text: strings.TrimRight(text, "\n"), pos: c.pos(n.Start)}
	case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return ynode{kind: yText, text: t.Value, pos: pos}
	case *ast.SequenceNode:
		out := ynode{kind: yList, pos: pos}
		for _, v := range n.Values {
			out.items = append(out.items, c.node(v, depth+1))
		}
		return out
	case *ast.MappingNode:
		return c.mapping(n.Values, pos, depth)
	case *ast.MappingValueNode:
		return c.mapping([]*ast.MappingValueNode{n}, pos, depth)
	}
	return c.fail(t, "this form of YAML is not used in an intake file; put the text in quotes")
}

func (c *yconv) mapping(values []*ast.MappingValueNode, pos IntakePos, depth int) ynode {
	out := ynode{kind: yMap, pos: pos}
	for i, mv := range values {
		var key *token.Token
		switch k := mv.Key.(type) {
		case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.NullNode, *ast.InfinityNode, *ast.NanNode:
			key = k.GetToken()
		default:
			return c.fail(mv.Key.GetToken(), "this form of key is not used in an intake file; put it in quotes")
		}
		e := yentry{key: key.Value, pos: c.pos(key), value: c.node(mv.Value, depth+1)}
		if c.err != nil {
			return ynode{}
		}
		if v, ok := mv.Value.(*ast.NullNode); e.value.kind == yNone && (!ok || v.Token.Type == token.ImplicitNullType) {
			e.value.pos = e.pos
		}
		if i == 0 {
			out.pos = e.pos
		}
		out.entries = append(out.entries, e)
	}
	return out
}
