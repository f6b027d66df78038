package notebook

import (
	"errors"
	"fmt"
	"strings"

	yaml "github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// This is the only file of the package that knows the YAML library. It hands over a tree
// of text as written: whether a value is a number, a date or a word is
// decided by the key that takes it, never guessed from its looks.

type nodeKind int

const (
	nodeText nodeKind = iota
	nodeNone          // nothing written, or null
	nodeList
	nodeMap
)

func (k nodeKind) String() string {
	return [...]string{"a single value", "nothing", "a list", "a map"}[k]
}

// node is a value of the YAML with the place where it begins.
type node struct {
	kind    nodeKind
	text    string
	quoted  bool
	pos     Pos
	items   []node
	entries []entry
}

// entry is a key of a map with its value.
type entry struct {
	key    string
	keyPos Pos
	value  node
}

// maxDepth bounds nesting: nothing in a notebook goes deeper.
const maxDepth = 20

// maxBlock bounds the length of a block in bytes, far above what anyone
// writes: the library goes as deep as brackets are nested.
const maxBlock = 16 << 10

// parseYAML reads the YAML of a block. The node is a map; an empty block is
// a map without entries.
func parseYAML(b block) (node, *Error) {
	if err := badSpace(b); err != nil {
		return node{}, err
	}
	src := strings.Join(b.lines, "\n") + "\n"
	if len(src) > maxBlock {
		return node{}, &Error{Pos: b.at(1, 1), Code: CodeBadYAML, Text: fmt.Sprintf("this block is longer than %d characters: is its end missing?", maxBlock)}
	}
	file, perr := parseGuarded(src)
	if perr != nil {
		return node{}, yamlError(b, perr)
	}
	var body ast.Node
	for i, d := range file.Docs {
		if i > 0 || d.End != nil {
			t := d.Start
			if t == nil {
				t = d.End
			}
			return node{}, &Error{Pos: b.tokenPos(t), Code: CodeBadYAML, Text: "a line of --- or ... may not stand inside a block"}
		}
		body = d.Body
	}
	if body == nil {
		return node{kind: nodeMap, pos: b.at(1, 1)}, nil
	}
	c := converter{b: b}
	n := c.node(body, 0)
	if c.err != nil {
		return node{}, c.err
	}
	switch n.kind {
	case nodeMap:
	case nodeNone:
		return node{kind: nodeMap, pos: b.at(1, 1)}, nil
	default:
		return node{}, &Error{Pos: n.pos, Code: CodeBadYAML, Text: fmt.Sprintf("lines of \"key: value\" are wanted here, not %s", n.kind)}
	}
	return n, nil
}

// parseGuarded keeps a fault of the YAML library on strange input from
// ending the run: it is reported as bad YAML like any other.
func parseGuarded(src string) (f *ast.File, err error) {
	defer func() {
		if r := recover(); r != nil {
			f, err = nil, errors.New("this cannot be read as YAML")
		}
	}()
	return parser.Parse(lexer.Tokenize(src), 0, parser.AllowDuplicateMapKey())
}

// yamlError puts a syntax error of the library into the notebook's terms.
func yamlError(b block, err error) *Error {
	var syn *yaml.SyntaxError
	if !errors.As(err, &syn) || syn.Token == nil {
		return &Error{Pos: b.at(1, 1), Code: CodeBadYAML, Text: "bad YAML: " + firstLine(err.Error())}
	}
	pos, text := b.tokenPos(syn.Token), syn.Message
	switch {
	case strings.Contains(text, "mapping value is not allowed"):
		// The library points at the start of the text; the fault is the
		// second colon in it.
		pos = b.at(secondColon(b.lines, syn.Token.Position.Line, syn.Token.Position.Column))
	case strings.Contains(text, "unknown escape"):
		pos.Column-- // the library points at the letter behind the backslash
	}
	for _, p := range plainer {
		if strings.Contains(text, p[0]) {
			text = p[1]
			break
		}
	}
	return &Error{Pos: pos, Code: CodeBadYAML, Text: "bad YAML: " + text}
}

const (
	textSecondColon = "a second \": \" in one value: put the value in quotes, or check the indentation of this line"
	textReserved    = "a value may not begin with this character unless it is in quotes"
)

// plainer says in other words what the library says of common faults; the
// first that is part of its message counts.
var plainer = [...][2]string{
	{"mapping value is not allowed", textSecondColon},
	{"could not find end character", "the quote opened here is never closed"},
	{"reserved character", textReserved},
	{"unexpected directive", textReserved},
	{"unknown escape", "a backslash inside double quotes has a meaning of its own: use single quotes"},
	{"invalid header option", "a value that begins with > or | must be in quotes; a range is written as 5.. or ..5"},
	{"non-map value", "this line is not \"key: value\", with a space behind the colon"},
	{"sequence end token", "the [ opened here is never closed"},
	{"flow mapping end token", "the { opened here is never closed"},
	{"pre-defined", "text behind a value that is complete: put the whole value in quotes, or check the indentation of this line"},
	{"block sequence entries", "the items of a list begin on the line below the key, or stand in brackets: [a, b]"},
	{"unexpected scalar value type", "nothing stands between two commas"},
	{"expected sequence element", "nothing stands between two commas"},
	{"could not find flow map content", "nothing stands between two commas"},
	{"tab character", "a tab where a space is wanted"},
}

func firstLine(s string) string {
	s, _, _ = strings.Cut(s, "\n")
	return s
}

// secondColon finds the first colon that would end a key at or after a place.
func secondColon(lines []string, line, col int) (int, int) {
	for l := line; l >= 1 && l <= len(lines); l++ {
		r := []rune(lines[l-1])
		for c := max(col, 1); c <= len(r); c++ {
			if r[c-1] == ':' && (c == len(r) || r[c] == ' ') {
				return l, c
			}
		}
		col = 1
	}
	return line, col
}

// badSpace finds spaces that look right and are not: tabs, which YAML does
// not take as indentation, and no-break spaces, which come with text pasted
// from a word processor.
func badSpace(b block) *Error {
	for i, line := range b.lines {
		if strings.TrimSpace(line) == "" {
			continue
		}
		for j, r := range []rune(line) {
			if r == '\t' {
				return &Error{Pos: b.at(i+1, j+1), Code: CodeTab, Text: "a tab is used to indent: use spaces"}
			}
			if r == '\u00a0' {
				return &Error{Pos: b.at(i+1, j+1), Code: CodeTab, Text: "a no-break space is used to indent: use plain spaces"}
			}
			if r != ' ' {
				break
			}
		}
		if j := strings.Index(line, ":\u00a0"); j >= 0 {
			col := len([]rune(line[:j])) + 2
			return &Error{Pos: b.at(i+1, col), Code: CodeTab, Text: "a no-break space follows the colon: use a plain space"}
		}
	}
	return nil
}

type converter struct {
	b   block
	err *Error
}

func (c *converter) fail(t *token.Token, format string, args ...any) node {
	if c.err == nil {
		c.err = &Error{Pos: c.b.tokenPos(t), Code: CodeBadYAML, Text: fmt.Sprintf(format, args...)}
	}
	return node{}
}

func (c *converter) node(n ast.Node, depth int) node {
	if c.err != nil {
		return node{}
	}
	if n == nil {
		return node{kind: nodeNone, pos: c.b.at(1, 1)}
	}
	t := n.GetToken()
	if depth > maxDepth {
		return c.fail(t, "lists and maps are nested too deeply here")
	}
	pos := c.b.tokenPos(t)
	switch n := n.(type) {
	case *ast.NullNode:
		return node{kind: nodeNone, pos: pos}
	case *ast.LiteralNode:
		text := ""
		if n.Value != nil {
			text = n.Value.Value
		}
		return node{kind: nodeText, text: strings.TrimRight(text, "\n"), quoted: true, pos: c.b.tokenPos(n.Start)}
	case *ast.StringNode:
		quoted := t.Type == token.SingleQuoteType || t.Type == token.DoubleQuoteType
		if !quoted && (strings.Contains(t.Value, ": ") || strings.HasSuffix(t.Value, ":")) {
			// The library takes this inside braces although YAML does not.
			line, col := secondColon(c.b.lines, t.Position.Line, t.Position.Column)
			if c.err == nil {
				c.err = &Error{Pos: c.b.at(line, col), Code: CodeBadYAML, Text: "bad YAML: " + textSecondColon}
			}
			return node{}
		}
		if !quoted && t.Value != "" && strings.ContainsRune("%@`", rune(t.Value[0])) {
			return c.fail(t, "bad YAML: %s", textReserved)
		}
		return node{kind: nodeText, text: t.Value, quoted: quoted, pos: pos}
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return node{kind: nodeText, text: t.Value, pos: pos}
	case *ast.SequenceNode:
		out := node{kind: nodeList, pos: pos}
		for _, v := range n.Values {
			out.items = append(out.items, c.node(v, depth+1))
		}
		return out
	case *ast.MappingNode:
		return c.mapping(n.Values, pos, depth)
	case *ast.MappingValueNode:
		return c.mapping([]*ast.MappingValueNode{n}, pos, depth)
	case *ast.CommentGroupNode:
		return node{kind: nodeNone, pos: pos}
	case *ast.AliasNode:
		return c.fail(t, "a value that begins with * must be in quotes")
	case *ast.AnchorNode:
		return c.fail(t, "a value that begins with & must be in quotes")
	case *ast.TagNode:
		return c.fail(t, "a value that begins with ! must be in quotes")
	}
	return c.fail(t, "this form of YAML is not used in a notebook")
}

func (c *converter) mapping(values []*ast.MappingValueNode, pos Pos, depth int) node {
	out := node{kind: nodeMap, pos: pos}
	for i, mv := range values {
		var key *token.Token
		switch k := mv.Key.(type) {
		case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.NullNode:
			key = k.GetToken()
		default:
			return c.fail(mv.Key.GetToken(), "this form of key is not used in a notebook")
		}
		e := entry{key: key.Value, keyPos: c.b.tokenPos(key), value: c.node(mv.Value, depth+1)}
		if c.err != nil {
			return node{}
		}
		if v, ok := mv.Value.(*ast.NullNode); e.value.kind == nodeNone && (!ok || v.Token.Type == token.ImplicitNullType) {
			e.value.pos = e.keyPos // nothing is written: the key is what can be shown
		}
		if i == 0 && e.keyPos.Before(out.pos) {
			out.pos = e.keyPos
		}
		out.entries = append(out.entries, e)
	}
	return out
}
