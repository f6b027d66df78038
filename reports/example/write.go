// Package example invents a hospital's prosthetics lab, its log and its
// notebooks. Nothing in it is real: the people are codes, the sites do not
// exist, and every row is drawn from a Truth that is written down, so that
// the tool's answers can be held against what they should be.
package example

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
)

// Seed is the seed of the example as it is shipped.
const Seed = 2026

// ErrExists reports that a file of the example is there already. Nothing is
// written over: somebody may have worked on it.
var ErrExists = errors.New("file exists already")

//go:embed notebooks/*.md
var notebooks embed.FS

// Write writes the example into dir, which is made if it is not there: the
// messy log as workbooks in dir/log, and the notebooks quality.md,
// workshop.md, research.md and annual.md. The same seed gives the same bytes. If a file
// of the example exists it returns an error that is ErrExists and writes
// nothing; files appear whole or not at all.
func Write(ctx context.Context, dir string, seed uint64) error {
	files, err := Files(ctx, seed)
	if err != nil {
		return fmt.Errorf("making the example: %w", err)
	}
	for name := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if _, err := os.Lstat(path); err == nil {
			return fmt.Errorf("writing the example: %s: %w", path, ErrExists)
		} else if !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("writing the example: %w", err)
		}
	}
	if err := os.MkdirAll(filepath.Join(dir, "log"), 0o755); err != nil {
		return fmt.Errorf("writing the example: %w", err)
	}
	var done []string
	for _, name := range sortedNames(files) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		err := ctx.Err()
		if err == nil {
			err = writeWhole(path, files[name])
		}
		if err != nil {
			for _, p := range done {
				err = errors.Join(err, os.Remove(p))
			}
			return fmt.Errorf("writing the example: %w", err)
		}
		done = append(done, path)
	}
	return nil
}

// Files makes the example's files in memory: contents by name, relative to
// the example's folder, with slashes.
func Files(ctx context.Context, seed uint64) (map[string][]byte, error) {
	books, err := workbooks(ctx, messy(Draw(seed), seed))
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{}
	for _, f := range books {
		files[f.name] = f.data
	}
	entries, err := notebooks.ReadDir("notebooks")
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		data, err := notebooks.ReadFile("notebooks/" + e.Name())
		if err != nil {
			return nil, err
		}
		files[e.Name()] = data
	}
	return files, nil
}

func sortedNames(files map[string][]byte) []string {
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}

// writeWhole writes a file under another name first, so that a half-written
// one is never seen under its own.
func writeWhole(path string, data []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".writing-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	if _, err = f.Write(data); err != nil {
		return errors.Join(err, f.Close())
	}
	if err = f.Chmod(0o644); err != nil {
		return errors.Join(err, f.Close())
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
