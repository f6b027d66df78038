// Package ingesttest makes workbooks and text tables for tests from
// descriptions that people can read and compare line by line. Only tests
// import it.
package ingesttest

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// Case is a description read: the files of a log, the lines to edit in the
// intake file proposed for them, and what is expected of reading them.
//
// A description is plain text. Lines that begin with # say what it is about.
// A line "-- file NAME.xlsx" begins a workbook, "== NAME" a sheet of it; a
// line of a sheet is a row, its cells parted by |. "-- text NAME.csv" begins
// a text table, whose rows are written as they stand with commas for |;
// "-- take FILE as NAME" names a file that lies beside the description, such
// as one in another encoding. Without any of them the file is called after the description.
//
// A cell is a text or a number as typed. These beginnings say otherwise:
// text: (a text that looks like a number), date:2024-03-05, time:14:30,
// month:2024-03-01 (a date shown as Mar-24), moment:2024-03-05 14:30,
// number: (a number in any form), error:#N/A, is:VALUE=FORMULA (a formula
// with its stored value), formula:FORMULA (one without). In every cell \n is
// a new line, \s a space and \_ a space that does not break.
//
// Lines that begin with @ in a sheet are about the sheet: @merge A1:C1,
// @hide row 4-6, @hide column C, @hide sheet, @filter A1:F9 (with @hide row
// for those filtered out), @struck A3:F3, @comment C4 TEXT, @1904.
//
// "-- edits" begins the edits of the proposed intake file, a line each, old
// text => new text; where it is missing the files are read without an intake.
// "-- expected" begins what is expected, line by line.
type Case struct {
	Name     string
	About    string
	Files    []File
	Intake   bool
	Edits    [][2]string
	Expected []string
	dir      string
}

// File is a workbook (Sheets), a text table (Text) or a file that lies beside
// the description (Beside, its name there).
type File struct {
	Name   string
	Sheets []Sheet
	Text   []string
	Beside string
}

// Sheet is a sheet of a workbook: its rows of cells and lines about it.
type Sheet struct {
	Name  string
	Rows  [][]string
	About []string // without the @
}

// spaces are those that cannot be seen in a description.
var spaces = strings.NewReplacer(`\n`, "\n", `\s`, " ", `\_`, "\u00a0")

// Read reads a description.
func Read(path string) (Case, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return Case{}, err
	}
	c := Case{Name: strings.TrimSuffix(filepath.Base(path), ".txt"), dir: filepath.Dir(path)}
	part := "file"
	file := func() *File {
		if len(c.Files) == 0 {
			name := c.Name
			if !strings.HasSuffix(name, ".csv") {
				name += ".xlsx"
			}
			c.Files = append(c.Files, File{Name: name})
		}
		return &c.Files[len(c.Files)-1]
	}
	for n, line := range strings.Split(strings.TrimRight(string(data), "\n"), "\n") {
		word, rest, _ := strings.Cut(strings.TrimPrefix(line, "-- "), " ")
		switch {
		case strings.HasPrefix(line, "-- "):
			switch part = word; word {
			case "file", "text":
				c.Files = append(c.Files, File{Name: rest})
			case "take":
				beside, name, ok := strings.Cut(rest, " as ")
				if !ok {
					return Case{}, fmt.Errorf("%s:%d: %q names no file as another", path, n+1, rest)
				}
				c.Files = append(c.Files, File{Name: name, Beside: beside})
			case "edits":
				c.Intake = true
			case "expected":
			default:
				return Case{}, fmt.Errorf("%s:%d: no part is called %q", path, n+1, word)
			}
		case strings.HasPrefix(line, "# "):
			c.About = strings.TrimSpace(c.About + " " + line[2:])
		case part == "edits":
			old, with, ok := strings.Cut(line, " => ")
			if !ok {
				return Case{}, fmt.Errorf("%s:%d: %q is no edit", path, n+1, line)
			}
			c.Edits = append(c.Edits, [2]string{old, with})
		case part == "expected":
			c.Expected = append(c.Expected, line)
		case part == "text":
			f := file()
			f.Text = append(f.Text, spaces.Replace(strings.ReplaceAll(line, "|", ",")))
		case part == "take":
			return Case{}, fmt.Errorf("%s:%d: nothing stands behind a file taken as it is", path, n+1)
		case strings.HasPrefix(line, "== "):
			f := file()
			f.Sheets = append(f.Sheets, Sheet{Name: line[3:]})
		default:
			f := file()
			if len(f.Sheets) == 0 {
				return Case{}, fmt.Errorf("%s:%d: %q stands on no sheet", path, n+1, line)
			}
			s := &f.Sheets[len(f.Sheets)-1]
			if strings.HasPrefix(line, "@") {
				s.About = append(s.About, line[1:])
			} else {
				s.Rows = append(s.Rows, strings.Split(spaces.Replace(line), "|"))
			}
		}
	}
	return c, nil
}

// ReadAll reads all descriptions of a folder, in the order of their names.
func ReadAll(dir string) ([]Case, error) {
	paths, err := filepath.Glob(filepath.Join(dir, "*.txt"))
	if err != nil {
		return nil, err
	}
	var out []Case
	for _, p := range paths {
		c, err := Read(p)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, nil
}

// Write makes the files of a case in dir and returns their paths.
func (c Case) Write(dir string) ([]string, error) {
	var out []string
	for _, f := range c.Files {
		var data []byte
		var err error
		switch {
		case f.Beside != "":
			data, err = os.ReadFile(filepath.Join(c.dir, f.Beside))
		case len(f.Text) > 0:
			data = []byte(strings.Join(f.Text, "\n") + "\n")
		case strings.HasSuffix(f.Name, ".csv"):
			var lines []string
			for _, row := range f.Sheets[0].Rows {
				lines = append(lines, strings.Join(row, ","))
			}
			data = []byte(strings.Join(lines, "\n") + "\n")
		default:
			data, err = workbook(f.Sheets)
		}
		if err != nil {
			return nil, fmt.Errorf("%s, %s: %w", c.Name, f.Name, err)
		}
		path := filepath.Join(dir, f.Name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			return nil, err
		}
		out = append(out, path)
	}
	return out, nil
}

// Edit makes the edits in the text of a proposed intake file. Each edit
// concerns exactly one line.
func (c Case) Edit(text string) (string, error) {
	lines := strings.Split(text, "\n")
	for _, e := range c.Edits {
		at := -1
		for i, l := range lines {
			if !strings.Contains(l, e[0]) {
				continue
			}
			if at >= 0 {
				return "", fmt.Errorf("%s: %q stands on several lines of the proposal:\n%s", c.Name, e[0], text)
			}
			at = i
		}
		if at < 0 {
			return "", fmt.Errorf("%s: %q stands on no line of the proposal:\n%s", c.Name, e[0], text)
		}
		lines[at] = strings.Replace(lines[at], e[0], e[1], 1)
	}
	return strings.Join(lines, "\n"), nil
}
