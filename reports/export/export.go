// Package export writes the log of a notebook as a data set for others: codes
// drawn anew, days in the place of dates, and what may tell people apart made
// coarser until each combination is shared.
//
// It is no legal opinion. Whether what it writes may be given to somebody is
// for the institution to say that holds the log.
package export

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"plybook/analysis/disclose"
	"plybook/reports/batch"
	"plybook/reports/output"
)

// Options are the settings of an export.
type Options struct {
	Notebook string   // path of the notebook
	Out      string   // folder; default: NAME-export beside the notebook
	Log      []string // paths or globs that take the place of the notebook's list
	K        int      // persons that share each combination; 0: hide_below of the notebook, else DefaultK
	Own      []string // own columns of the lab that go along
	LeaveOut []string // columns that do not
	KeyFile  string   // where to keep which code stands for whom; empty: nowhere
	Replace  bool     // an earlier export may be replaced
	Release  string   // of plybook
	Random   io.Reader
	Progress func(step string, done, total int)
}

// DefaultK is how many persons share a combination where neither the notebook
// nor the command says.
const DefaultK = 5

// Mark is the file by which an earlier export is known.
const Mark = "export.json"

// Result is what an export came to.
type Result struct {
	Folder   string
	K        int
	Persons  int // told of
	Removed  int // left out, since they would stand alone
	Kinds    int // combinations told
	Smallest int // persons of the smallest of them
	Rows     int // of all tables
	Tables   int
	Key      string // where the key is kept; empty where it is not
}

// ErrEmpty reports a log of which nothing can be told.
var ErrEmpty = errors.New("nothing is left to export")

// Run writes the data set of a notebook's log, whole or not at all.
func Run(ctx context.Context, o Options) (*Result, error) {
	if o.Progress == nil {
		o.Progress = func(string, int, int) {}
	}
	if o.K != 0 && o.K < 2 {
		return nil, fmt.Errorf("--k %d: %w", o.K, disclose.ErrK)
	}
	target := o.Out
	if target == "" {
		target = strings.TrimSuffix(o.Notebook, filepath.Ext(o.Notebook)) + "-export"
	}
	if err := checkKeyFile(o.KeyFile, target); err != nil {
		return nil, err
	}
	folder, err := output.CreatePrivate(target, Mark, o.Replace)
	if err != nil {
		return nil, err
	}
	defer folder.Discard() //nolint:errcheck // after Commit there is nothing to discard
	src, err := batch.Open(ctx, batch.Options{Notebook: o.Notebook, Log: o.Log, Release: o.Release, Progress: o.Progress})
	if err != nil {
		return nil, err
	}
	m := &maker{o: o, src: src, k: threshold(o.K, src.Notebook.Front.HideBelow)}
	o.Progress("making it coarser", 0, 1)
	if err := m.make(); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	o.Progress("writing the tables", 0, 1)
	res, err := m.write(folder)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	// The key first: a data set whose key was wanted and lost cannot be mended.
	if err := m.keepKey(); err != nil {
		return nil, err
	}
	res.Folder, res.Key = folder.Target, o.KeyFile
	o.Progress("done", 1, 1)
	return res, folder.Commit()
}

func threshold(asked, hideBelow int) int {
	switch {
	case asked > 0:
		return asked
	case hideBelow > 1:
		return hideBelow
	}
	return DefaultK
}
