package batch

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/notebook"
	"plybook/reports/study"
)

// Source is a notebook with its log, read.
type Source struct {
	Notebook *notebook.Notebook
	Log      *ingest.Log
	Codes    *ingest.Codes // nil where none were made
	Context  *answer.Context

	intake *ingest.Intake
}

// Open reads a notebook and its log as a run does, and writes nothing but
// shifts of dates where the notebook asks for them.
func Open(ctx context.Context, o Options) (*Source, error) {
	if o.Progress == nil {
		o.Progress = func(string, int, int) {}
	}
	nb, _, err := readNotebook(o.Notebook)
	if err != nil {
		return nil, err
	}
	return load(ctx, nb, o)
}

func readNotebook(path string) (*notebook.Notebook, []byte, error) {
	src, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil, fmt.Errorf("%w: there is no file %s", ErrNotebook, path)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", ErrNotebook, err)
	}
	nb, err := notebook.Parse(path, src)
	if err != nil {
		return nil, nil, fmt.Errorf("%w:\n%w", ErrNotebook, err)
	}
	return nb, src, nil
}

// load reads the log of a notebook and what is known of it.
func load(ctx context.Context, nb *notebook.Notebook, o Options) (*Source, error) {
	paths, err := logFiles(nb, o)
	if err != nil {
		return nil, err
	}
	o.Progress("reading the log", 0, 1)
	intake, err := loadIntake(nb, o)
	if err != nil {
		return nil, err
	}
	log, codes, err := readLog(ctx, paths, intake, nb.Front.ShiftDates)
	if err != nil {
		return nil, err
	}
	sc, err := study.New(nb, log, codes)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrLog, err)
	}
	return &Source{Notebook: nb, Log: log, Codes: codes, Context: sc, intake: intake}, nil
}

// loadIntake reads the intake file that the front matter names.
func loadIntake(nb *notebook.Notebook, o Options) (*ingest.Intake, error) {
	path := nb.Front.Intake
	if path == "" {
		return nil, nil
	}
	if !filepath.IsAbs(path) {
		path = filepath.Join(filepath.Dir(o.Notebook), path)
	}
	it, err := ingest.LoadIntake(path)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrLog, err)
	}
	return it, nil
}

func sum(b []byte) string {
	s := sha256.Sum256(b)
	return hex.EncodeToString(s[:])
}

// logFiles are the files of the log, each once and sorted within a pattern.
func logFiles(nb *notebook.Notebook, o Options) ([]string, error) {
	patterns, base := nb.Front.Log, filepath.Dir(o.Notebook)
	if len(o.Log) > 0 {
		patterns, base = o.Log, ""
	}
	if len(patterns) == 0 {
		return nil, fmt.Errorf("%w: %s names no log; write `log: [log/*.xlsx]` in its front matter, or give --log", ErrNotebook, o.Notebook)
	}
	seen := map[string]bool{}
	var out []string
	for _, p := range patterns {
		full := p
		if !filepath.IsAbs(p) {
			full = filepath.Join(base, p)
		}
		found, err := filepath.Glob(full)
		if err != nil {
			return nil, fmt.Errorf("%w: the pattern %q is not valid: %w", ErrLog, p, err)
		}
		sort.Strings(found)
		used := 0
		for _, f := range found {
			name := filepath.Base(f)
			if strings.HasPrefix(name, "~$") || strings.HasPrefix(name, ".") || ingest.IsOwnOutput(name) {
				continue // lock files of an open workbook, and what inspect wrote
			}
			used++
			if !seen[f] {
				seen[f] = true
				out = append(out, f)
			}
		}
		if used == 0 {
			return nil, fmt.Errorf("%w: no file matches %q (looked in %s)", ErrLog, p, filepath.Dir(full))
		}
	}
	return out, nil
}

// readLog reads the log, and the codes that inspect made beside it if there
// are any and they cover everybody. It makes no codes: whoever runs a report
// need not be the one who keeps them.
// Shifts of dates it does draw where the notebook asks for them, and keeps
// them with the codes.
func readLog(ctx context.Context, paths []string, intake *ingest.Intake, shift int) (*ingest.Log, *ingest.Codes, error) {
	path := filepath.Join(filepath.Dir(paths[0]), ingest.CodesFile)
	coder, err := ingest.OpenCodes(path, nil)
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", ErrLog, err)
	}
	if intake.Coded() && !coder.Exists() {
		return nil, nil, fmt.Errorf("%w: %s has codes stand for columns, and there is no %s beside the log; run plybook inspect --intake %s on the log, which makes the codes", ErrLog, filepath.Base(intake.Path), ingest.CodesFile, filepath.Base(intake.Path))
	}
	log, err := ingest.Read(ctx, paths, ingest.Options{Intake: intake, Codes: coder})
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", ErrLog, err)
	}
	if !coder.Exists() {
		if shift > 0 {
			return nil, nil, fmt.Errorf("%w: shift_dates keeps by how many days each person's dates are moved in %s, and there is none beside the log; run plybook inspect on the log%s, which makes it", ErrLog, ingest.CodesFile, withIntake(intake))
		}
		return log, nil, nil
	}
	codes := coder.Codes()
	if coder.Fresh() > 0 || !study.Covers(codes, log) {
		return nil, nil, fmt.Errorf("%w: %s lacks codes for people or staff who have come since; run plybook inspect on the log%s", ErrLog, path, withIntake(intake))
	}
	if shift > 0 {
		if err := drawShifts(coder, log, path, shift); err != nil {
			return nil, nil, err
		}
	}
	return log, codes, nil
}

// drawShifts draws by how many days the dates of each person are moved, where
// that has not been done, and keeps it beside the codes.
func drawShifts(coder *ingest.Coder, log *ingest.Log, path string, within int) error {
	code := coder.Codes().Persons()
	var persons []string
	for _, p := range study.Persons(log) {
		persons = append(persons, code(p))
	}
	err := coder.DrawShifts(persons, within)
	if errors.Is(err, ingest.ErrShift) {
		return fmt.Errorf("%w: %s moves the dates of some persons by more than the %d days of shift_dates; write a longer time, or empty the column shift_days of that file, and new ones are drawn", ErrLog, path, within)
	}
	if err != nil {
		return fmt.Errorf("%w: %w", ErrLog, err)
	}
	if err := coder.Save(path); err != nil {
		return fmt.Errorf("%w: %w", ErrLog, err)
	}
	return nil
}

func withIntake(intake *ingest.Intake) string {
	if intake == nil {
		return ""
	}
	return ", with --intake " + filepath.Base(intake.Path)
}
