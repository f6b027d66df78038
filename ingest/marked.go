package ingest

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// MarkOptions are settings of WriteMarked. The zero value is the default:
// fills stay as they are, and nothing is said.
type MarkOptions struct {
	// Colour gives problem cells a pale fill as well.
	Colour bool
	// Note is told, before anything is written, what of the workbook the copy
	// does not have as it was.
	Note func(sentence string)
}

// maxMarked is how many cells a workbook may have for a marked copy; beyond,
// the rows concerned are easier to handle (SaveProblemBook).
const maxMarked = 500_000

// CanMark says whether a file of the log gets a marked copy, and why not: a
// text table has no formats, and of a very large workbook the rows concerned
// are enough.
func CanMark(ctx context.Context, file string) (bool, string, error) {
	kind, err := sniffKind(file)
	if err != nil {
		return false, "", fmt.Errorf("mark %s: %w", file, err)
	}
	if kind != kindWorkbook {
		return false, "a text table cannot be marked", nil
	}
	cells, err := countCells(ctx, file)
	if err != nil {
		return false, "", fmt.Errorf("mark %s: %w", file, err)
	}
	if cells > maxMarked {
		return false, fmt.Sprintf("it has more than %d cells", maxMarked), nil
	}
	return true, "", nil
}

// countCells counts the cells of a workbook's sheets, up to somewhat more
// than maxMarked.
func countCells(ctx context.Context, file string) (int, error) {
	parts, err := openParts(ctx, file)
	if err != nil {
		return 0, err
	}
	defer parts.close()
	total := 0
	buf := make([]byte, 256<<10)
	for _, s := range parts.sheets {
		r, err := parts.open(s.part)
		if err != nil {
			return 0, err
		}
		for total <= maxMarked && ctx.Err() == nil {
			n, err := io.ReadFull(r, buf)
			// A cell's tag is <c followed by a space; one cut by the edge of the
			// buffer is not worth the trouble.
			total += bytes.Count(buf[:n], []byte("<c ")) + bytes.Count(buf[:n], []byte(":c "))
			if err != nil {
				break // the end; a damaged part would have been refused when it was read
			}
		}
		r.Close()
	}
	return total, ctx.Err()
}

// WriteMarked writes a copy of one of the log's workbooks in which the
// problems stand in place. Each cell with a problem has a coloured border
// (orange where a value or row was set aside, blue where it was kept) and a
// comment with the sentences; a new first sheet lists them with links. All
// else is copied byte for byte, and comments that are there stay. In the copy
// of a marked copy the marks are those of today alone. It is readable by its
// owner alone and appears whole or not at all. file is a path as given to
// Read.
func WriteMarked(ctx context.Context, log *Log, file, outPath string, opts MarkOptions) error {
	if same, err := sameFile(file, outPath); err != nil || same {
		if err == nil {
			err = fmt.Errorf("it is the file itself")
		}
		return fmt.Errorf("write the marked copy %s: %w", outPath, err)
	}
	known := false
	for _, s := range log.Sheets {
		known = known || s.File == file
	}
	if !known {
		return fmt.Errorf("write the marked copy of %s: the file is not part of the log", file)
	}
	if err := markWorkbook(ctx, log, file, outPath, opts); err != nil {
		return fmt.Errorf("write the marked copy %s: %w", outPath, err)
	}
	return nil
}

func sameFile(a, b string) (bool, error) {
	x, err := os.Stat(a)
	if err != nil {
		return false, err
	}
	y, err := os.Stat(b)
	if err != nil {
		return false, nil // the copy does not exist yet
	}
	return os.SameFile(x, y), nil
}

func markWorkbook(ctx context.Context, log *Log, file, outPath string, opts MarkOptions) error {
	b, err := openPatch(ctx, file, opts.Colour)
	if err != nil {
		return err
	}
	defer b.parts.close()
	kept := b.keeps()
	if opts.Note != nil {
		for _, k := range kept {
			opts.Note(k)
		}
	}
	var list []Problem
	bySheet := map[string][]Problem{}
	for _, p := range log.Problems {
		if p.File == file && p.Sheet >= 0 {
			list = append(list, p)
			bySheet[p.Tab] = append(bySheet[p.Tab], p)
		}
	}
	before := "" // the list in a workbook that is a marked copy itself
	for _, s := range b.parts.sheets {
		if IsProblemSheet(s.name) {
			before = s.part
		}
	}
	for _, s := range b.parts.sheets {
		if err := ctx.Err(); err != nil {
			return err
		}
		if s.part == before || len(bySheet[s.name]) == 0 && before == "" {
			continue
		}
		notes, grid := remarks(bySheet[s.name])
		if err := b.markSheet(s, notes, grid); err != nil {
			return fmt.Errorf("sheet %q: %w", s.name, err)
		}
	}
	front := b.listSheet(filepath.Base(file), worstFirst(list), kept)
	if before != "" {
		b.set(before, front)
	} else if err := b.inFront(ProblemSheet, front); err != nil {
		return err
	}
	if b.styles != nil {
		name, err := b.related(b.book, "styles")
		if err != nil {
			return err
		}
		b.set(name, b.styles.part())
	}
	return writeWhole(outPath, b.write)
}

// remarks are the problems of a sheet by cell. What concerns no single cell
// stands at the first.
func remarks(ps []Problem) ([]note, markGrid) {
	grid := markGrid{}
	at := map[string]int{}
	var notes []note
	for _, p := range ps {
		col, row, ok := parseCellName(p.Cell)
		if !ok {
			col, row = 0, 1
		}
		name := cellName(col, row)
		i, seen := at[name]
		if !seen {
			i = len(notes)
			at[name] = i
			notes = append(notes, note{col: col, row: row})
		} else {
			notes[i].text += "\n"
		}
		notes[i].text += remark(p)
		if grid[row] == nil {
			grid[row] = map[int]int{}
		}
		if p.Done != Kept {
			grid[row][col] = 1
		} else if _, ok := grid[row][col]; !ok {
			grid[row][col] = 0
		}
	}
	for i := range notes {
		if r := []rune(notes[i].text); len(r) > maxRemark {
			notes[i].text = string(r[:maxRemark]) + "..."
		}
	}
	return notes, grid
}

// remark is a problem on one line, as it stands in a comment.
func remark(p Problem) string {
	line := strings.Join(strings.Fields(p.Text), " ")
	if p.Want != "" && p.Done != Kept {
		line += " Expected: " + strings.Join(strings.Fields(p.Want), " ") + "."
	}
	return remarkStart + capital(line)
}

// worstFirst puts what was lost before what was kept.
func worstFirst(ps []Problem) []Problem {
	var out []Problem
	for _, class := range []func(Done) bool{
		func(d Done) bool { return d == RowSetAside || d == RecordSetAside },
		func(d Done) bool { return d == ValueSetAside },
		func(d Done) bool { return d == Kept },
	} {
		for _, p := range ps {
			if class(p.Done) {
				out = append(out, p)
			}
		}
	}
	return out
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
