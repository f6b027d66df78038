package pdf_test

import (
	"bytes"
	"fmt"

	"plybook/reports/document"
	"plybook/reports/pdf"
)

func ExampleRender() {
	doc := &document.Document{
		Title:    "Fit review, third quarter",
		Language: "en-GB",
		Date:     "2026-09-30",
		Blocks: []document.Block{
			document.Heading{Level: 1, Text: "First-time fit", ID: "first-fit"},
			document.Styled("lead", "Of 61 sockets, 47 (77%) were accepted at the first check fitting."),
		},
	}
	var b bytes.Buffer
	if err := pdf.Render(&b, doc, pdf.Options{Paper: pdf.A4}); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s\n", b.Bytes()[:4])
	// Output: %PDF
}
