package ingest

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

// ourAuthor signs the comments of a marked copy, and begins each of its
// remarks, so that the next copy can tell them from the lab's own.
const ourAuthor = "plybook"

const remarkStart = ourAuthor + ": "

// maxRemark bounds the comment of one cell, in characters.
const maxRemark = 2000

// note is the remark of one cell.
type note struct {
	col, row int
	text     string
}

// addNotes adds remarks to a sheet's part of comments; data is nil where
// there is none. Comments that are there stay, and a remark on the same cell
// is added below. It also gives the remarks whose cells had no comment.
func addNotes(data []byte, space string, notes []note, skip map[string]bool) (list []byte, fresh []note, dropped map[[2]int]bool, err error) {
	if data == nil {
		data = []byte(xmlHead + `<comments xmlns="` + space + `"><authors/><commentList/></comments>`)
	}
	p := prefixOf(data)
	if data, dropped, err = dropRemarks(data); err != nil {
		return nil, nil, nil, err
	}
	authors, ok := childrenOf(data, "authors")
	if !ok {
		return nil, nil, nil, fmt.Errorf("%w (comments without authors)", ErrTruncated)
	}
	id := len(authors)
	if data, ok = appendTo(data, "authors", fmt.Sprintf("<%[1]sauthor>%[2]s</%[1]sauthor>", p, ourAuthor), 1); !ok {
		return nil, nil, nil, fmt.Errorf("%w (comments without authors)", ErrTruncated)
	}
	at := map[string]int{} // cell -> place in notes
	for i, n := range notes {
		at[cellName(n.col, n.row)] = i
	}
	run := func(text string) string {
		return fmt.Sprintf(`<%[1]sr><%[1]st xml:space="preserve">%[2]s</%[1]st></%[1]sr>`, p, escaped(text))
	}
	done := make([]bool, len(notes))
	var out bytes.Buffer
	from := 0
	for pos := 0; ; {
		t, ok := findTag(data, pos, "comment")
		if !ok {
			break
		}
		_, after, ok := endOf(data, t)
		if !ok {
			return nil, nil, nil, fmt.Errorf("%w (a comment ends early)", ErrTruncated)
		}
		pos = after
		ref, _ := attrText(data[t.start:t.end], "ref")
		i, marked := at[ref]
		if !marked || done[i] {
			continue
		}
		done[i] = true
		if skip[ref] {
			continue
		}
		text, ok := findTag(data, t.end, "text")
		if !ok || text.start >= after {
			continue
		}
		inner, _, ok := endOf(data, text)
		if !ok || text.single {
			continue
		}
		place := text.end // after the last run, before readings and their settings
		for k := text.end; k < inner; {
			c, ok := nextTag(data, k)
			if !ok || c.start >= inner {
				break
			}
			_, end, ok := endOf(data, c)
			if !ok {
				break
			}
			if c.name == "r" || c.name == "t" {
				place = end
			}
			k = end
		}
		out.Write(data[from:place])
		out.WriteString(run("\n" + notes[i].text))
		from = place
	}
	out.Write(data[from:])
	data = out.Bytes()
	var added strings.Builder
	for i, n := range notes {
		if ref := cellName(n.col, n.row); !done[i] && !skip[ref] {
			fmt.Fprintf(&added, `<%[1]scomment ref="%[2]s" authorId="%[3]d"><%[1]stext>%[4]s</%[1]stext></%[1]scomment>`, p, ref, id, run(n.text))
			fresh = append(fresh, n)
		}
	}
	if added.Len() > 0 {
		if data, ok = appendTo(data, "commentList", added.String(), len(fresh)); !ok {
			return nil, nil, nil, fmt.Errorf("%w (comments without a list)", ErrTruncated)
		}
	}
	return data, fresh, dropped, nil
}

// dropRemarks takes the remarks of an earlier marked copy out: runs that
// begin with our name, and comments in which nothing else is left.
func dropRemarks(data []byte) ([]byte, map[[2]int]bool, error) {
	dropped := map[[2]int]bool{} // column and row
	if !bytes.Contains(data, []byte(remarkStart)) {
		return data, dropped, nil
	}
	var out bytes.Buffer
	from := 0
	for pos := 0; ; {
		t, ok := findTag(data, pos, "comment")
		if !ok {
			out.Write(data[from:])
			return out.Bytes(), dropped, nil
		}
		_, after, ok := endOf(data, t)
		if !ok {
			return nil, nil, fmt.Errorf("%w (a comment ends early)", ErrTruncated)
		}
		pos = after
		kept, left, ours := withoutRemarks(data[t.start:after])
		if !ours {
			continue
		}
		out.Write(data[from:t.start])
		from = after
		if left != "" {
			out.Write(kept)
			continue
		}
		ref, _ := attrText(data[t.start:t.end], "ref")
		if col, row, ok := parseCellName(ref); ok {
			dropped[[2]int{col, row}] = true
		}
	}
}

// withoutRemarks is a comment without our lines, and the text that is left.
// Programs that save a comment may join its runs, so lines are looked at,
// not runs.
func withoutRemarks(comment []byte) (kept []byte, left string, ours bool) {
	var out bytes.Buffer
	from := 0
	for pos := 0; ; {
		t, ok := findTag(comment, pos, "t")
		if !ok {
			break
		}
		inner, after, ok := endOf(comment, t)
		if !ok {
			break
		}
		pos = after
		if t.single {
			continue
		}
		text := unescaped(comment[t.end:inner])
		var lines []string
		for _, l := range strings.Split(text, "\n") {
			// A remark is one line; every line of ours has the start.
			if !strings.HasPrefix(l, remarkStart) {
				lines = append(lines, l)
			} else {
				ours = true
			}
		}
		text = strings.TrimRight(strings.Join(lines, "\n"), "\n")
		left += strings.TrimSpace(text)
		out.Write(comment[from:t.end])
		out.WriteString(escaped(text))
		from = inner
	}
	out.Write(comment[from:])
	return out.Bytes(), left, ours
}

const (
	vmlSpace    = "urn:schemas-microsoft-com:vml"
	officeSpace = "urn:schemas-microsoft-com:office:office"
	excelSpace  = "urn:schemas-microsoft-com:office:excel"
	noteShape   = "_x0000_t202"
)

// addShapes adds the boxes in which comments are shown to a sheet's drawing
// of comments; data is nil where there is none. Such a drawing need not be
// well-formed, so nothing of it is read but its end.
func addShapes(data []byte, number int, notes []note) ([]byte, bool) {
	if data == nil {
		data = []byte(`<xml><o:shapelayout v:ext="edit"><o:idmap v:ext="edit" data="` + strconv.Itoa(number) + `"/></o:shapelayout></xml>`)
	}
	root, ok := findTag(data, 0, "xml")
	end := bytes.LastIndex(data, []byte("</xml>"))
	if !ok || end < root.end {
		return data, false
	}
	tag := bytes.Clone(data[root.start:root.end])
	for _, ns := range [][2]string{{"xmlns:v", vmlSpace}, {"xmlns:o", officeSpace}, {"xmlns:x", excelSpace}} {
		if from, to, ok := attrAt(tag, ns[0]); ok && string(tag[from:to]) != ns[1] {
			return data, false
		}
		tag = withAttr(tag, ns[0], ns[1])
	}
	var b strings.Builder
	if !bytes.Contains(data, []byte(`"`+noteShape+`"`)) {
		b.WriteString(`<v:shapetype id="` + noteShape + `" coordsize="21600,21600" o:spt="202" path="m,l,21600r21600,l21600,xe"><v:stroke joinstyle="miter"/><v:path gradientshapeok="t" o:connecttype="rect"/></v:shapetype>`)
	}
	start := bytes.Count(data, []byte("<v:shape ")) + 1
	for bytes.Contains(data, []byte(fmt.Sprintf(`id="plybook%d"`, start))) {
		start += len(notes) + 1
	}
	for i, n := range notes {
		height := 3 + len([]rune(n.text))/45
		fmt.Fprintf(&b, `<v:shape id="plybook%d" type="#%s" style="position:absolute;visibility:hidden" fillcolor="#ffffff" o:insetmode="auto">`+
			`<v:path o:connecttype="none"/><v:textbox style="mso-direction-alt:auto"><div style="text-align:left"></div></v:textbox>`+
			`<x:ClientData ObjectType="Note"><x:MoveWithCells/><x:SizeWithCells/><x:Anchor>%d, 15, %d, 2, %d, 15, %d, 4</x:Anchor><x:AutoFill>False</x:AutoFill><x:Row>%d</x:Row><x:Column>%d</x:Column></x:ClientData></v:shape>`,
			start+i, noteShape, n.col+1, max(0, n.row-2), n.col+6, max(0, n.row-2)+height, n.row-1, n.col)
	}
	data = splice(data, end, end, b.String())
	return splice(data, root.start, root.end, string(tag)), true
}

// withoutShapes takes the boxes of some cells' comments out.
func withoutShapes(data []byte, cells map[[2]int]bool) []byte {
	var out []byte
	for {
		from := bytes.Index(data, []byte("<v:shape "))
		if from < 0 {
			return append(out, data...)
		}
		end := bytes.Index(data[from:], []byte("</v:shape>"))
		if end < 0 {
			return append(out, data...)
		}
		end += from + len("</v:shape>")
		shape := data[from:end]
		out = append(out, data[:from]...)
		if !bytes.Contains(shape, []byte(`ObjectType="Note"`)) || !cells[[2]int{numberIn(shape, "x:Column"), numberIn(shape, "x:Row") + 1}] {
			out = append(out, shape...)
		}
		data = data[end:]
	}
}

// numberIn is the number that an element of a shape holds, -1 without.
func numberIn(shape []byte, element string) int {
	_, rest, ok := bytes.Cut(shape, []byte("<"+element+">"))
	if !ok {
		return -1
	}
	text, _, _ := bytes.Cut(rest, []byte("<"))
	n, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return -1
	}
	return n
}
