package pdf

import (
	"bytes"
	"os"
	"testing"

	"plybook/reports/internal/specimen"
)

func render(t testing.TB, o Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Render(&b, specimen.Report(), o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestLook(t *testing.T) {
	os.WriteFile("/tmp/pt/r.pdf", render(t, Options{}), 0o644)
	os.WriteFile("/tmp/pt/l.pdf", render(t, Options{Paper: Letter}), 0o644)
}
