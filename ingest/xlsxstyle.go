package ingest

import "strings"

// cellFormat is what a style number says about the cells that bear it.
type cellFormat struct {
	kind   cellKind // cellNumber, cellDate, cellMonthYear or cellTime
	struck bool     // the text is struck through
}

func (b *bookParts) loadStyles(part string) error {
	var styles struct {
		Formats []struct {
			ID   int    `xml:"numFmtId,attr"`
			Code string `xml:"formatCode,attr"`
		} `xml:"numFmts>numFmt"`
		Fonts []struct {
			Strike *struct {
				Val string `xml:"val,attr"`
			} `xml:"strike"`
		} `xml:"fonts>font"`
		Cells []struct {
			ID   int `xml:"numFmtId,attr"`
			Font int `xml:"fontId,attr"`
		} `xml:"cellXfs>xf"`
	}
	if err := b.decode(part, &styles); err != nil {
		return err
	}
	custom := map[int]string{}
	for _, f := range styles.Formats {
		custom[f.ID] = f.Code
	}
	for _, x := range styles.Cells {
		format := cellFormat{kind: builtinKind(x.ID)}
		if code, ok := custom[x.ID]; ok {
			format.kind = formatKind(code)
		}
		if x.Font >= 0 && x.Font < len(styles.Fonts) {
			strike := styles.Fonts[x.Font].Strike
			format.struck = strike != nil && strike.Val != "0" && !strings.EqualFold(strike.Val, "false")
		}
		b.formats = append(b.formats, format)
	}
	return nil
}

// isStruck says whether a style strikes its cells through.
func (b *bookParts) isStruck(style int) bool {
	return style >= 0 && style < len(b.formats) && b.formats[style].struck
}

// builtinKind knows the number formats that workbooks refer to by number
// alone (ECMA-376 part 1, 18.8.30).
func builtinKind(id int) cellKind {
	switch {
	case id == 17:
		return cellMonthYear
	case id >= 14 && id <= 16, id == 22, id >= 27 && id <= 31, id == 36, id >= 50 && id <= 54, id >= 57 && id <= 58:
		return cellDate
	case id >= 18 && id <= 21, id >= 32 && id <= 35, id >= 45 && id <= 47, id == 55, id == 56:
		return cellTime
	}
	return cellNumber
}

// formatKind reads a format code: quoted text, escaped characters, colours
// and conditions do not count.
func formatKind(code string) cellKind {
	var letters strings.Builder
	for i := 0; i < len(code); i++ {
		switch c := code[i]; c {
		case '"':
			if j := strings.IndexByte(code[i+1:], '"'); j >= 0 {
				i += j + 1
			}
		case '\\', '_', '*':
			i++
		case '[':
			j := strings.IndexByte(code[i:], ']')
			if j < 0 {
				continue
			}
			switch strings.ToLower(code[i+1 : i+j]) {
			case "h", "hh", "m", "mm", "s", "ss":
				letters.WriteByte('h')
			}
			i += j
		case ';':
			i = len(code)
		default:
			letters.WriteByte(c)
		}
	}
	s := strings.ToLower(letters.String())
	if strings.Contains(s, "general") || strings.ContainsAny(s, "0#?@") && !strings.ContainsAny(s, "ydhs") {
		return cellNumber
	}
	day, year, clock := strings.Contains(s, "d"), strings.Contains(s, "y"), strings.ContainsAny(s, "hs")
	switch {
	case day, year && clock:
		return cellDate
	case year:
		return cellMonthYear
	case clock:
		return cellTime
	case strings.Contains(s, "m"):
		return cellDate
	}
	return cellNumber
}
