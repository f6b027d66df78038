package numbers

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"sort"
	"strings"
	"time"
	"unicode/utf16"

	"github.com/xuri/excelize/v2"

	"plybook/reports/answer"
)

// styles are the numbers under which the workbook keeps its formats.
type styles struct {
	title, head, headRight, text, wrap, quiet, bold, link, withheld int
	count, countBold, date, truth                                   int
	fixed4, fixed1, power, whole, days                              int
}

func newStyles(f *excelize.File) (styles, error) {
	const family = "Liberation Sans"
	font := func(change func(*excelize.Font)) *excelize.Font {
		ft := &excelize.Font{Family: family, Size: 10, Color: "222222"}
		if change != nil {
			change(ft)
		}
		return ft
	}
	format := func(code string) *excelize.Style {
		return &excelize.Style{Font: font(nil), CustomNumFmt: &code, Alignment: &excelize.Alignment{Vertical: "top"}}
	}
	top := &excelize.Alignment{Vertical: "top"}
	rule := []excelize.Border{{Type: "bottom", Color: "888888", Style: 1}}
	shade := excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"F3F3F3"}}
	bold := func(ft *excelize.Font) { ft.Bold = true }
	var st styles
	thousands := "#,##0"
	for _, s := range []struct {
		to    *int
		style *excelize.Style
	}{
		{&st.title, &excelize.Style{Font: font(func(ft *excelize.Font) { ft.Bold, ft.Size = true, 14 })}},
		{&st.head, &excelize.Style{Font: font(bold), Border: rule, Fill: shade}},
		{&st.headRight, &excelize.Style{Font: font(bold), Border: rule, Fill: shade, Alignment: &excelize.Alignment{Horizontal: "right"}}},
		{&st.text, &excelize.Style{Font: font(nil), Alignment: top}},
		{&st.wrap, &excelize.Style{Font: font(nil), Alignment: &excelize.Alignment{Vertical: "top", WrapText: true}}},
		{&st.quiet, &excelize.Style{Font: font(func(ft *excelize.Font) { ft.Color = "555555" })}},
		{&st.bold, &excelize.Style{Font: font(bold)}},
		{&st.link, &excelize.Style{Font: font(func(ft *excelize.Font) { ft.Color, ft.Underline = "0072B2", "single" }), Alignment: top}},
		{&st.withheld, &excelize.Style{Font: font(func(ft *excelize.Font) { ft.Color, ft.Italic = "555555", true }), Alignment: &excelize.Alignment{Horizontal: "right", Vertical: "top"}}},
		{&st.count, format(thousands)},
		{&st.countBold, &excelize.Style{Font: font(bold), CustomNumFmt: &thousands}},
		{&st.date, format("yyyy-mm-dd")},
		{&st.truth, format("General")},
		{&st.fixed4, format("0.0000")},
		{&st.fixed1, format("#,##0.0")},
		{&st.power, format("0.00E+00")},
		{&st.whole, format("0")},
		{&st.days, format("0.00")},
	} {
		id, err := f.NewStyle(s.style)
		if err != nil {
			return st, fmt.Errorf("making the formats: %w", err)
		}
		*s.to = id
	}
	return st, nil
}

// of picks the format of a value: the value itself is kept whole.
func (st styles) of(c answer.Column, v any) int {
	switch x := v.(type) {
	case time.Time:
		return st.date
	case string:
		return st.text
	case bool:
		return st.truth
	case int:
		return st.count
	case float64:
		a := math.Abs(x)
		switch {
		case x == math.Trunc(x) && a < 1e9:
			return st.whole
		case a >= 1e9 || a < 1e-3:
			return st.power
		case c.Name == "time" || a >= 100 || strings.HasSuffix(c.Name, "percent"):
			if a >= 1000 {
				return st.fixed1
			}
			return st.days
		}
		return st.fixed4
	}
	return st.text
}

// sheetNames gives each sheet a name that is legal and taken once.
type sheetNames struct{ taken map[string]bool }

func newSheetNames() *sheetNames {
	return &sheetNames{taken: map[string]bool{"history": true}} // kept by spreadsheet programs for themselves
}

// contentsName is the name of the first sheet.
const contentsName = "Contents"

// Sheets are the names of the sheets of answers in numbers.xlsx, by their ids
// in order.
func Sheets(ids []string) []string {
	names := newSheetNames()
	names.take(contentsName)
	names.take(chartsName)
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = names.take(id)
	}
	return out
}

// take makes a name of at most 31 units of UTF-16 out of any text.
func (s *sheetNames) take(want string) string {
	name := strings.Map(func(r rune) rune {
		if strings.ContainsRune(`:\/?*[]`, r) || r < 0x20 {
			return '-'
		}
		return r
	}, strings.ToValidUTF8(want, "-"))
	name = strings.Trim(strings.TrimSpace(name), "'")
	if name == "" {
		name = "answer"
	}
	for n := 1; ; n++ {
		end := ""
		if n > 1 {
			end = fmt.Sprintf("~%d", n)
		}
		try := strings.Trim(cutUnits(name, 31-len(end)), "' ") + end
		if key := strings.ToLower(try); !s.taken[key] {
			s.taken[key] = true
			return try
		}
	}
}

func cutUnits(s string, most int) string {
	n := 0
	for i, r := range s {
		n += utf16.RuneLen(r)
		if n > most {
			return s[:i]
		}
	}
	return s
}

// settleZip writes an archive anew with its parts in fixed order and with
// one fixed time, so that the bytes depend on the content alone, and puts
// the exact numbers in their cells.
func settleZip(data []byte, exact map[string]map[string]string) ([]byte, error) {
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("reading the archive back: %w", err)
	}
	files := append([]*zip.File(nil), r.File...)
	// The list of content types comes first, as readers expect.
	rank := func(name string) string {
		if name == "[Content_Types].xml" {
			return ""
		}
		return name
	}
	sort.SliceStable(files, func(a, b int) bool { return rank(files[a].Name) < rank(files[b].Name) })
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range files {
		if err := copyPart(w, f, exact[f.Name]); err != nil {
			return nil, fmt.Errorf("part %s of the archive: %w", f.Name, err)
		}
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("closing the archive: %w", err)
	}
	return out.Bytes(), nil
}

func copyPart(w *zip.Writer, f *zip.File, exact map[string]string) error {
	part, err := f.Open()
	if err != nil {
		return err
	}
	defer part.Close()
	to, err := w.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Deflate, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		return err
	}
	if f.Name == "[Content_Types].xml" {
		list, err := io.ReadAll(part)
		if err != nil {
			return err
		}
		_, err = to.Write(inOrder(list))
		return err
	}
	if len(exact) == 0 {
		_, err = io.Copy(to, part)
		return err
	}
	sheet, err := io.ReadAll(part)
	if err != nil {
		return err
	}
	out, n := putExact(sheet, exact)
	if n != len(exact) {
		return fmt.Errorf("%d of %d exact numbers found their cell", n, len(exact))
	}
	_, err = to.Write(out)
	return err
}

var defaultType = regexp.MustCompile(`<Default [^>]*>(</Default>)?`)

// inOrder sorts the default types of the list of content types, which come in
// any order.
func inOrder(list []byte) []byte {
	all := defaultType.FindAll(list, -1)
	sorted := make([][]byte, len(all))
	copy(sorted, all)
	slices.SortFunc(sorted, bytes.Compare)
	k := -1
	return defaultType.ReplaceAllFunc(list, func([]byte) []byte {
		k++
		return sorted[k]
	})
}

// putExact replaces the values of the cells named. Text in a sheet is
// escaped, so a cell's opening tag is found only where a cell begins.
func putExact(sheet []byte, exact map[string]string) ([]byte, int) {
	opening, value, end := []byte(`<c r="`), []byte("<v>"), []byte("</v>")
	var out bytes.Buffer
	out.Grow(len(sheet) + 4*len(exact))
	n := 0
	for {
		i := bytes.Index(sheet, opening)
		if i < 0 {
			break
		}
		i += len(opening)
		out.Write(sheet[:i])
		sheet = sheet[i:]
		q := bytes.IndexByte(sheet, '"')
		if q < 0 {
			break
		}
		text, ok := exact[string(sheet[:q])]
		if !ok {
			continue
		}
		from, to := bytes.Index(sheet, value), bytes.Index(sheet, end)
		if from < 0 || to < from {
			continue
		}
		out.Write(sheet[:from+len(value)])
		out.WriteString(text)
		sheet = sheet[to:]
		n++
	}
	out.Write(sheet)
	return out.Bytes(), n
}
