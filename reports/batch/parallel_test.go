package batch

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
)

// withProcessors sets for one test how many jobs are done at a time.
func withProcessors(t *testing.T, n int) {
	t.Helper()
	was := runtime.GOMAXPROCS(n)
	t.Cleanup(func() { runtime.GOMAXPROCS(was) })
}

func TestEachBeginsInOrderAndDoesAll(t *testing.T) {
	withProcessors(t, 4)
	var begun []int
	squares := make([]int, 50)
	err := each(context.Background(), len(squares), func(i int) { begun = append(begun, i) }, func(i int) error {
		squares[i] = i * i
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.IsSorted(begun) || len(begun) != len(squares) {
		t.Errorf("jobs began in the order %v", begun)
	}
	for i, s := range squares {
		if s != i*i {
			t.Errorf("job %d was not done", i)
		}
	}
}

func TestEachNamesTheFirstFault(t *testing.T) {
	withProcessors(t, 4)
	for range 20 {
		done := 0
		err := each(context.Background(), 40, func(int) { done++ }, func(i int) error {
			switch i {
			case 2: // ends long after the fault that comes behind it
				time.Sleep(5 * time.Millisecond)
				return errors.New("fault of job 2")
			case 3:
				return errors.New("fault of job 3")
			}
			return nil
		})
		if err == nil || err.Error() != "fault of job 2" {
			t.Fatalf("got %v", err)
		}
	}
}

func TestEachStops(t *testing.T) {
	withProcessors(t, 2)
	ctx, cancel := context.WithCancel(context.Background())
	done := 0
	err := each(ctx, 1000, func(i int) {
		done++
		if i == 9 {
			cancel()
		}
	}, func(int) error { return nil })
	if !errors.Is(err, context.Canceled) || done > 11 {
		t.Errorf("%d jobs began, and the end was %v", done, err)
	}
}

func TestEachGivesAPanicAsAnError(t *testing.T) {
	err := each(context.Background(), 3, func(int) {}, func(i int) error {
		if i == 1 {
			var none []int
			_ = none[i]
		}
		return nil
	})
	if err == nil || !strings.Contains(err.Error(), "fault of the program") || !strings.Contains(err.Error(), "index out of range") {
		t.Errorf("got %v", err)
	}
}

// TestManyAtATimeWriteTheSame runs one notebook with one, two and four jobs at
// a time and compares every byte of the report folders.
func TestManyAtATimeWriteTheSame(t *testing.T) {
	dir, _ := exampleLog(t)
	var first map[string][]byte
	for _, n := range []int{1, 2, 4} {
		withProcessors(t, n)
		var told []string
		out := filepath.Join(t.TempDir(), "report")
		_, err := Run(context.Background(), Options{Notebook: filepath.Join(dir, "quality.md"), Out: out,
			Progress: func(step string, done, total int) { told = append(told, fmt.Sprint(step, done, total)) }})
		if err != nil {
			t.Fatal(err)
		}
		files := readFolder(t, out)
		files["what was told"] = []byte(strings.Join(told, "\n"))
		if first == nil {
			first = files
			continue
		}
		if len(files) != len(first) || len(files) < 20 {
			t.Errorf("%d at a time: %d files, one at a time: %d", n, len(files), len(first))
		}
		for name, b := range first {
			if !bytes.Equal(b, files[name]) {
				t.Errorf("%d at a time: %s has other bytes", n, name)
			}
		}
	}
}

func readFolder(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		out[filepath.ToSlash(rel)], err = os.ReadFile(path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
