package cohort

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"plybook/analysis/table"
)

// The table of derived columns that readers of the project see is made from
// the registry. UPDATE=1 writes it anew.
func TestColumnsDocument(t *testing.T) {
	var b strings.Builder
	b.WriteString("# Derived columns\n\nWorked out from the log for the rows named. A column known only *later* than delivery\n" +
		"cannot explain what follows from delivery unless a landmark starts the clock later.\n\n" +
		"| column | unit | on rows | known | what it is |\n|---|---|---|---|---|\n")
	known := map[table.Known]string{table.AtStart: "at delivery", table.Later: "later", table.Always: "always"}
	for _, d := range Derived() {
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s | %s |\n", d.Name, d.Unit, strings.Join(d.Rows, ", "), known[d.Known], strings.ReplaceAll(d.Definition, "|", "\\|"))
	}
	const file = "COLUMNS.md"
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != b.String() {
		t.Errorf("%s is not what the registry says; run UPDATE=1 go test ./analysis/cohort -run ColumnsDocument", file)
	}
}
