package main

import (
	"archive/zip"
	"fmt"
	"html"
	"io"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// fileText is one file of a report, or a part of one, as text.
type fileText struct {
	name string
	text string
}

// geometry are the attributes of a drawing that say where something stands;
// what they tell is read by those who look at marks.
var geometry = regexp.MustCompile(`(?s)\s(?:d|x|y|x1|y1|x2|y2|cx|cy|r|rx|ry|dx|dy|points|transform|width|height|viewBox|stroke-width|stroke-dasharray|stroke-opacity|fill-opacity|opacity|font-size|style|textLength|offset|class|id|href|for|aria-labelledby|aria-describedby)="[^"]*"`)

// everyText is all that can be read in the files of a report: pages with the
// words behind their figures, drawings, numbers, every part of the workbook,
// the caches of its charts and sheets not shown among them, and the printed
// pages with the words for those who do not see them.
func everyText(t *testing.T, folder string) []fileText {
	t.Helper()
	var out []fileText
	add := func(name, text string) { out = append(out, fileText{name, html.UnescapeString(text)}) }
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, _ := filepath.Rel(folder, path)
		raw, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		switch filepath.Ext(path) {
		case ".html", ".svg":
			text := string(raw)
			text = regexp.MustCompile(`(?s)<style[^>]*>.*?</style>|url\([^)]*\)|data:[^"')]*base64,[^"')]*`).ReplaceAllString(text, " ")
			add(name, geometry.ReplaceAllString(text, " "))
		case ".json", ".md", ".csv", ".txt":
			add(name, regexp.MustCompile(`"[0-9a-f]{40,}"`).ReplaceAllString(string(raw), " "))
		case ".xlsx":
			z, err := zip.OpenReader(path)
			if err != nil {
				return err
			}
			defer z.Close() //nolint:errcheck // only read
			for _, f := range z.File {
				if !regexp.MustCompile(`^xl/(worksheets/[^/]*|sharedStrings|comments[^/]*|charts/[^/]*|drawings/[^/]*)\.xml$`).MatchString(f.Name) {
					continue // how the workbook is put together
				}
				r, err := f.Open()
				if err != nil {
					return err
				}
				part, err := io.ReadAll(r)
				if err != nil {
					return err
				}
				add(name+"/"+f.Name, regexp.MustCompile(`\s(?:r|s|ref|sqref|width|min|max|ht|rId|id|spans)="[^"]*"`).ReplaceAllString(string(part), " "))
			}
		case ".pdf":
			for _, tool := range [][]string{{"pdftotext", "-layout", path, "-"}, {"pdfinfo", "-struct-text", path}} {
				bin, ok := popplerTool(t, tool[0])
				// The words of figures are those of the drawings beside them, and the
				// pages are read in the nightly run.
				if !ok || strings.Contains(name, "figures") || os.Getenv("PLYBOOK_ATTACK") == "" {
					continue
				}
				text, err := exec.Command(bin, tool[1:]...).Output()
				if err != nil {
					return fmt.Errorf("%s of %s: %w", tool[0], name, err)
				}
				add(name, string(text))
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

var numberToken = regexp.MustCompile(`[0-9][0-9,]*(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?`)

// tells lists where a text tells one of some numbers, to as many digits as it
// has.
func (f fileText) tells(far map[string]float64, every map[string]bool) (farOnes, others []string) {
	for _, at := range numberToken.FindAllStringIndex(f.text, -1) {
		s := f.text[at[0]:at[1]]
		if at[0] > 0 && strings.ContainsRune("#0123456789.", rune(f.text[at[0]-1])) {
			continue
		}
		s = strings.ReplaceAll(s, ",", "")
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			continue
		}
		around := strings.Join(strings.Fields(f.text[max(0, at[0]-60):min(len(f.text), at[1]+30)]), " ")
		for column, v := range far {
			// Short numbers are too common to tell by.
			_, after, _ := strings.Cut(s, ".")
			decimals := float64(len(after))
			if v < 1000 {
				decimals--
			}
			if v < 150 {
				decimals--
			}
			if unit := math.Pow(10, float64(len(after))); decimals >= 0 && math.Round(v*unit) == math.Round(x*unit) && s[0] != '0' {
				farOnes = append(farOnes, fmt.Sprintf("%s: %s of %s: %s", f.name, s, column, around))
			}
		}
		if every[s] {
			others = append(others, fmt.Sprintf("%s: %s: %s", f.name, s, around))
		}
	}
	return farOnes, others
}
