package notebook

import (
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

var frontKeys = []string{"title", "subtitle", "author", "audience", "language", "log", "intake", "from", "to", "log_since",
	"year_begins", "hide_below", "hidden_before", "early_remake", "volume_repeatability", "girth_repeatability", "sock_thickness", "shift_dates", "paper", "print", "numbers", "dates", "in_short", "item_map"}

// The defaults of the front matter.
const (
	publicHideBelow    = 11 // hides 1 to 10
	defaultEarlyRemake = 90 // days
	leastShift         = 14 // days: whole weeks to either side
	mostShift          = 3650
)

// itemMaps are the reporting guidelines whose items can be mapped.
var itemMaps = []string{"strobe", "record", "squire"}

// months are those with which a lab's year may begin.
var months = []string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"}

var languageForm = regexp.MustCompile(`^[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*$`)

// parseFront reads the front matter and returns the index of the line after
// it.
func parseFront(path string, lines []string) (Front, int, Errors) {
	f := Front{Audience: Quality, Language: "en", EarlyRemakeDays: defaultEarlyRemake, Paper: "a4", Pos: map[string]Pos{}}
	start := 0
	for start < len(lines) && strings.TrimSpace(lines[start]) == "" {
		start++
	}
	if start == len(lines) || strings.TrimRight(lines[start], " \t") != "---" {
		at := Pos{path, min(start, len(lines)-1) + 1, 1}
		return f, 0, Errors{{Pos: at, Code: CodeNoFront,
			Text: "a notebook begins with front matter: a line of ---, settings such as title and log, and a line of ---"}}
	}
	open := Pos{path, start + 1, 1}
	end := start + 1
	for end < len(lines) {
		if l := strings.TrimRight(lines[end], " \t"); l == "---" || l == "..." {
			break
		}
		end++
	}
	if end == len(lines) {
		return f, 0, Errors{{Pos: open, Code: CodeUnterminated, Text: "the front matter is never closed: end it with a line of ---"}}
	}
	f.Pos[""] = open
	b := block{file: path, first: start + 2, lines: lines[start+1 : end]}
	root, err := parseYAML(b)
	if err != nil {
		return f, 0, Errors{err}
	}
	r := &reader{}
	readFront(r, &f, root)
	if _, ok := f.Pos["hide_below"]; !ok && f.Audience != Quality {
		f.HideBelow = publicHideBelow
	}
	if _, ok := f.Pos["print"]; !ok {
		f.Print = Full
		if f.Audience == Quality {
			f.Print = Short
		}
	}
	if p, ok := f.Pos["hidden_before"]; ok && f.HideBelow <= 1 {
		r.fail(p, CodeImpossible, "`hidden_before` holds this report against an earlier edition so that no small count is told, and this report hides none; add `hide_below`, or leave `hidden_before` out")
	}
	if f.Title == "" {
		base := filepath.Base(path)
		f.Title = strings.TrimSuffix(base, filepath.Ext(base))
	}
	if f.From != nil && f.To != nil && *f.From > *f.To {
		r.fail(f.Pos["from"], CodeImpossible, "`from` is later than `to`")
	}
	if f.LogSince != nil && f.To != nil && *f.LogSince > *f.To {
		r.fail(f.Pos["log_since"], CodeImpossible, "`log_since` is later than `to`")
	}
	if f.ShiftDates > 0 {
		for _, key := range []string{"from", "to", "log_since"} {
			if p, ok := f.Pos[key]; ok {
				r.fail(p, CodeImpossible, "`%s` is a day of the calendar, and `shift_dates` moves the dates of each person by days of their own, so that no row can be held against it; leave one of the two out", key)
			}
		}
	}
	if len(r.errs) > 0 {
		return f, 0, r.sorted()
	}
	return f, end + 1, nil
}

func readFront(r *reader, f *Front, root node) {
	for _, e := range root.entries {
		k, n := e.key, e.value
		if p, ok := f.Pos[k]; ok {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` stands on line %d already", k, p.Line)
			continue
		}
		switch k {
		case "title":
			f.Title = r.text(k, n)
		case "subtitle":
			f.Subtitle = r.text(k, n)
		case "author":
			f.Author = r.text(k, n)
		case "audience":
			f.Audience = Audience(r.word(k, n, []string{string(Quality), string(Research), string(Annual)}))
		case "language":
			if f.Language = r.text(k, n); f.Language != "" && !languageForm.MatchString(f.Language) {
				r.fail(n.pos, CodeBadValue, "`language` takes a language tag such as en or en-GB, not %q", f.Language)
			}
		case "log":
			for _, it := range r.list(k, n) {
				f.Log = append(f.Log, it.text)
			}
		case "intake":
			f.Intake = r.text(k, n)
		case "from":
			f.From = r.date(k, n)
		case "to":
			f.To = r.date(k, n)
		case "log_since":
			f.LogSince = r.date(k, n)
		case "year_begins":
			f.YearBegins = 1 + slices.Index(months, r.word(k, n, months))
		case "hide_below":
			f.HideBelow = r.whole(k, n, 0, 1000)
		case "hidden_before":
			for _, it := range r.list(k, n) {
				f.HiddenBefore = append(f.HiddenBefore, it.text)
			}
		case "early_remake":
			if d := r.duration(k, n); d != nil {
				f.EarlyRemakeDays = d.Days
			}
		case "shift_dates":
			if d := r.duration(k, n); d != nil {
				if f.ShiftDates = int(d.Days); f.ShiftDates < leastShift || f.ShiftDates > mostShift {
					r.fail(n.pos, CodeBadValue, "`shift_dates` takes from %dd to %dd, by which the dates of each person are moved at most, not %s", leastShift, mostShift, d.Text)
				}
			}
		case "volume_repeatability":
			f.VolumeRepeatability = r.percentage(k, n)
		case "girth_repeatability":
			f.GirthRepeatability = readGirthRepeatability(r, k, n)
		case "sock_thickness":
			f.SockThickness = readSockThickness(r, k, n)
		case "in_short":
			for _, it := range r.list(k, n) {
				f.InShort = append(f.InShort, Placed{it.text, it.pos})
			}
		case "item_map":
			for _, it := range r.list(k, n) {
				switch w := r.word(k, it, itemMaps); {
				case w == "":
				case slices.Contains(f.ItemMap, w):
					r.fail(it.pos, CodeBadValue, "`item_map` names %s twice", w)
				default:
					f.ItemMap = append(f.ItemMap, w)
				}
			}
		case "numbers":
			f.DecimalComma = r.word(k, n, []string{"point", "comma"}) == "comma"
		case "dates":
			f.Dates = r.word(k, n, []string{"day-first", "month-first", "year-first"})
		case "paper":
			f.Paper = r.word(k, n, []string{"a4", "letter"})
		case "print":
			f.Print = Print(r.word(k, n, []string{string(Short), string(Full), string(MainFirst)}))
		default:
			h, near := hint(k, frontKeys)
			r.failNear(e.keyPos, CodeUnknownKey, near, "the front matter has no key %q; %s", k, h)
			continue
		}
		f.Pos[k] = e.keyPos
	}
}

// column counts characters, not bytes.
func column(line string, byteOffset int) int {
	return utf8.RuneCountInString(line[:min(byteOffset, len(line))]) + 1
}
