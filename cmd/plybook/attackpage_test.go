package main

import (
	"fmt"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strings"

	"github.com/xuri/excelize/v2"

	"plybook/analysis/withhold"
)

var countWords = `(?:sockets?|persons?|people|limbs?|visits?|findings?|events?|rows?|clusters?)`

// bound reads the printed report: what is withheld in the numbers and printed
// all the same, and what is said of the counts withheld.
func (r *reader) bound(folder string) {
	sections, grids := r.sections(folder)
	defer r.printedShares(sections)
	for i := range r.k.unknowns {
		u := &r.k.unknowns[i]
		if u.known || len(u.places) == 0 {
			continue
		}
		u.low = r.k.below
		if u.truth < r.k.below {
			u.low, u.high = 1, r.k.below-1
		}
		about, coarse := withhold.Coarsen(u.truth, r.k.below)
		round := false
		for id := range u.places {
			for _, s := range sections[id] {
				if printedAs(s, u.truth) {
					u.tell("in print")
				}
				round = round || coarse && r.paths[u.name].labels == "" && strings.Contains(strings.ToLower(s), "about "+written(about))
			}
			for _, g := range grids[id] {
				if g.shows(r.paths[u.name], written(u.truth), fmt.Sprint(u.truth)) {
					u.tell("in a printed table")
				}
				round = round || coarse && g.shows(r.paths[u.name], "about "+written(about))
			}
		}
		if round {
			u.low, u.high = max(u.low, about-withhold.Step(r.k.below)/2), about+(withhold.Step(r.k.below)-1)/2
		}
		if u.known {
			r.t.Logf("withheld in the numbers, and yet printed: %s = %d", u.name, u.truth)
			u.low, u.high = u.truth, u.truth
		}
	}
}

func written(n int) string {
	if n >= 1000 {
		return fmt.Sprintf("%d,%03d", n/1000, n%1000)
	}
	return fmt.Sprint(n)
}

// roundNumber is how a withheld count is said, which may be what it is.
var roundNumber = regexp.MustCompile(`(?i)\babout\s+[0-9][0-9,]*`)

// printedAs says whether a number stands in a sentence as a count of what is
// counted.
func printedAs(text string, n int) bool {
	text = roundNumber.ReplaceAllString(text, "")
	return regexp.MustCompile(`(?:^|[^0-9.,−+%-])` + regexp.QuoteMeta(written(n)) + ` (?:of (?:the )?[0-9,]+ )?` + countWords + `\b`).MatchString(text)
}

// grid is a printed table or a sheet: a head, and rows of cells.
type grid struct {
	head []string
	rows [][]string
}

// shows says whether a number stands in a table in a row and under a head that
// name everything by which the attacker knows the count.
func (g grid) shows(p path, as ...string) bool {
	var words []string
	for _, l := range strings.Fields(strings.ReplaceAll(p.labels, "carbon laminate", "carbon")) {
		if _, v, ok := strings.Cut(l, "="); ok && v != "all" && v != "yes" && v != "no" {
			words = append(words, strings.ToLower(v))
		}
	}
	switch what, subject, _ := strings.Cut(p.what, " "); what {
	case "rows", "count", "events":
	case "missing":
		words = append(words, "not recorded", subject)
	default:
		words = append(words, what)
	}
	if len(words) == 0 {
		return false
	}
	within := ""
	for _, row := range g.rows {
		filled := 0
		for _, c := range row {
			if c != "" {
				filled++
			}
		}
		if filled == 1 {
			within = row[0]
			continue
		}
		for j, c := range row {
			c, _, _ = strings.Cut(c, " (")
			if j == 0 || j >= len(g.head) || !slices.Contains(as, c) {
				continue
			}
			where := strings.ToLower(within + "|" + strings.Join(row, "|") + "|" + g.head[j])
			if !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(where, w) }) {
				return true
			}
		}
	}
	return false
}

// sections are the texts of each answer, of the page and of the printed
// pages, and its tables, of the page and the workbook.
func (r *reader) sections(folder string) (map[string][]string, map[string][]grid) {
	t := r.t
	t.Helper()
	page, err := os.ReadFile(filepath.Join(folder, "report.html"))
	if err != nil {
		t.Fatal(err)
	}
	out, grids := map[string][]string{}, map[string][]grid{}
	tag := regexp.MustCompile(`<[^>]*>`)
	text := func(s string) string {
		return strings.Join(strings.Fields(html.UnescapeString(tag.ReplaceAllString(s, " "))), " ")
	}
	cells := regexp.MustCompile(`(?s)<t[hd][^>]*>(.*?)</t[hd]>`)
	for _, p := range regexp.MustCompile(`(?s)<section aria-labelledby="([^"]+)">(.*?)</section>`).FindAllStringSubmatch(string(page), -1) {
		// Words of a drawing that belong together stand in one element.
		out[p[1]] = append(out[p[1]], text(strings.ReplaceAll(p[2], "</text>", " ; ")))
		for _, table := range regexp.MustCompile(`(?s)<table>(.*?)</table>`).FindAllStringSubmatch(p[2], -1) {
			var g grid
			for _, row := range regexp.MustCompile(`(?s)<tr[^>]*>(.*?)</tr>`).FindAllStringSubmatch(table[1], -1) {
				var line []string
				for _, c := range cells.FindAllStringSubmatch(row[1], -1) {
					line = append(line, text(c[1]))
				}
				if g.head == nil {
					g.head = line
				} else {
					g.rows = append(g.rows, line)
				}
			}
			grids[p[1]] = append(grids[p[1]], g)
		}
	}
	if len(out) < len(r.book.Asks()) {
		t.Fatalf("%d sections of %d answers", len(out), len(r.book.Asks()))
	}
	f, err := excelize.OpenFile(filepath.Join(folder, "numbers.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close() //nolint:errcheck // only read
	sheets := 0
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		for id := range out {
			if sheet != id && (len(sheet) < 25 || !strings.HasPrefix(id, sheet)) {
				continue
			}
			sheets++
			// A sheet holds table after table; each line may be the head of those below.
			for n, head := range rows {
				if slices.ContainsFunc(head, func(c string) bool { return slices.Contains(countColumns, c) }) {
					grids[id] = append(grids[id], grid{head, rows[n+1:]})
				}
			}
		}
	}
	if sheets == 0 {
		t.Fatal("no sheet of the workbook is known by an answer")
	}
	r.printedPages(folder, out)
	return out, grids
}

// printedPages adds the text of the PDF, parted by the questions in it.
func (r *reader) printedPages(folder string, out map[string][]string) {
	tool, ok := popplerTool(r.t, "pdftotext")
	if !ok {
		return
	}
	raw, err := exec.Command(tool, "-layout", filepath.Join(folder, "report.pdf"), "-").Output()
	if err != nil {
		r.t.Fatal(err)
	}
	text := string(raw)
	words := strings.NewReplacer("\u00a0", " ", "\n", " \n")
	text = words.Replace(text)
	type begin struct {
		id string
		at int
	}
	var begins []begin
	shown := 0
	for _, a := range r.seen.Answers {
		head := a.Question
		if len(head) > 40 {
			head = head[:40]
		}
		// A question may stand in the summary, in the contents, over its answer
		// and over what is told further of it: what follows belongs to it until
		// another begins.
		found := false
		for from := 0; ; {
			at := strings.Index(text[from:], head)
			if at < 0 {
				break
			}
			found = true
			begins = append(begins, begin{a.ID, from + at})
			from += at + len(head)
		}
		if found {
			shown++
		}
	}
	if 2*shown < len(r.seen.Answers) {
		r.t.Errorf("the PDF shows %d of %d questions", shown, len(r.seen.Answers))
	}
	sort.Slice(begins, func(i, k int) bool { return begins[i].at < begins[k].at })
	columns := regexp.MustCompile(` {2,}`)
	for i, b := range begins {
		end := len(text)
		if i+1 < len(begins) {
			end = begins[i+1].at
		}
		out[b.id] = append(out[b.id], columns.ReplaceAllString(text[b.at:end], " ; "))
	}
}
