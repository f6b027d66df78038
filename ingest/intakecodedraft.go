package ingest

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// coded proposes codes for a person's column that holds names or numbers of
// people rather than codes, and says so beside columns of staff.
func (d *draft) coded(f *IntakeField, table string, field Field, p pick) {
	var texts []string
	for _, c := range p.cells {
		texts = append(texts, c.text)
	}
	if codedKind(table, field) == "" || len(texts) == 0 || LooksLikeCode(texts) {
		return
	}
	if field.Staff {
		f.note += fmt.Sprintf("; as {coded: %s} random codes stand for it", yamlText(p.header))
		return
	}
	f.Column, f.Coded = "", []string{p.header}
	f.note = notShown + "; " + certainty(p.p) + "; random codes stand for it, kept in " + CodesFile
	for _, g := range d.cols { // names in two columns
		if !g.taken && isPartOfName(g.header) && isPartOfName(p.header) {
			g.taken = true
			f.Coded = append(f.Coded, g.header)
		}
	}
}

var partsOfName = map[string]bool{"surname": true, "forename": true, "firstname": true, "lastname": true, "first name": true, "last name": true, "family name": true, "given name": true, "middle name": true, "fore name": true, "sur name": true}

func isPartOfName(header string) bool {
	return partsOfName[strings.ToLower(strings.Join(strings.Fields(splitCamel(header)), " "))]
}

// codedNote is the comment of a column left out because it tells people
// apart.
func codedNote(header string) string {
	return notShown + "; under own as " + fmt.Sprintf("{coded: %s}", yamlText(header)) + " random codes stand for it, kept in " + CodesFile
}

// settleCoded takes the codes out of a proposal again where they could not
// meet: where one sheet tells people apart by codes or by other columns than
// another, or names a limb otherwise than by its person.
func (w world) settleCoded(specs []IntakeSheet) {
	persons := map[string]bool{}
	size, apart := 0, false
	each := func(do func(d *draft, s *IntakeSheet, table string, f *IntakeField)) {
		for i := range specs {
			for k := range specs[i].Parts {
				part := &specs[i].Parts[k]
				for j := range part.Fields {
					if f := &part.Fields[j]; f.Name == "person" || f.Name == "limb" {
						do(w.drafts[i], &specs[i], part.Table, f)
					}
				}
			}
		}
	}
	each(func(d *draft, _ *IntakeSheet, table string, f *IntakeField) {
		switch {
		case f.Name == "limb":
		case len(f.Coded) == 0 && f.Column != "", size > 0 && len(f.Coded) != size:
			apart = true
		case len(f.Coded) > 0:
			size = len(f.Coded)
			for _, key := range d.keysOf(f.Coded) {
				persons[key] = true
			}
		}
	})
	each(func(d *draft, _ *IntakeSheet, _ string, f *IntakeField) {
		if f.Name != "limb" || len(f.Coded) == 0 {
			return
		}
		keys, known := d.keysOf(f.Coded), 0
		for _, key := range keys {
			if persons[key] {
				known++
			}
		}
		apart = apart || size != 1 || 10*known < 9*len(keys)
	})
	if !apart {
		return
	}
	each(func(_ *draft, s *IntakeSheet, _ string, f *IntakeField) {
		if len(f.Coded) == 0 {
			return
		}
		for _, rest := range f.Coded[1:] {
			s.note["left_out "+strconv.Itoa(len(s.LeftOut))] = notShown
			s.LeftOut = append(s.LeftOut, rest)
		}
		f.Column, f.Coded = f.Coded[0], nil
		f.note, _, _ = strings.Cut(f.note, "; random codes")
		f.note += "; as the sheets tell people apart in several ways, no codes stand for it"
	})
}

// keysOf are the keys of the values of columns that together tell people
// apart.
func (d *draft) keysOf(headers []string) []string {
	var cols []int
	for _, h := range headers {
		cols = append(cols, slices.Index(d.t.headers, h))
	}
	seen := map[string]bool{}
	var out []string
	for _, row := range d.t.rows {
		var parts []string
		for _, c := range cols {
			parts = append(parts, identityKey(row.cell(c).text))
		}
		if key := strings.Join(parts, "|"); strings.Trim(key, "|") != "" && !seen[key] {
			seen[key] = true
			out = append(out, key)
		}
	}
	return out
}
