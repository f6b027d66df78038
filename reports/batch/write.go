package batch

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/html"
	"plybook/reports/notebook"
	"plybook/reports/numbers"
	"plybook/reports/output"
	"plybook/reports/pdf"
	"plybook/reports/study"
	"plybook/reports/words"
)

// figureDPI is the resolution of the figures' PNG files.
const figureDPI = 200

// writer writes the files of a report folder.
type writer struct {
	o           Options
	r           report
	folder      *output.Folder
	base        string // folder of the notebook: files are named relative to it
	notebookSum string
	intake      *ingest.Intake    // nil without one
	before      []*numbers.Before // earlier editions
}

// name is how an input file is called in the outputs: relative to the
// notebook, so that a report does not depend on where it was made.
func (w *writer) name(path string) string {
	base, err1 := filepath.Abs(w.base)
	full, err2 := filepath.Abs(path)
	if err1 != nil || err2 != nil {
		return filepath.Base(path)
	}
	rel, err := filepath.Rel(base, full)
	if err != nil || strings.HasPrefix(rel, "..") {
		return filepath.Base(path)
	}
	return filepath.ToSlash(rel)
}

func (w *writer) all(ctx context.Context) error {
	doc := assemble(&w.r)
	printed := doc
	if w.r.nb.Front.Print == notebook.Short {
		var err error
		if printed, err = w.r.onPaper(doc, w.paper()); err != nil {
			return err
		}
	}
	// Each writes files of its own from what none of them changes. Those that
	// take longest begin first.
	jobs := []job{
		{"numbers", w.numbers},
		{"report.pdf", func() error { return w.pdf(printed) }},
		{"report.html", func() error { return w.html(doc) }},
		{"run.json", w.record},
	}
	date := w.r.isoDate()
	for _, a := range w.r.answers {
		for _, f := range a.Figures {
			jobs = append(jobs, job{"figure " + f.ID, func() error { return w.figure(f, date) }})
		}
	}
	begin := func(i int) { w.o.Progress("writing the report", i, len(jobs)) }
	err := each(ctx, len(jobs), begin, func(i int) error {
		if err := jobs[i].do(); err != nil {
			return fmt.Errorf("%s: %w", jobs[i].what, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if w.o.Pages {
		w.o.Progress("writing pages", len(jobs), len(jobs)+1)
		if err := w.pages(ctx); err != nil {
			return fmt.Errorf("pages: %w", err)
		}
	}
	w.o.Progress("done", len(jobs), len(jobs))
	return nil
}

// job is a part of the report and how it is written.
type job struct {
	what string
	do   func() error
}

func (w *writer) paper() pdf.Options {
	if w.r.nb.Front.Paper == "letter" {
		return pdf.Options{Paper: pdf.Letter}
	}
	return pdf.Options{}
}

func (w *writer) pdf(doc *document.Document) error {
	var b bytes.Buffer
	if err := pdf.Render(&b, doc, w.paper()); err != nil {
		return err
	}
	return w.folder.Write("report.pdf", b.Bytes())
}

func (w *writer) html(doc *document.Document) error {
	var b bytes.Buffer
	screen := *doc
	screen.Cover = slices.DeleteFunc(slices.Clone(doc.Cover), func(p document.Pair) bool { return p.Label == onScreen })
	if err := html.Render(&b, &screen, html.Options{Book: "numbers.xlsx"}); err != nil {
		return err
	}
	return w.folder.Write("report.html", b.Bytes())
}

func (w *writer) run() numbers.Run {
	r := numbers.Run{Release: w.o.Release, HideBelow: w.r.nb.Front.HideBelow, Inputs: numbers.Inputs(w.r.log.Sheets, w.name)}
	ids := answerIDs(w.r.answers)
	for i, a := range w.r.answers {
		c := *a
		c.ID = ids[i]
		if c.Error != nil {
			e := *c.Error
			e.File = w.name(e.File)
			c.Error = &e
		}
		r.Answers = append(r.Answers, c)
	}
	r.Analyses = slices.Clone(w.r.listed)
	for i := range r.Analyses {
		r.Analyses[i].ID = r.Answers[i].ID // those that had none are called by their line
	}
	return r
}

// answerIDs are the ids under which answers stand in the numbers. An ask may
// have failed for want of an id of its own; what says so goes by its line.
func answerIDs(answers []*answer.Answer) []string {
	taken := map[string]bool{}
	for _, a := range answers {
		if a.Error == nil {
			taken[a.ID] = true
		}
	}
	out := make([]string, len(answers))
	for i, a := range answers {
		id := a.ID
		if a.Error != nil {
			for k := 1; id == "" || taken[id]; k++ {
				id = fmt.Sprintf("line-%d", a.Error.Line)
				if k > 1 {
					id += fmt.Sprintf("-%d", k)
				}
			}
			taken[id] = true
		}
		out[i] = id
	}
	return out
}

func (w *writer) numbers() error {
	run := w.run()
	var b bytes.Buffer
	if err := numbers.WriteJSON(&b, run); err != nil {
		return err
	}
	if err := w.folder.Write("numbers.json", b.Bytes()); err != nil {
		return err
	}
	var x bytes.Buffer
	meta := numbers.Meta{Mark: mark(w.r.nb.Front), Title: w.r.nb.Front.Title, Author: w.r.nb.Front.Author, Date: w.r.isoDate()}
	if err := numbers.WriteXLSX(&x, run, w.problems(), meta); err != nil {
		return err
	}
	return w.folder.Write("numbers.xlsx", x.Bytes())
}

// problems is the list of problems for the workbook. A report that leaves the
// lab, or whose dates are moved, shows where each is and what was done, not
// the text found.
func (w *writer) problems() []numbers.ProblemRow {
	out := numbers.Problems(w.r.log.Problems, w.name)
	for i := range out {
		if w.r.nb.Front.Audience != notebook.Quality || w.r.shifted() {
			out[i].Found, out[i].Text = "", ""
		}
		if w.r.shifted() { // a heading or a bound may be a day
			out[i].Column, out[i].Want = study.WithoutDates(out[i].Column), study.WithoutDates(out[i].Want)
		}
	}
	return out
}

// figure writes the files of one figure.
func (w *writer) figure(f *figure.Figure, date string) error {
	f = w.r.style().Figure(f)
	var png, svg, one bytes.Buffer
	if err := pdf.FigurePNG(&png, f, figureDPI); err != nil {
		return err
	}
	if err := pdf.FigureSVG(&svg, f); err != nil {
		return err
	}
	if err := pdf.FigurePDF(&one, f, date); err != nil {
		return err
	}
	for ext, b := range map[string][]byte{".png": png.Bytes(), ".svg": svg.Bytes(), ".pdf": one.Bytes()} {
		if err := w.folder.Write("figures/"+f.ID+ext, b); err != nil {
			return err
		}
	}
	return nil
}

// runRecord is run.json.
type runRecord struct {
	Plybook  string         `json:"plybook"`
	Notebook fileRecord     `json:"notebook"`
	Settings settingsRecord `json:"settings"`
	Inputs   []fileRecord   `json:"inputs"`
	Intake   *fileRecord    `json:"intake,omitempty"`
	Before   []fileRecord   `json:"hidden_before,omitempty"` // earlier editions' numbers
	Counts   countsRecord   `json:"counts"`
	Problems []codeCount    `json:"problems"`
}

type fileRecord struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
}

type settingsRecord struct {
	Audience        string  `json:"audience"`
	From            *string `json:"from"`
	To              *string `json:"to"`
	LogSince        *string `json:"log_since"`
	Today           *string `json:"today"`
	YearBegins      int     `json:"year_begins,omitempty"` // month, where not January
	HideBelow       int     `json:"hide_below"`
	EarlyRemakeDays float64 `json:"early_remake_days"`
	ShiftDates      int     `json:"shift_dates_days,omitempty"` // at most, for each person
	// VolumeRepeatability is in percent, 0 where the lab has set none.
	VolumeRepeatability float64 `json:"volume_repeatability"`
	// GirthRepeatability is in mm, nil where the lab has set none.
	GirthRepeatability *girthRecord `json:"girth_repeatability,omitempty"`
	// SockThickness is nil where the published one of socks of one material is
	// used because nothing was written.
	SockThickness *sockRecord `json:"sock_thickness,omitempty"`
	Paper         string      `json:"paper"`
	Print         string      `json:"print"`
	Language      string      `json:"language"`
	Numbers       string      `json:"numbers,omitempty"` // "comma" where decimals follow one
	Dates         string      `json:"dates,omitempty"`   // where the notebook says how they are written
}

// girthRecord is a standard deviation of girths measured again.
type girthRecord struct {
	Own      float64 `json:"own_mm"`
	Shared   float64 `json:"shared_mm"`
	Measurer float64 `json:"measurer_mm"`
	Source   string  `json:"source,omitempty"`
}

// sockRecord is how thick socks were taken to be.
type sockRecord struct {
	Published string             `json:"published,omitempty"`
	MM        map[string]float64 `json:"mm_by_ply"`
	Source    string             `json:"source,omitempty"`
}

type countsRecord struct {
	Asks           int `json:"asks"`
	Failed         int `json:"failed"`
	Read           int `json:"read"`
	Used           int `json:"used"`
	SetAside       int `json:"set_aside"`
	ValuesSetAside int `json:"values_set_aside"`
}

type codeCount struct {
	Code  string `json:"code"`
	Count int    `json:"count"`
}

func (w *writer) record() error {
	f := w.r.nb.Front
	today := &w.r.today
	if w.r.shifted() {
		today = nil
	}
	iso := func(d *float64) *string {
		if d == nil || math.IsInf(*d, 0) {
			return nil
		}
		s := words.ISODate(*d)
		return &s
	}
	rec := runRecord{Plybook: w.o.Release, Notebook: fileRecord{w.name(w.r.nb.Path), w.notebookSum},
		Settings: settingsRecord{Audience: string(f.Audience), From: iso(f.From), To: iso(f.To), LogSince: iso(f.LogSince), Today: iso(today),
			YearBegins: f.YearBegins, HideBelow: f.HideBelow, EarlyRemakeDays: f.EarlyRemakeDays, VolumeRepeatability: f.VolumeRepeatability, ShiftDates: f.ShiftDates, Paper: f.Paper, Print: string(f.Print), Language: f.Language, Dates: f.Dates},
		Inputs: []fileRecord{}, Problems: codeCounts(w.r.kinds)}
	if f.DecimalComma {
		rec.Settings.Numbers = "comma"
	}
	if g := f.GirthRepeatability; g != nil {
		rec.Settings.GirthRepeatability = &girthRecord{g.Own, g.Shared, g.Measurer, g.Source}
	}
	if s := f.SockThickness; s != nil {
		rec.Settings.SockThickness = &sockRecord{s.Published, map[string]float64{}, s.Source}
		for _, x := range s.Thickness().Socks() {
			rec.Settings.SockThickness.MM[words.Plain(x.Ply)] = x.MM
		}
	}
	seen := map[string]bool{}
	for _, s := range w.r.log.Sheets {
		if !seen[s.File] {
			seen[s.File] = true
			rec.Inputs = append(rec.Inputs, fileRecord{w.name(s.File), s.SHA256})
		}
		rec.Counts.Read += s.Read
		rec.Counts.Used += s.Used
		rec.Counts.SetAside += s.SetAside
		rec.Counts.ValuesSetAside += s.ValuesSetAside
	}
	for _, b := range w.before {
		rec.Before = append(rec.Before, fileRecord{w.name(b.File), sum(b.Bytes)})
	}
	if w.intake != nil {
		rec.Intake = &fileRecord{w.name(w.intake.Path), w.intake.SHA256}
	}
	rec.Counts.Asks = len(w.r.answers)
	for _, a := range w.r.answers {
		if a.Error != nil {
			rec.Counts.Failed++
		}
	}
	b, err := json.MarshalIndent(rec, "", "  ")
	if err != nil {
		return err
	}
	return w.folder.Write(output.Mark, append(b, '\n'))
}

// codeCounts counts problems by code, in the order of the codes.
func codeCounts(kinds []problemKind) []codeCount {
	n := map[string]int{}
	for _, k := range kinds {
		n[k.Code] += k.Count
	}
	out := make([]codeCount, 0, len(n))
	for code, k := range n {
		out = append(out, codeCount{code, k})
	}
	sort.Slice(out, func(a, b int) bool { return out[a].Code < out[b].Code })
	return out
}
