package ingest

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// parse reads one cell of a row by the kind of its field.
func (r *reader) parse(rec *record, f int) {
	if rec.sheet.coded[f] != nil {
		r.parseCoded(rec, f)
		return
	}
	field := &rec.sheet.fields[f]
	c, text := rec.cell(f), rec.text(f)
	switch {
	case c.kind == cellNoValue && text == "":
		r.drop(rec, f, CodeFormulaNoValue, "a value", "the cell holds a formula whose result was not stored; open the workbook, let it calculate and save it")
		return
	case text == "":
		return
	case c.kind == cellError:
		r.drop(rec, f, CodeFormulaError, "a value", fmt.Sprintf("the cell holds the formula error %s", text))
		return
	}
	switch field.Kind {
	case KindID:
		r.parseID(rec, f)
	case KindText:
		rec.set(f, value{ok: !isMissing(text), text: r.plainText(rec, f)})
	case KindDate, KindYear:
		r.parseDate(rec, f)
	case KindTime:
		r.parseTime(rec, f)
	case KindNumber:
		r.parseNumber(rec, f)
	case KindWhole:
		r.parseWhole(rec, f)
	case KindScore:
		r.parseScore(rec, f)
	case KindWord, KindWords:
		r.parseWord(rec, f)
	case KindPly:
		r.parsePly(rec, f)
	}
}

// plainText is a cell's text; a true date is written as 2024-03-05, a true
// time as 14:30.
func (r *reader) plainText(rec *record, f int) string {
	text := strings.Join(strings.Fields(rec.text(f)), " ")
	if c := rec.cell(f); c.kind == cellDate || c.kind == cellMonthYear {
		if d, ok := rec.serial(f); ok {
			return d.String()
		}
	} else if c.kind == cellTime {
		return clockOf(text)
	}
	return text
}

func (r *reader) parseID(rec *record, f int) {
	c := rec.cell(f)
	text := c.text
	if !isTidy(text) {
		text = strings.Join(strings.Fields(text), " ")
	}
	if c.kind != cellText {
		rec.setText(f, text)
	}
	if isMissing(text) {
		rec.set(f, value{})
		return
	}
	switch c.kind {
	case cellDate, cellMonthYear, cellTime:
		r.drop(rec, f, CodeDamagedID, "an identifier stored as text", fmt.Sprintf("the spreadsheet turned the identifier into a date or time, so %s is not what was typed", r.quote(rec, f)))
		return
	case cellNumber:
		digits := strings.TrimLeft(text, "-0")
		if strings.ContainsAny(text, "eE") || len(strings.SplitN(digits, ".", 2)[0]) > 15 {
			if v, err := strconv.ParseFloat(text, 64); err == nil && v < 1e15 && v == float64(int64(v)) {
				text = strconv.FormatInt(int64(v), 10)
			} else {
				r.drop(rec, f, CodeDamagedID, "an identifier stored as text", "the identifier is stored as a number, of which a spreadsheet keeps 15 digits, so the rest is lost; type it as text")
				return
			}
		}
	}
	if f == 0 && ownID[rec.sheet.table] {
		rec.vals[f] = rec.store.keepAlone(text)
		return
	}
	rec.set(f, value{ok: true, text: text})
}

// ownID are the tables whose first field is the identifier of the row.
var ownID = map[string]bool{TableSockets: true, TableVisits: true}

func (r *reader) parseNumber(rec *record, f int) {
	field, c, text := &rec.sheet.fields[f], rec.cell(f), rec.text(f)
	want := "a number in " + unitPhrase(rec.sheet.units[f])
	if isMissing(text) {
		return
	}
	if c.kind == cellTime && (field.Unit == "h" || field.Unit == "min") { // 01:30 typed for a duration
		if v, _, err := readDigits(text, false); err == nil {
			v *= 24
			if field.Unit == "min" {
				v *= 60
			}
			r.setNumber(rec, f, v)
			return
		}
	}
	if c.kind == cellDate || c.kind == cellMonthYear || c.kind == cellBool || c.kind == cellTime {
		r.drop(rec, f, CodeBadNumber, want, r.quote(rec, f)+" is not a number; the spreadsheet has turned it into something else")
		return
	}
	n, err := parseNumber(text, rec.sheet.raw.commas)
	if err != nil {
		r.drop(rec, f, CodeBadNumber, want, r.quote(rec, f)+" is not a number")
		return
	}
	unit := rec.sheet.units[f]
	if n.unit != "" {
		if r.unitCells != nil {
			r.unitCells[f] = true
		}
		if _, ok := toUnit(1, n.unit, field.Unit); !ok {
			r.drop(rec, f, CodeBadUnit, want, fmt.Sprintf("%s has a unit of another quantity", r.quote(rec, f)))
			return
		}
		if rec.sheet.named[f] && n.unit != unit && !(n.unit == "m" && unit == "min") {
			r.keep(rec, f, CodeUnitClash, want, fmt.Sprintf("the header says %s but the cell says %s; the cell was believed", unitPhrase(unit), r.quote(rec, f)))
		}
		unit = n.unit
	}
	v, _ := toUnit(n.value, unit, field.Unit)
	if !r.setNumber(rec, f, v) {
		return
	}
	if n.approx != "" {
		r.keep(rec, f, CodeAboutNumber, want, fmt.Sprintf("%s is %s; it was read as %s", r.quote(rec, f), approxWords(n.approx), plain(n.value)))
	}
	if n.commas {
		r.keep(rec, f, CodeThousands, want, fmt.Sprintf("%s was read as %s", r.quote(rec, f), plain(n.value)))
	}
}

// setNumber stores a value in the field's unit if it is plausible.
func (r *reader) setNumber(rec *record, f int, v float64) bool {
	field := &rec.sheet.fields[f]
	if v >= field.Low && v <= field.High {
		rec.set(f, value{ok: true, num: v})
		return true
	}
	want := fmt.Sprintf("between %s and %s %s", plain(field.Low), plain(field.High), field.Unit)
	said := fmt.Sprintf("%s would be %s %s, which cannot be", r.quote(rec, f), plain(v), field.Unit)
	if strings.TrimSpace(rec.text(f)) == plain(v)+" "+field.Unit {
		said = r.quote(rec, f) + " cannot be" // the cell says its unit itself
	}
	r.drop(rec, f, CodeImplausible, strings.TrimSpace(want), said+r.suspect(rec, f, v))
	return false
}

// suspect names what would make an implausible value plausible: another unit
// than the one taken, or a slipped decimal point.
func (r *reader) suspect(rec *record, f int, v float64) string {
	field := &rec.sheet.fields[f]
	taken := rec.sheet.units[f]
	bare := v
	if back, ok := toUnit(1, taken, field.Unit); ok && field.Unit != "C" && back != 0 {
		bare = v / back
	}
	var likely []string
	for _, u := range append([]string{field.Unit}, unitsOf(field.Unit)...) {
		w, ok := toUnit(bare, u, field.Unit)
		if u == taken || u == "m" || !ok || w < field.Low || w > field.High {
			continue
		}
		if field.Low <= 0 && w < 5 { // a floor of nothing makes every smaller unit fit
			continue
		}
		likely = append(likely, unitPhrase(u))
	}
	switch {
	case len(likely) > 0:
		return "; is it in " + strings.Join(likely, " or ") + "?"
	case v > 0 && v*100 >= field.Low && v*100 <= field.High:
		return "; has the decimal point slipped?"
	case v > 0 && v/10 >= field.Low && v/10 <= field.High:
		return "; has a digit been typed twice, or the decimal point been lost?"
	}
	return ""
}

func (r *reader) parseWhole(rec *record, f int) {
	field, c, text := &rec.sheet.fields[f], rec.cell(f), rec.text(f)
	want := fmt.Sprintf("a whole number from %s to %s", plain(field.Low), plain(field.High))
	if isMissing(text) {
		return
	}
	v, approx, err := parseWhole(text, rec.sheet.raw.commas)
	switch {
	case err != nil || c.kind == cellDate || c.kind == cellMonthYear || c.kind == cellBool || c.kind == cellTime:
		r.drop(rec, f, CodeBadNumber, want, r.quote(rec, f)+" is not a whole number")
	case v < field.Low || v > field.High:
		r.drop(rec, f, CodeImplausible, want, fmt.Sprintf("%s is outside %s to %s", r.quote(rec, f), plain(field.Low), plain(field.High)))
	default:
		rec.set(f, value{ok: true, num: v})
		if approx != "" {
			r.keep(rec, f, CodeAboutNumber, want, fmt.Sprintf("%s is %s; it was read as %s", r.quote(rec, f), approxWords(approx), plain(v)))
		}
	}
}

const wantScore = "a comfort score from 0 to 10"

func (r *reader) parseScore(rec *record, f int) {
	c, text := rec.cell(f), rec.text(f)
	if isMissing(text) {
		return
	}
	restored := func(v float64, ok bool) bool {
		if ok {
			rec.set(f, value{ok: true, num: v})
			r.keep(rec, f, CodeScoreDate, wantScore, fmt.Sprintf("the spreadsheet turned a score out of 10 into a date (%s); it was read back as %s", r.quote(rec, f), plain(v)))
		}
		return ok
	}
	if c.kind == cellDate || c.kind == cellMonthYear {
		d, ok := rec.serial(f)
		if v, is := scoreFromDate(d); restored(v, ok && is) {
			return
		}
		r.drop(rec, f, CodeBadNumber, wantScore, "the spreadsheet turned the score into a date, "+r.quote(rec, f))
		return
	}
	text, words := cutWords(text)
	v, approx, err := parseScore(text, rec.sheet.raw.commas)
	switch {
	case err == nil && c.kind != cellBool && c.kind != cellTime:
		rec.set(f, value{ok: true, num: v})
		if words {
			r.keep(rec, f, CodeScoreWords, wantScore, fmt.Sprintf("words stand behind the score; it was read as %s and the words were left out", plain(v)))
		}
		if approx != "" {
			r.keep(rec, f, CodeAboutNumber, wantScore, fmt.Sprintf("%s is %s; it was read as %s", r.quote(rec, f), approxWords(approx), plain(v)))
		}
	case errors.Is(err, errScore):
		r.drop(rec, f, CodeComfortRange, wantScore, r.quote(rec, f)+" is outside 0 to 10")
	default:
		if lo, hi, ok := pairFromText(text); ok && (hi == 10 || lo == 10) && restored(float64(lo), true) {
			return
		}
		r.drop(rec, f, CodeBadNumber, wantScore, r.quote(rec, f)+" is not a score")
	}
}

func (r *reader) parseWord(rec *record, f int) {
	field, text := &rec.sheet.fields[f], rec.text(f)
	want := "one of: " + strings.Join(shortList(field.Words.Codes(), 16), ", ")
	matches, parts, ok := lookupWords(field.Words, rec.sheet.over[f], text)
	if !ok {
		if isMissing(text) {
			return
		}
		m := matches[0]
		sentence := fmt.Sprintf("%s is not a known %s", r.quote(rec, f), field.Words.Name())
		if len(splitWords(text)) > 1 && !r.hides(rec, f) {
			sentence = fmt.Sprintf("%q in %s is not a known %s", shorten(parts[0]), r.quote(rec, f), field.Words.Name())
		}
		switch {
		case m.Hint != "":
			sentence += "; " + m.Hint
		case m.Nearest != "":
			sentence += fmt.Sprintf("; is it %q?", m.Nearest)
		}
		r.drop(rec, f, CodeUnknownWord, want, sentence)
		rec.setText(f, text)
		return
	}
	v := value{ok: true, code: matches[0].Code, text: text}
	for i, m := range matches {
		v.more = append(v.more, Coded{Code: m.Code, Text: parts[i]})
	}
	rec.set(f, v)
	for i, m := range matches {
		switch m.How {
		case Near:
			r.keep(rec, f, CodeSpelling, want, fmt.Sprintf("%q was read as %q (%s; certainty %.0f%%)", shorten(parts[i]), m.Code, m.Why, 100*m.Certainty))
		case Doubtful:
			r.keep(rec, f, CodeDoubtfulWord, want, fmt.Sprintf("%q was read as %q but could mean something else; please write the code", shorten(parts[i]), m.Code))
		}
	}
	if field.Kind == KindWord && (len(matches) == 1 || field.Name != "end_reason") {
		v.more = nil
		rec.set(f, v)
	}
	if len(matches) > 1 && field.Kind == KindWord {
		also := ""
		if field.Name == "end_reason" {
			also = " (bars by end_reasons count them all)"
		}
		r.keep(rec, f, CodeSeveralWords, want, fmt.Sprintf("%s names more than one; the first, %q, is counted%s", r.quote(rec, f), matches[0].Code, also))
	}
}

const wantPly = "sock ply such as 5 or 5+3"

func (r *reader) parsePly(rec *record, f int) {
	c, text := rec.cell(f), rec.text(f)
	if isMissing(text) {
		return
	}
	restore := func(lo, hi int) {
		p := Ply{Total: float64(lo+hi) / 2, Text: text}
		rec.set(f, value{ok: true, ply: &p, text: text})
		r.keep(rec, f, CodePlyDate, wantPly, fmt.Sprintf("the spreadsheet turned the ply into a date (%s); it was read back as the range %d-%d and its middle, %s, is used", r.quote(rec, f), lo, hi, plain(p.Total)))
	}
	if c.kind == cellDate || c.kind == cellMonthYear {
		if d, ok := rec.serial(f); ok {
			if lo, hi, ok := pairFromDate(d, c.kind == cellMonthYear); ok {
				restore(lo, hi)
				return
			}
		}
		what := "the spreadsheet turned the ply into a date"
		if c.kind == cellMonthYear {
			what = "the cell holds a month, of which no ply can be told"
		}
		r.drop(rec, f, CodeBadPly, wantPly, what+", "+r.quote(rec, f))
		return
	}
	if c.kind == cellNumber { // the day number of a date whose format was taken away
		if v, _, err := readDigits(text, false); err == nil && v == math.Trunc(v) && v >= 36526 && v < 73051 {
			d, _, ok := serialDate(v, rec.sheet.raw.date1904)
			if lo, hi, pair := pairFromDate(d, false); ok && pair {
				restore(lo, hi)
				return
			}
		}
	}
	p, flag, err := parsePly(text)
	if err != nil || c.kind == cellBool || c.kind == cellTime {
		if lo, hi, ok := pairFromText(text); ok && hi <= mostRange {
			restore(lo, hi)
			return
		}
		switch {
		case errors.Is(err, errSocks):
			r.drop(rec, f, CodeBadPly, wantPly, r.quote(rec, f)+" says how many socks but not their ply")
		case errors.Is(err, errPlies):
			r.drop(rec, f, CodeBadPly, wantPly, fmt.Sprintf("%s is more than %d ply", r.quote(rec, f), maxPly))
		default:
			r.drop(rec, f, CodeBadPly, wantPly, r.quote(rec, f)+" is not a sock ply")
		}
		return
	}
	rec.set(f, value{ok: true, ply: &p, text: text})
	switch flag {
	case plyRange:
		r.keep(rec, f, CodePlyRange, wantPly, fmt.Sprintf("%s is a range; its middle, %s, is used", r.quote(rec, f), plain(p.Total)))
	case plyAMPM:
		r.keep(rec, f, CodePlyMorning, wantPly, fmt.Sprintf("%s gives morning and evening; the later one, %s, is used", r.quote(rec, f), plain(p.Total)))
	case plyComma:
		r.keep(rec, f, CodePlyList, wantPly, fmt.Sprintf("%s was read as socks of %s ply, together %s", r.quote(rec, f), plainList(p.Socks), plain(p.Total)))
	case plyApprox:
		r.keep(rec, f, CodePlyAbout, wantPly, fmt.Sprintf("%s is not exact; it was read as %s", r.quote(rec, f), plain(p.Total)))
	}
}
