package ingest

import (
	"bytes"
	"fmt"
	"path"
)

// markSheet marks the cells of one sheet.
func (b *bookPatch) markSheet(info sheetPart, notes []note, grid markGrid) error {
	data, err := b.get(info.part)
	if err != nil {
		return err
	}
	if data, err = markCells(data, grid, b.styles); err != nil {
		return err
	}
	threads, err := b.threads(info.part)
	if err != nil {
		return err
	}
	comments, err := b.related(info.part, "comments")
	if err != nil {
		return err
	}
	var old []byte
	if comments != "" {
		if old, err = b.get(comments); err != nil {
			return err
		}
	}
	list, fresh, dropped, err := addNotes(old, b.space, notes, threads)
	if err != nil {
		return err
	}
	if len(dropped) > 0 {
		if err := b.eraseNotes(info.part, dropped); err != nil {
			return err
		}
	}
	if comments == "" && len(fresh) > 0 {
		comments, _ = b.free(path.Dir(b.book) + "/comments%d.xml")
		if err := b.declare(comments, "comments"); err != nil {
			return err
		}
		b.set(comments, list)
		if _, err := b.relate(info.part, "comments", comments); err != nil {
			return err
		}
	} else if comments != "" {
		b.set(comments, list)
	}
	if len(fresh) > 0 {
		if data, err = b.drawNotes(info.part, data, fresh); err != nil {
			return err
		}
	}
	b.set(info.part, data)
	return nil
}

// drawNotes adds the boxes of comments, and the drawing that holds them
// where the sheet has none.
func (b *bookPatch) drawNotes(part string, data []byte, notes []note) ([]byte, error) {
	id, place, err := notesDrawing(data)
	if err != nil {
		return nil, err
	}
	if id != "" {
		rels, err := b.parts.relations(part)
		if err != nil {
			return nil, err
		}
		for _, r := range rels {
			if r.id != id {
				continue
			}
			shapes, err := b.get(r.part)
			if err != nil {
				return nil, err
			}
			shapes, ok := addShapes(shapes, 0, notes)
			if !ok {
				return nil, fmt.Errorf("%w (the boxes of its comments cannot be read)", ErrTruncated)
			}
			b.set(r.part, shapes)
			return data, nil
		}
		return nil, fmt.Errorf("%w (the boxes of its comments are missing)", ErrTruncated)
	}
	name, number := b.free(path.Dir(b.book) + "/drawings/vmlDrawing%d.vml")
	shapes, _ := addShapes(nil, number, notes)
	b.set(name, shapes)
	if err := b.declare(name, ""); err != nil {
		return nil, err
	}
	if id, err = b.relate(part, "vmlDrawing", name); err != nil {
		return nil, err
	}
	return splice(data, place, place, fmt.Sprintf(`<%slegacyDrawing%s/>`, prefixOf(data), b.relAttr(data, id))), nil
}

// relAttr is the attribute that points at a relation, in the prefix that the
// part uses or else in one of its own.
func (b *bookPatch) relAttr(data []byte, id string) string {
	if root, ok := nextTag(data, 0); ok && bytes.Contains(data[root.start:root.end], []byte(`xmlns:r="`+b.rel+`"`)) {
		return ` r:id="` + id + `"`
	}
	return ` xmlns:plyrel="` + b.rel + `" plyrel:id="` + id + `"`
}

// eraseNotes takes out the boxes of comments that are no more.
func (b *bookPatch) eraseNotes(part string, dropped map[[2]int]bool) error {
	name, err := b.related(part, "vmlDrawing")
	if err != nil || name == "" {
		return err
	}
	data, err := b.get(name)
	if err != nil {
		return err
	}
	b.set(name, withoutShapes(data, dropped))
	return nil
}

// threads are the cells of a sheet that carry a conversation.
func (b *bookPatch) threads(part string) (map[string]bool, error) {
	out := map[string]bool{}
	name, err := b.related(part, "threadedComment")
	if err != nil || name == "" {
		return out, err
	}
	data, err := b.get(name)
	if err != nil {
		return nil, err
	}
	for at := 0; ; {
		t, ok := findTag(data, at, "threadedComment")
		if !ok {
			return out, nil
		}
		if ref, ok := attrText(data[t.start:t.end], "ref"); ok {
			out[ref] = true
		}
		at = t.end
	}
}
