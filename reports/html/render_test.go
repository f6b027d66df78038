package html

import (
	"bytes"
	"os"
	"testing"

	"plybook/reports/internal/specimen"
)

func TestLook(t *testing.T) {
	var b bytes.Buffer
	if err := Render(&b, specimen.Report(), Options{}); err != nil {
		t.Fatal(err)
	}
	os.WriteFile("/tmp/pt/r.html", b.Bytes(), 0o644)
}
