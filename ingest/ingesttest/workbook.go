package ingesttest

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// The formats of cells, as places in the list of styles. Struck-through cells
// have the format struckFrom further on.
const (
	general = iota
	shownDate
	shownTime
	shownMonth
	shownMoment
	struckFrom
)

const styles = `<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><fonts count="2"><font><sz val="11"/><name val="Calibri"/></font><font><strike/><sz val="11"/><name val="Calibri"/></font></fonts><fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills><borders count="1"><border/></borders><cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs><cellXfs count="10">%s</cellXfs></styleSheet>`

// numberFormats are the built-in formats behind general, shownDate and so on.
var numberFormats = []int{0, 14, 20, 17, 22}

// workbook writes sheets as a workbook, without a library for workbooks, so
// that what is tested does not write its own questions.
func workbook(sheets []Sheet) ([]byte, error) {
	var buf bytes.Buffer
	z := zip.NewWriter(&buf)
	put := func(name, text string) error {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
		if err == nil {
			_, err = w.Write([]byte(xml.Header + text))
		}
		return err
	}
	const main, rel = "http://schemas.openxmlformats.org/spreadsheetml/2006/main", "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	const kind, pack = "application/vnd.openxmlformats-officedocument.spreadsheetml.", "http://schemas.openxmlformats.org/package/2006/"
	types := `<Override PartName="/xl/workbook.xml" ContentType="` + kind + `sheet.main+xml"/><Override PartName="/xl/styles.xml" ContentType="` + kind + `styles+xml"/>`
	list, rels, date1904 := "", "", false
	parts := map[string]string{}
	var order []string
	add := func(name, text string) { parts[name], order = text, append(order, name) }
	for _, s := range sheets {
		date1904 = date1904 || slices.Contains(s.About, "1904")
	}
	for i, s := range sheets {
		n := i + 1
		text, comments, hidden, err := sheetXML(s, date1904)
		if err != nil {
			return nil, fmt.Errorf("sheet %s: %w", s.Name, err)
		}
		state := ""
		if hidden {
			state = ` state="hidden"`
		}
		list += fmt.Sprintf(`<sheet name="%s" sheetId="%d"%s r:id="rId%d"/>`, escape(s.Name), n, state, n)
		rels += fmt.Sprintf(`<Relationship Id="rId%d" Type="%s/worksheet" Target="worksheets/sheet%d.xml"/>`, n, rel, n)
		types += fmt.Sprintf(`<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="%sworksheet+xml"/>`, n, kind)
		add(fmt.Sprintf("xl/worksheets/sheet%d.xml", n), `<worksheet xmlns="`+main+`">`+text+`</worksheet>`)
		if comments != "" {
			types += fmt.Sprintf(`<Override PartName="/xl/comments%d.xml" ContentType="%scomments+xml"/>`, n, kind)
			add(fmt.Sprintf("xl/comments%d.xml", n), `<comments xmlns="`+main+`"><authors><author>lab</author></authors><commentList>`+comments+`</commentList></comments>`)
			add(fmt.Sprintf("xl/worksheets/_rels/sheet%d.xml.rels", n), fmt.Sprintf(`<Relationships xmlns="%srelationships"><Relationship Id="rId1" Type="%s/comments" Target="../comments%d.xml"/></Relationships>`, pack, rel, n))
		}
	}
	xfs := ""
	for font := range 2 {
		for _, f := range numberFormats {
			xfs += fmt.Sprintf(`<xf numFmtId="%d" fontId="%d" fillId="0" borderId="0" xfId="0" applyNumberFormat="1" applyFont="1"/>`, f, font)
		}
	}
	properties := ""
	if date1904 {
		properties = `<workbookPr date1904="true"/>`
	}
	add("xl/styles.xml", fmt.Sprintf(styles, xfs))
	add("xl/workbook.xml", `<workbook xmlns="`+main+`" xmlns:r="`+rel+`">`+properties+`<sheets>`+list+`</sheets></workbook>`)
	add("xl/_rels/workbook.xml.rels", `<Relationships xmlns="`+pack+`relationships">`+rels+fmt.Sprintf(`<Relationship Id="rId%d" Type="%s/styles" Target="styles.xml"/></Relationships>`, len(sheets)+1, rel))
	add("_rels/.rels", `<Relationships xmlns="`+pack+`relationships"><Relationship Id="rId1" Type="`+rel+`/officeDocument" Target="xl/workbook.xml"/></Relationships>`)
	add("[Content_Types].xml", `<Types xmlns="`+pack+`content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>`+types+`</Types>`)
	for _, name := range order {
		if err := put(name, parts[name]); err != nil {
			return nil, err
		}
	}
	err := z.Close()
	return buf.Bytes(), err
}

func escape(s string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(s)); err != nil { // a buffer takes everything
		return ""
	}
	return b.String()
}

// sheetXML is the inside of a sheet's part.
func sheetXML(s Sheet, date1904 bool) (text, comments string, hidden bool, err error) {
	var rows, cols, merges, filter string
	hiddenRow, struck := map[int]bool{}, map[string]bool{}
	nMerges := 0
	for _, line := range s.About {
		word, rest, _ := strings.Cut(line, " ")
		what, place, _ := strings.Cut(rest, " ")
		switch {
		case word == "1904":
		case word == "merge":
			merges += `<mergeCell ref="` + rest + `"/>`
			nMerges++
		case word == "filter":
			filter = `<autoFilter ref="` + rest + `"><filterColumn colId="0"><filters><filter val="x"/></filters></filterColumn></autoFilter>`
		case word == "hide" && rest == "sheet":
			hidden = true
		case word == "hide" && what == "row":
			from, to, several := strings.Cut(place, "-")
			if !several {
				to = from
			}
			a, err1 := strconv.Atoi(from)
			b, err2 := strconv.Atoi(to)
			if err1 != nil || err2 != nil {
				return "", "", false, fmt.Errorf("%q names no rows", line)
			}
			for ; a <= b; a++ {
				hiddenRow[a] = true
			}
		case word == "hide" && what == "column":
			c := columnNumber(place)
			cols += fmt.Sprintf(`<col min="%d" max="%d" width="9" hidden="1" customWidth="1"/>`, c, c)
		case word == "struck":
			from, to, ok := strings.Cut(rest, ":")
			if !ok {
				to = from
			}
			c1, r1 := splitCell(from)
			c2, r2 := splitCell(to)
			for r := r1; r <= r2; r++ {
				for c := c1; c <= c2; c++ {
					struck[columnLetters(c)+strconv.Itoa(r)] = true
				}
			}
		case word == "comment":
			comments += `<comment ref="` + what + `" authorId="0"><text><t>` + escape(place) + `</t></text></comment>`
		default:
			return "", "", false, fmt.Errorf("%q says nothing known", line)
		}
	}
	for i, row := range s.Rows {
		cells := ""
		for c, t := range row {
			at := columnLetters(c+1) + strconv.Itoa(i+1)
			x, err := cellXML(at, t, struck[at], date1904)
			if err != nil {
				return "", "", false, fmt.Errorf("%s: %w", at, err)
			}
			cells += x
		}
		hide := ""
		if hiddenRow[i+1] {
			hide = ` hidden="1"`
		}
		if cells != "" || hide != "" {
			rows += fmt.Sprintf(`<row r="%d"%s>%s</row>`, i+1, hide, cells)
		}
	}
	if cols != "" {
		text = "<cols>" + cols + "</cols>"
	}
	text += "<sheetData>" + rows + "</sheetData>" + filter
	if merges != "" {
		text += fmt.Sprintf(`<mergeCells count="%d">%s</mergeCells>`, nMerges, merges)
	}
	return text, comments, hidden, nil
}

func cellXML(at, t string, struck, date1904 bool) (string, error) {
	style := func(n int) string {
		if struck {
			n += struckFrom
		}
		if n == general {
			return ""
		}
		return fmt.Sprintf(` s="%d"`, n)
	}
	number := func(n int, v float64) string {
		return `<c r="` + at + `"` + style(n) + `><v>` + digits(v) + `</v></c>`
	}
	kind, rest, typed := strings.Cut(t, ":")
	if typed {
		layouts := map[string]struct {
			layout string
			style  int
		}{"date": {"2006-01-02", shownDate}, "month": {"2006-01-02", shownMonth}, "moment": {"2006-01-02 15:04", shownMoment}, "time": {"15:04", shownTime}}
		if l, ok := layouts[kind]; ok {
			d, err := time.Parse(l.layout, rest)
			if err != nil {
				return "", err
			}
			from := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
			if date1904 {
				from = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
			}
			days := float64(d.Unix()-from.Unix()) / 86400 // a Duration ends after 292 years
			if kind == "time" {
				days = float64(d.Hour()*60+d.Minute()) / 1440
			}
			return number(l.style, math.Round(days*1e9)/1e9), nil
		}
		switch kind {
		case "number":
			v, err := strconv.ParseFloat(rest, 64)
			return number(general, v), err
		case "error":
			return `<c r="` + at + `" t="e"` + style(general) + `><v>` + escape(rest) + `</v></c>`, nil
		case "formula":
			return `<c r="` + at + `"` + style(general) + `><f>` + escape(rest) + `</f></c>`, nil
		case "is":
			v, f, _ := strings.Cut(rest, "=")
			kind := ""
			if _, err := strconv.ParseFloat(v, 64); err != nil {
				kind = ` t="str"`
			}
			return `<c r="` + at + `"` + kind + style(general) + `><f>` + escape(f) + `</f><v>` + escape(v) + `</v></c>`, nil
		case "text":
			t = rest
		}
	}
	if kind != "text" || !typed {
		if v, err := strconv.ParseFloat(t, 64); err == nil && !strings.ContainsAny(t, "naNxX") {
			return number(general, v), nil
		}
	}
	if t == "" {
		if struck {
			return `<c r="` + at + `"` + style(general) + `/>`, nil
		}
		return "", nil
	}
	return `<c r="` + at + `" t="inlineStr"` + style(general) + `><is><t xml:space="preserve">` + escape(t) + `</t></is></c>`, nil
}

// digits writes a number as spreadsheets store it.
func digits(v float64) string {
	if math.Abs(v) < 1e15 {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return strconv.FormatFloat(v, 'E', -1, 64)
}

func columnNumber(letters string) int {
	n := 0
	for _, r := range letters {
		n = n*26 + int(r-'A') + 1
	}
	return n
}

func columnLetters(n int) string {
	s := ""
	for ; n > 0; n = (n - 1) / 26 {
		s = string(rune('A'+(n-1)%26)) + s
	}
	return s
}

func splitCell(at string) (col, row int) {
	letters := strings.TrimRight(at, "0123456789")
	row, err := strconv.Atoi(at[len(letters):])
	if err != nil {
		return 0, 0 // an empty range
	}
	return columnNumber(letters), row
}
