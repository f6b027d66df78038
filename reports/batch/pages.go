package batch

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
)

// ErrNoPages reports that page images were asked for on a machine without
// the means to make them.
var ErrNoPages = errors.New("page images need pdftoppm (of the poppler utilities), which is not on this machine; leave out --pages or install it")

const pageDPI = "110"

// checkPages says early whether page images can be made.
func checkPages() error {
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		return ErrNoPages
	}
	return nil
}

// pages writes an image of each printed page as pages/N.png.
func (w *writer) pages(ctx context.Context) error {
	report, err := w.folder.Path("report.pdf")
	if err != nil {
		return err
	}
	first, err := w.folder.Path("pages/page.png")
	if err != nil {
		return err
	}
	dir := filepath.Dir(first)
	cmd := exec.CommandContext(ctx, "pdftoppm", "-png", "-r", pageDPI, report, filepath.Join(dir, "page"))
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("page images: %w: %s", err, out)
	}
	made, err := filepath.Glob(filepath.Join(dir, "page-*.png"))
	if err != nil {
		return err
	}
	sort.Strings(made)
	for i, m := range made {
		if err := os.Rename(m, filepath.Join(dir, fmt.Sprintf("%d.png", i+1))); err != nil {
			return err
		}
	}
	return nil
}
