package html_test

import (
	"bytes"
	"fmt"
	"strings"

	"plybook/reports/document"
	"plybook/reports/html"
)

func ExampleRender() {
	doc := &document.Document{
		Title: "Fit review, third quarter",
		Blocks: []document.Block{
			document.Heading{Level: 1, Text: "First-time fit", ID: "first-fit"},
			document.Styled("lead", "Of 61 sockets, 47 (77%) were accepted at the first check fitting."),
		},
	}
	var b bytes.Buffer
	if err := html.Render(&b, doc, html.Options{}); err != nil {
		fmt.Println(err)
		return
	}
	_, body, _ := strings.Cut(b.String(), "<main")
	body, _, _ = strings.Cut(body, "</div>\n<script>")
	fmt.Print("<main" + body)
	// Output:
	// <main id="main">
	// <section aria-labelledby="first-fit">
	// <h2 id="first-fit"><span class="n">1</span> First-time fit</h2>
	// <p class="lead">Of 61 sockets, 47 (77%) were accepted at the first check fitting.</p>
	// </section>
	// </main>
}
