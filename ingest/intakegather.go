package ingest

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// leftOver lists the columns that feed no field: kept as own columns, or
// left out where they may name a person, hold free text or have no heading.
func (d *draft) leftOver(s *IntakeSheet) {
	table := ""
	for _, want := range []string{TableVisits, TableSockets, TableLimbs, TableForming, TableStations} {
		k := 0
		for _, p := range s.Parts {
			if p.Table == want {
				k++
			}
		}
		if k == 1 {
			table = want
			break
		}
	}
	used, _ := s.wanted()
	out := func(g *guessColumn, why string) {
		s.note["left_out "+strconv.Itoa(len(s.LeftOut))] = why
		s.LeftOut = append(s.LeftOut, g.header)
	}
	inside := map[int]bool{}
	if d.share != nil { // what others of the row read
		for c := d.t.from; c <= d.t.to; c++ {
			inside[c] = true
		}
	}
	for _, g := range d.cols {
		inside[g.col] = true
		if d.leavesToOthers(g) {
			continue
		}
		if slices.Contains(used, g.header) {
			continue
		}
		long := g.share(func(c cell) bool { return len(strings.Fields(c.text)) > 4 })
		remark := isRemark(g.header)
		switch {
		case g.hides(nil):
			out(g, codedNote(g.header))
		case strings.HasPrefix(g.header, "column "):
			out(g, "a column without a heading")
		case remark || long > 0.3 && len(g.cells) > 0 && long != 0.5:
			out(g, "free text, which may name people: not shown")
		case table == "" || len(g.cells) == 0:
			out(g, "empty or not understood")
		default:
			d.own = append(d.own, g)
			s.Own = append(s.Own, IntakeOwn{Table: table, Column: g.header, note: g.samples(d.t.raw)})
		}
	}
	if d.t.sideBySide {
		return
	}
	texts, _ := headerTexts(d.t.raw, d.t.start, s.HeaderEnd-s.Header, [2]int{-1, -1})
	for c, h := range texts {
		if h != "" && !inside[c] && !strings.HasPrefix(h, "column ") {
			s.note["left_out "+strconv.Itoa(len(s.LeftOut))] = "at the side of the table: not read"
			s.LeftOut = append(s.LeftOut, h)
		}
	}
}

// gather makes one entry of sheets of the same form. Sheets called after
// years become a pattern, so that next year's is read too.
func (w world) gather(list []IntakeSheet) []IntakeSheet {
	var out []IntakeSheet
	var files [][]string
	key := func(s IntakeSheet) string {
		s.Sheets, s.Header, s.HeaderEnd, s.note = nil, 0, s.HeaderEnd-s.Header, nil
		return (&Intake{Sheets: []IntakeSheet{s.bare()}}).Text()
	}
	at := map[string]int{}
	for i, s := range list {
		file := w.drafts[i].t.file
		k := key(s)
		if j, ok := at[k]; ok {
			rows := strings.TrimSuffix(s.note["sheet"], " rows")
			out[j].note["sheet"] = strings.TrimSuffix(out[j].note["sheet"], " rows") + " + " + rows + " rows"
			if !slices.Contains(out[j].Sheets, s.Sheets[0]) {
				out[j].Sheets = append(out[j].Sheets, s.Sheets[0])
			}
			files[j] = append(files[j], file)
			continue
		}
		at[k] = len(out)
		out = append(out, s)
		files = append(files, []string{file})
	}
	for i := range out {
		out[i].Sheets = yearPattern(out[i].Sheets)
		if len(out) == 1 && slices.ContainsFunc(out[i].Sheets, personal) {
			out[i].Sheets = []string{"*"}
			out[i].note["sheet"] += "; every sheet with these columns (they are called after people)"
		}
		// The same name in two files of different form needs the file.
		for j := range out {
			if i != j && slices.ContainsFunc(out[i].Sheets, func(n string) bool { return slices.Contains(out[j].Sheets, n) }) && files[i][0] != files[j][0] && out[i].File == "" {
				out[i].File = baseName(files[i][0])
				out[i].note["file"] = "another file has a sheet of this name"
			}
		}
	}
	return out
}

// bare is the entry without what differs between sheets of one form.
func (s IntakeSheet) bare() IntakeSheet {
	s.Parts = slices.Clone(s.Parts)
	for i := range s.Parts {
		s.Parts[i].Fields = slices.Clone(s.Parts[i].Fields)
		for j := range s.Parts[i].Fields {
			s.Parts[i].Fields[j].note = ""
		}
		s.Parts[i].At = slices.Clone(s.Parts[i].At)
		for j := range s.Parts[i].At {
			s.Parts[i].At[j].note = ""
		}
		s.Parts[i].Marks = slices.Clone(s.Parts[i].Marks)
		for j := range s.Parts[i].Marks {
			s.Parts[i].Marks[j].note = ""
		}
	}
	s.Own = slices.Clone(s.Own)
	for i := range s.Own {
		s.Own[i].note = ""
	}
	return s
}

// personal says whether a sheet's name may be that of a person.
func personal(name string) bool { return looksLikeName(name) || staffName.MatchString(name) }

func yearPattern(names []string) []string {
	if len(names) < 2 {
		return names
	}
	pattern := ""
	for _, n := range names {
		p := yearName4.ReplaceAllStringFunc(n, func(y string) string { return y[:2] + "??" })
		if p == n || pattern != "" && p != pattern {
			return names
		}
		pattern = p
	}
	return []string{pattern}
}

// words lists what the texts of the columns of words are read as. Texts that
// are spelled like the code itself are left out.
func (w world) words() []IntakeWord {
	type seen struct {
		text  string
		count int
	}
	var out []IntakeWord
	done := map[string]bool{}
	for _, table := range Tables() {
		for _, field := range schema[table] {
			if field.Words == nil || done[field.Name] {
				continue
			}
			done[field.Name] = true
			texts := map[string]*seen{}
			counted := map[*rawSheet]map[string]bool{} // limbs or sockets of one row share columns
			for _, d := range w.drafts {
				if counted[d.t.raw] == nil {
					counted[d.t.raw] = map[string]bool{}
				}
				before := counted[d.t.raw]
				picks := []pick{}
				if p, ok := d.fields[table][field.Name]; ok {
					picks = append(picks, p)
				}
				for _, g := range d.groups {
					if p, ok := g.fields[field.Name]; ok && table == TableVisits {
						picks = append(picks, p)
					}
				}
				for _, p := range picks {
					key := cellName(p.col, d.t.start)
					if before[key] {
						continue
					}
					before[key] = true
					for _, c := range p.kinds {
						parts := []string{c.text}
						if _, read, ok := field.Words.LookupAll(c.text); ok {
							parts = read
						} else if split := splitWords(c.text); len(split) > 1 && field.Kind == KindWords {
							parts = split
						}
						for _, t := range parts {
							k := wordKey(t)
							if texts[k] == nil {
								texts[k] = &seen{text: strings.Join(strings.Fields(t), " ")}
							}
							texts[k].count += c.n
						}
					}
				}
			}
			keys := make([]string, 0, len(texts))
			for k := range texts {
				keys = append(keys, k)
			}
			sort.Slice(keys, func(i, j int) bool {
				a, b := texts[keys[i]], texts[keys[j]]
				return a.count > b.count || a.count == b.count && keys[i] < keys[j]
			})
			listed := 0
			for _, k := range keys {
				t := texts[k]
				m := field.Words.Lookup(t.text)
				if m.Code != "" && k == wordKey(m.Code) || isMissing(t.text) || looksLikeName(t.text) || emailText.MatchString(t.text) || longest(t.text, isDigitRune) >= 7 || len([]rune(t.text)) > 40 {
					continue
				}
				if listed++; listed > 40 {
					break
				}
				x := IntakeWord{Field: field.Name, Text: t.text, Code: m.Code, note: timesWord(t.count)}
				switch {
				case m.How == Near:
					x.note += "; a spelling of it: likely (85%)"
				case m.How == Doubtful:
					x.note += "; could mean something else: a guess (60%)"
				case m.How == NoMatch:
					if code, ok := readWord(field, t.text); ok {
						x.Code = code
						x.note += "; likely (85%)"
						break
					}
					x.note += "; not known: fill in one of " + strings.Join(shortList(field.Words.Codes(), 14), ", ")
					if m.Nearest != "" {
						x.note += fmt.Sprintf(" (perhaps %s?)", m.Nearest)
					}
				default:
					x.note += "; certain (95%)"
				}
				out = append(out, x)
			}
		}
	}
	return out
}
