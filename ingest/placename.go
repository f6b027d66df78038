package ingest

import "strings"

// where names a row for use in a problem of another row.
func (rec *record) where(from *record) string {
	col := 0
	for _, c := range rec.sheet.cols {
		if c >= 0 {
			col = c
			break
		}
	}
	return placeName(rec.sheet, from.sheet, cellName(col, rec.row()))
}

func (rec *record) cellAt(f int, from *record) string {
	if src := rec.from(f); src != nil {
		return src.cellAt(f, from)
	}
	col := rec.sheet.cols[f]
	if col < 0 {
		return rec.where(from)
	}
	return placeName(rec.sheet, from.sheet, cellName(col, rec.row()))
}

func placeName(at, from *sheetData, cell string) string {
	switch {
	case at == from:
		return cell
	case at.file == from.file && at.raw.name != "":
		return at.raw.name + "!" + cell
	}
	file := baseName(at.file)
	if file == baseName(from.file) && at.file != from.file { // 2024/visits.csv and 2025/visits.csv
		file = at.file
	}
	if at.raw.name != "" {
		return file + " " + at.raw.name + "!" + cell
	}
	return file + " " + cell
}

func baseName(path string) string {
	if i := strings.LastIndexAny(path, `/\`); i >= 0 {
		return path[i+1:]
	}
	return path
}
