package batch

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
)

// BenchmarkRun does the whole job, from the workbooks of the example to the
// report folder, for each of its notebooks and both papers.
func BenchmarkRun(b *testing.B) {
	dir, _ := exampleLog(b)
	for _, name := range []string{"annual", "quality", "research", "workshop"} {
		src, err := os.ReadFile(filepath.Join(dir, name+".md"))
		if err != nil {
			b.Fatal(err)
		}
		for _, paper := range []string{"a4", "letter"} {
			book := filepath.Join(dir, name+"-"+paper+".md")
			set := bytes.Replace(src, []byte("---\n"), []byte("---\npaper: "+paper+"\n"), 1)
			if err := os.WriteFile(book, set, 0o600); err != nil {
				b.Fatal(err)
			}
			b.Run(name+"/"+paper, func(b *testing.B) {
				for b.Loop() {
					if _, err := Run(context.Background(), Options{Notebook: book, Out: filepath.Join(b.TempDir(), "report")}); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
