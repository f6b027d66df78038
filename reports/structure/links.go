package structure

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
)

// opening is how a page's dictionary begins its annotations.
var opening = []byte("/Annots [")

// link makes the annotations of the pages, which stand within their pages,
// objects of their own, so that the tree can point at them and they back at
// it (ISO 32000-1:2008, 14.7.4.3 and 14.7.4.4). Keys of the parent tree go on
// from those of the pages; next is the first that is free, and parents are
// the entries.
func (t *Tree) link(f *file, pages []int) (next int, parents string, err error) {
	next = len(pages)
	var nums strings.Builder
	for i, page := range pages {
		found, from, to, err := annotations(f.objects[page])
		if err != nil {
			return 0, "", fmt.Errorf("page %d: %w", i+1, err)
		}
		var want []place
		if i < len(t.places) {
			want = t.places[i]
		}
		if len(found) != len(want) {
			return 0, "", fmt.Errorf("page %d has %d links, and %d are known", i+1, len(found), len(want))
		}
		if len(found) == 0 {
			continue
		}
		refs := make([]string, len(found))
		for k, dict := range found {
			n := f.add()
			want[k].at = n
			refs[k] = fmt.Sprintf("%d 0 R", n)
			more := fmt.Sprintf(" /P %d 0 R", page)
			if want[k].words != "" {
				more += " /Contents " + hexText(want[k].words)
			}
			if e := want[k].owner; e != nil {
				if e.at == 0 {
					return 0, "", fmt.Errorf("page %d leads on from a %s that hangs on nothing", i+1, e.Role)
				}
				more += fmt.Sprintf(" /StructParent %d", next)
				fmt.Fprintf(&nums, " %d %d 0 R", next, e.at)
				next++
			}
			f.fill(n, "<<"+strings.TrimSpace(string(dict[2:len(dict)-2]))+more+">>")
		}
		o := f.objects[page]
		f.objects[page] = append(append(bytes.Clone(o[:from]), strings.Join(refs, " ")...), o[to:]...)
	}
	return next, nums.String(), nil
}

// annotations are the dictionaries between the brackets of a page's
// annotations, and where those stand.
func annotations(page []byte) (found [][]byte, from, to int, err error) {
	from = bytes.Index(page, opening)
	if from < 0 {
		return nil, 0, 0, nil
	}
	from += len(opening)
	depth, start := 0, 0
	for i := from; i < len(page); i++ {
		switch c := page[i]; {
		case c == '(':
			if i = textEnd(page, i); i < 0 {
				return nil, 0, 0, errors.New("a text of its annotations does not end")
			}
		case c == '<' && i+1 < len(page) && page[i+1] == '<':
			if depth == 0 {
				start = i
			}
			depth++
			i++
		case c == '>' && i+1 < len(page) && page[i+1] == '>':
			depth--
			i++
			if depth == 0 {
				found = append(found, page[start:i+1])
			}
		case c == ']' && depth == 0:
			return found, from, i, nil
		}
		if depth < 0 {
			break
		}
	}
	return nil, 0, 0, errors.New("its annotations do not end")
}

// textEnd is where the text ends that opens at a place; -1: nowhere.
func textEnd(b []byte, at int) int {
	depth := 0
	for i := at; i < len(b); i++ {
		switch b[i] {
		case '\\':
			i++
		case '(':
			depth++
		case ')':
			if depth--; depth == 0 {
				return i
			}
		}
	}
	return -1
}
