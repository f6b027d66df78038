// Package contact lays the figures of reports side by side on one page, so
// that many can be looked over at once: in colour, in grey, and as somebody
// sees them who cannot tell red from green. Beside figures of an earlier run
// it shows what has changed.
package contact

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Change is how a figure differs from the one of the same name before.
type Change string

// What may have become of a figure.
const (
	Same    Change = "as before"
	Altered Change = "changed"
	New     Change = "new"
	Gone    Change = "gone"
)

// Figure is a figure of a report, before and now.
type Figure struct {
	Report string // folder of the report
	Name   string
	Change Change // empty where nothing was compared
	Before []byte // SVG; nil: there was none
	Now    []byte // SVG; nil: there is none
}

// Collect reads the figures of report folders. Where before is not empty it
// is a folder of earlier reports with the same names, and each figure is
// compared with its earlier one byte by byte. Figures come in the order of
// the folders, then by name. A folder without figures is an error.
func Collect(folders []string, before string) ([]Figure, error) {
	var out []Figure
	for _, folder := range folders {
		now, err := read(folder)
		if err != nil {
			return nil, fmt.Errorf("reading the figures of %s: %w", folder, err)
		}
		if len(now) == 0 {
			return nil, fmt.Errorf("%s holds no figures/*.svg: it is no folder that plybook run has written", folder)
		}
		report := filepath.Base(filepath.Clean(folder))
		earlier := map[string][]byte{}
		if before != "" {
			earlier, err = read(filepath.Join(before, report))
			if err != nil && !errors.Is(err, fs.ErrNotExist) {
				return nil, fmt.Errorf("reading the earlier figures of %s: %w", report, err)
			}
		}
		names := make([]string, 0, len(now)+len(earlier))
		for name := range now {
			names = append(names, name)
		}
		for name := range earlier {
			if _, ok := now[name]; !ok {
				names = append(names, name)
			}
		}
		slices.Sort(names)
		for _, name := range names {
			f := Figure{Report: report, Name: name, Before: earlier[name], Now: now[name]}
			switch {
			case before == "":
			case f.Before == nil:
				f.Change = New
			case f.Now == nil:
				f.Change = Gone
			case bytes.Equal(f.Before, f.Now):
				f.Change = Same
			default:
				f.Change = Altered
			}
			out = append(out, f)
		}
	}
	return out, nil
}

func read(folder string) (map[string][]byte, error) {
	entries, err := os.ReadDir(filepath.Join(folder, "figures"))
	if err != nil {
		return nil, err
	}
	out := map[string][]byte{}
	for _, e := range entries {
		name, ok := strings.CutSuffix(e.Name(), ".svg")
		if !ok {
			continue
		}
		if out[name], err = os.ReadFile(filepath.Join(folder, "figures", e.Name())); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Sheet writes the page: one file without scripts that asks for nothing else.
// Figures that are as before stand once, changed ones beside the earlier.
func Sheet(w io.Writer, figures []Figure) error {
	type picture struct {
		Label string
		Src   template.URL
	}
	type shown struct {
		Figure
		Pictures []picture
	}
	data := struct {
		Figures []shown
		Counts  string
	}{}
	counts := map[Change]int{}
	for _, f := range figures {
		s := shown{Figure: f}
		counts[f.Change]++
		if f.Before != nil && f.Change != Same {
			s.Pictures = append(s.Pictures, picture{"before", source(f.Before)})
		}
		if f.Now != nil {
			label := ""
			if f.Change == Altered || f.Change == New {
				label = "now"
			}
			s.Pictures = append(s.Pictures, picture{label, source(f.Now)})
		}
		data.Figures = append(data.Figures, s)
	}
	var parts []string
	for _, c := range []Change{Altered, New, Gone, Same} {
		if n := counts[c]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, c))
		}
	}
	data.Counts = strings.Join(parts, ", ")
	if err := page.Execute(w, data); err != nil {
		return fmt.Errorf("writing the sheet of figures: %w", err)
	}
	return nil
}

func source(svg []byte) template.URL {
	return template.URL("data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(svg))
}

// The matrix shows colours to others as somebody without the pigment for
// green sees them: Machado, Oliveira and Fernandes (2009), A physiologically-
// based model for simulation of color vision deficiency, IEEE Transactions on
// Visualization and Computer Graphics 15:1291-1298, deuteranomaly of severity
// 1, on linear RGB (values from memory).
var page = template.Must(template.New("sheet").Parse(`<!DOCTYPE html>
<html lang="en-GB">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Figures</title>
<style>
body{font:14px/1.4 "Liberation Sans",Arial,sans-serif;color:#1f2428;background:#fff;margin:16px}
form{position:sticky;top:0;background:#fff;padding:8px 0;border-bottom:1px solid #d3d9dd;z-index:1}
label{margin-right:16px}
main{display:flex;flex-wrap:wrap;gap:18px;align-items:flex-start;padding-top:12px}
figure{margin:0;padding:8px;border:1px solid #d3d9dd;max-width:100%}
figcaption{margin-bottom:6px}
figcaption b{font-weight:bold}
.pair{display:flex;flex-wrap:wrap;gap:12px}
.pair p{margin:0;color:#555d64}
img{max-width:100%;height:auto;display:block}
body:has(#grey:checked) img{filter:grayscale(1)}
body:has(#deutan:checked) img{filter:url(#green-blind)}
body:has(#only:checked) figure.same{display:none}
</style>
</head>
<body>
<svg width="0" height="0" aria-hidden="true" style="position:absolute"><filter id="green-blind"><feColorMatrix type="matrix" values="0.367322 0.860646 -0.227968 0 0  0.280085 0.672501 0.047413 0 0  -0.011820 0.042940 0.968881 0 0  0 0 0 1 0"/></filter></svg>
<h1>Figures</h1>
<form>
<label><input type="radio" name="eyes" id="colour" checked> in colour</label>
<label><input type="radio" name="eyes" id="grey"> in grey</label>
<label><input type="radio" name="eyes" id="deutan"> without green (deuteranopia)</label>
{{if .Counts}}<label><input type="checkbox" id="only"> only what has changed</label> {{.Counts}}{{end}}
</form>
<main>
{{range .Figures}}<figure{{if eq .Change "as before"}} class="same"{{end}}>
<figcaption>{{.Report}} · <b>{{.Name}}</b>{{if .Change}} · {{.Change}}{{end}}</figcaption>
<div class="pair">{{$f := .}}{{range .Pictures}}<div>{{if .Label}}<p>{{.Label}}</p>{{end}}<img src="{{.Src}}" alt="{{$f.Name}}{{if .Label}}, {{.Label}}{{end}}"></div>{{end}}</div>
</figure>
{{end}}</main>
</body>
</html>
`))
