// Package output writes a folder of files whole or not at all: everything
// goes to a temporary folder beside the target, which is then swapped in.
package output

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Folder is a set of files being written. Nothing is seen at Target until
// Commit.
type Folder struct {
	Target string
	temp   string
	done   bool
	mode   os.FileMode // of its files
}

// Mark is the file by which a folder is known to be one of ours, and so may
// be replaced.
const Mark = "run.json"

// ErrExists reports a folder of one of ours that was not to be replaced.
var ErrExists = errors.New("the folder stands there already")

// ErrForeign reports that the target holds something else than a report.
var ErrForeign = errors.New("the folder holds files that are not a report")

// Create begins a folder that will stand at target. A target that exists and
// is neither empty nor an earlier report is refused.
func Create(target string) (*Folder, error) {
	return create(target, Mark, 0o755, 0o644)
}

// CreatePrivate begins a folder that only its owner can read. A folder that
// exists and is not empty is refused unless replace is set and the file mark
// says that it is an earlier one of the same kind.
func CreatePrivate(target, mark string, replace bool) (*Folder, error) {
	if entries, err := os.ReadDir(target); err == nil && len(entries) > 0 && !replace {
		return nil, fmt.Errorf("output folder %s: %w", target, ErrExists)
	}
	return create(target, mark, 0o700, 0o600)
}

func create(target, mark string, folder, file os.FileMode) (*Folder, error) {
	target, err := filepath.Abs(target)
	if err != nil {
		return nil, fmt.Errorf("output folder: %w", err)
	}
	switch entries, err := os.ReadDir(target); {
	case errors.Is(err, os.ErrNotExist):
	case err != nil:
		return nil, fmt.Errorf("output folder %s: %w", target, err)
	case len(entries) > 0:
		if _, err := os.Stat(filepath.Join(target, mark)); err != nil {
			return nil, fmt.Errorf("output folder %s: %w; move them or choose another folder", target, ErrForeign)
		}
	}
	parent := filepath.Dir(target)
	if err := os.MkdirAll(parent, 0o755); err != nil {
		return nil, fmt.Errorf("output folder: %w", err)
	}
	temp, err := os.MkdirTemp(parent, "."+filepath.Base(target)+".part-")
	if err != nil {
		return nil, fmt.Errorf("output folder: %w", err)
	}
	if err := os.Chmod(temp, folder); err != nil {
		return nil, errors.Join(err, os.RemoveAll(temp))
	}
	sweep(temp, "."+filepath.Base(target)+".part-")
	return &Folder{Target: target, temp: temp, mode: file}, nil
}

// abandoned is how much older than a new temporary folder another must be to
// be what a run left that was killed, not one at work.
const abandoned = 24 * time.Hour

// sweep removes what killed runs left beside a new temporary folder. Ages
// are taken from the file system, so that no clock is read. What cannot be
// removed, another user's for one, is in nobody's way and stays.
func sweep(temp, prefix string) {
	now, err := os.Stat(temp)
	if err != nil {
		return
	}
	entries, err := os.ReadDir(filepath.Dir(temp))
	if err != nil {
		return
	}
	for _, e := range entries {
		info, err := e.Info()
		if err != nil || !e.IsDir() || !strings.HasPrefix(e.Name(), prefix) || now.ModTime().Sub(info.ModTime()) < abandoned {
			continue
		}
		_ = os.RemoveAll(filepath.Join(filepath.Dir(temp), e.Name()))
	}
}

// Path is where the file name of the folder is to be written now; its parent
// folder exists.
func (f *Folder) Path(name string) (string, error) {
	p := filepath.Join(f.temp, filepath.FromSlash(name))
	if !strings.HasPrefix(p, f.temp+string(filepath.Separator)) {
		return "", fmt.Errorf("%s lies outside the output folder", name)
	}
	return p, os.MkdirAll(filepath.Dir(p), f.mode|(f.mode>>2)&0o111) // who may read may enter
}

// Write writes one whole file of the folder.
func (f *Folder) Write(name string, data []byte) error {
	p, err := f.Path(name)
	if err != nil {
		return err
	}
	return os.WriteFile(p, data, f.mode)
}

// Commit puts the folder in place. Where the system can, the old and the new
// folder change places in one step, so that a reader, or a power cut, meets
// one or the other.
func (f *Folder) Commit() error {
	if f.done {
		return nil
	}
	err := os.Rename(f.temp, f.Target)
	if err != nil {
		if err = swap(f.temp, f.Target); err != nil {
			return fmt.Errorf("put %s in place: %w", f.Target, err)
		}
		if err := os.RemoveAll(f.temp); err != nil {
			return fmt.Errorf("remove the earlier output: %w", err)
		}
	}
	f.done = true
	return nil
}

// Discard removes what was written unless it was committed. It is meant for
// defer.
func (f *Folder) Discard() error {
	if f.done {
		return nil
	}
	f.done = true
	return os.RemoveAll(f.temp)
}

// replaceInSteps is the way for systems that cannot exchange two folders:
// between its two steps the earlier output stands beside the target, whole.
func replaceInSteps(temp, target string) error {
	old := target + ".earlier"
	if err := os.RemoveAll(old); err != nil {
		return err
	}
	if err := os.Rename(target, old); err != nil {
		return err
	}
	if err := os.Rename(temp, target); err != nil {
		return errors.Join(err, os.Rename(old, target))
	}
	return os.Rename(old, temp)
}
