// Package batch does the main job: it reads a notebook and its log, answers
// the asks, and writes the report folder whole or not at all.
package batch

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"plybook/reports/answer"
	"plybook/reports/notebook"
	"plybook/reports/output"
)

// Options are the settings of a run.
type Options struct {
	Notebook string   // path of the notebook
	Out      string   // report folder; default: NAME-report beside the notebook
	Log      []string // paths or globs that take the place of the notebook's list
	Pages    bool     // write an image of every printed page too
	Release  string   // of plybook, printed and written
	// Progress is told what is being done; nil for silence. Done counts up
	// to Total.
	Progress func(step string, done, total int)
}

// Result is what a run came to.
type Result struct {
	Folder   string
	Asks     int
	Failed   []*answer.Answer  // asks that could not be answered
	Faults   []*notebook.Error // of decisions, and those of asks beyond the first
	Notes    []notebook.Error  // what stops nothing: prose that cannot be shown, a block that is no ask
	Read     int
	SetAside int
	Values   int
	Problems int
}

// Error kinds of Run; nothing was written.
var (
	ErrNotebook = errors.New("the notebook cannot be used")
	ErrLog      = errors.New("the log cannot be read")
)

// Run does the whole job for one notebook. Faults of single asks are in the
// Result; an error means that nothing was written.
func Run(ctx context.Context, o Options) (*Result, error) {
	if o.Progress == nil {
		o.Progress = func(string, int, int) {}
	}
	if o.Pages {
		if err := checkPages(); err != nil {
			return nil, err
		}
	}
	nb, src, err := readNotebook(o.Notebook)
	if err != nil {
		return nil, err
	}
	target := o.Out
	if target == "" {
		target = strings.TrimSuffix(o.Notebook, filepath.Ext(o.Notebook)) + "-report"
	}
	folder, err := output.Create(target)
	if err != nil {
		return nil, err
	}
	defer folder.Discard() //nolint:errcheck // after Commit there is nothing to discard
	from, err := load(ctx, nb, o)
	if err != nil {
		return nil, err
	}
	log, sc, intake := from.Log, from.Context, from.intake
	res := &Result{Folder: folder.Target, Problems: len(log.Problems), Notes: nb.Warnings}
	for _, s := range log.Sheets {
		res.Read, res.SetAside, res.Values = res.Read+s.Read, res.SetAside+s.SetAside, res.Values+s.ValuesSetAside
	}
	asks := nb.Asks()
	res.Asks = len(asks)
	before, err := earlier(nb, o)
	if err != nil {
		return nil, err
	}
	answers, err := answerAll(ctx, sc, asks, before, o.Progress)
	if err != nil {
		return nil, err
	}
	kinds, err := problemKinds(log.Problems)
	if err != nil {
		return nil, err
	}
	r := report{nb: nb, log: log, today: sc.Today, release: o.Release, kinds: kinds, withheld: sc.Withheld, sets: sc.Sets}
	for i := range answers {
		r.answers = append(r.answers, &answers[i])
		if answers[i].Error != nil {
			res.Failed = append(res.Failed, &answers[i])
			res.Faults = append(res.Faults, asks[i].More...)
		}
	}
	for _, d := range nb.Decisions() {
		if d.Err != nil {
			res.Faults = append(append(res.Faults, d.Err), d.More...)
		}
	}
	w := writer{o: o, r: r, folder: folder, base: filepath.Dir(o.Notebook), notebookSum: sum(src), intake: intake, before: before}
	if err := w.all(ctx); err != nil {
		return nil, fmt.Errorf("write the report: %w", err)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return res, folder.Commit()
}
