package export

import (
	"fmt"
	"strings"

	"plybook/reports/document"
	"plybook/reports/words"
)

// about says what the data set is, how it was made and what it does not do.
func (m *maker) about(res *Result, dictionary, changes [][]string) *document.Document {
	title := "About this data set"
	para := func(s string) document.Block { return document.Text(s) }
	head := func(id, s string) document.Block { return document.Heading{Level: 1, Text: s, ID: id} }
	var files [][]document.Span
	for _, s := range m.sheets {
		files = append(files, []document.Span{{Text: s.name + ".csv", Code: true}, {Text: ": " + counted(len(s.rows), "row", "rows")}})
	}
	for _, f := range [][2]string{
		{"data.xlsx", "the same tables in one workbook, with the dictionary and the changes"},
		{"log.xlsx", "the same as a log that plybook reads. Day 0 of every person is 1 January 2000 there: its dates are no dates, only the days between them mean something. What was made coarser than a log's words stands blank, or as lower limb or not given; a year of birth goes with the middle of the band of ages, and findings of one visit that are alike are read as one. Sockets watched late need the key entry with enters_after_days in a question"},
		{"dictionary.csv", "what each column is; also below"},
		{"changes.csv", "what was left out, made coarser or withheld; also below"},
		{"export.json", "counts, and the checksum of every file"},
	} {
		files = append(files, []document.Span{{Text: f[0], Code: true}, {Text: ": " + f[1]}})
	}
	told := fmt.Sprintf("%s of the log are told of in %s. Each combination of what an outsider may know of a person and of his or her limbs (%s) is shared by at least %d persons here; the smallest is shared by %d.",
		counted(res.Persons, "person", "persons"), counted(res.Kinds, "kind of combination", "kinds of combinations"), m.knownWords(), res.K, res.Smallest)
	if res.Removed > 0 {
		told += fmt.Sprintf(" %s left out with all rows of theirs, since too few others have as many limbs.", words.Capital(counted(res.Removed, "person was", "persons were")))
	}
	blocks := []document.Block{
		document.Note{Kind: "caution", Title: "Before it is given to anybody", Paras: []document.Paragraph{
			document.Text("This data set was made by rules, and nobody has judged it. Codes, days in place of dates and coarser values make it harder to tell who somebody is; they do not by themselves meet a legal standard of anonymity. Who decides for your institution (data protection, ethics, legal) must say whether, to whom and under what agreement it may be given."),
			document.Text("What remains: whoever knows the days between several events of a person may find that person. Girths, volumes and materials hint at the level of a limb even where it is withheld. Diagnoses, reasons and findings shared by a whole combination are told of everybody in it. Two exports of one log, or an export beside a report, can tell together what neither tells alone: give out one."),
		}},
		head("files", "Files"), document.List{Items: files},
		head("made", "How it was made"),
		para(told),
		para("Codes of persons, limbs, sockets and visits were drawn at random for this data set alone, and have nothing to do with those of the log or of another data set. " + m.keyWords()),
		para("Dates are days since day 0. Day 0 of a person is the first delivery of a socket that is no check socket; where there is none, the first dated thing that was done. Times between the dates of a person are as in the log, to the day, but for the amputation long ago. Dates of sockets stand a second time as days since the delivery of the socket itself, and visits, girths, findings and forming have the days since the delivery of theirs."),
		para("Of all ways of making these columns coarser that was taken which loses least of what they tell (by entropy; level and cause count most, then age, sex and activity), whoever is left in a combination that fewer than " + fmt.Sprint(res.K) + " share being counted as told nothing of; of those single values were then withheld (Sweeney L. k-anonymity: a model for protecting privacy. Int J Uncertain Fuzziness Knowl Based Syst 2002; 10: 557-570; de Waal AG, Willenborg LCRJ. Information loss through global recoding and local suppression. Neth Off Stat 1999; 14: 17-20). Ages from 90 on are one group. Staff, times of day, remarks and columns that may identify people never go along; columns of the lab's own only where asked for. Of texts no value goes along that fewer persons have than share a combination."),
		para("The rows are those that the notebook sees: what is dated up to the end of its period, and visits, girths, findings and forming from its beginning. An empty cell is not recorded; withheld was recorded and is not told. Rows are in the order of the new codes."),
	}
	blocks = append(blocks, head("changes", "What was changed"))
	blocks = append(blocks, tableOf("changes-table", "What was left out, made coarser or withheld, in the order in which it was done", changeHead, changes, 2))
	blocks = append(blocks, head("dictionary", "Data dictionary"))
	blocks = append(blocks, tableOf("dictionary-table", "Columns of the tables", entryHead, dictionary, 2, 5, 6))
	return &document.Document{Title: title, Language: "en", Foot: "plybook " + m.o.Release, Blocks: blocks}
}

func (m *maker) keyWords() string {
	if m.o.KeyFile == "" {
		return "Which code stands for whom was not kept: nobody can go back."
	}
	return "Which code stands for whom is kept by those who made it, apart from the data set."
}

func (m *maker) knownWords() string {
	var names []string
	for _, c := range m.cols {
		names = append(names, strings.ReplaceAll(c.Name, "_", " "))
	}
	if len(names) == 0 {
		return "the number of limbs"
	}
	return words.List(append(names, "the number of limbs"))
}

func tableOf(id, caption string, head []string, rows [][]string, wide ...int) document.Table {
	t := document.Table{ID: id, Caption: caption, Rows: rows}
	for i, h := range head {
		c := document.TableColumn{Head: words.Capital(h)}
		for _, w := range wide {
			c.Wide = c.Wide || w == i
		}
		t.Columns = append(t.Columns, c)
	}
	return t
}

// markdown writes the document as Markdown.
func markdown(d *document.Document) string {
	var b strings.Builder
	b.WriteString("# " + d.Title + "\n")
	span := func(list []document.Span) string {
		s := ""
		for _, x := range list {
			if x.Code {
				s += "`" + x.Text + "`"
			} else {
				s += x.Text
			}
		}
		return s
	}
	document.Walk(d.Blocks, func(block document.Block) {
		b.WriteString("\n")
		switch x := block.(type) {
		case document.Heading:
			b.WriteString("## " + x.Text + "\n")
		case document.Paragraph:
			b.WriteString(span(x.Spans) + "\n")
		case document.List:
			for _, item := range x.Items {
				b.WriteString("- " + span(item) + "\n")
			}
		case document.Note:
			b.WriteString("**" + x.Title + ".** ")
			for i, p := range x.Paras {
				if i > 0 {
					b.WriteString("\n")
				}
				b.WriteString(span(p.Spans) + "\n")
			}
		case document.Table:
			b.WriteString(x.Caption + ".\n\n|")
			for _, c := range x.Columns {
				b.WriteString(" " + plainCell(c.Head) + " |")
			}
			b.WriteString("\n|" + strings.Repeat("---|", len(x.Columns)) + "\n")
			for _, row := range x.Rows {
				b.WriteString("|")
				for _, s := range row {
					b.WriteString(" " + plainCell(s) + " |")
				}
				b.WriteString("\n")
			}
		}
	})
	return b.String()
}
