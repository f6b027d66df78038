package study

import (
	"errors"
	"regexp"
	"slices"
	"strings"

	"plybook/ingest"
	"plybook/reports/notebook"
)

// ErrNoShift is returned where dates are to be shifted and a person has no
// shift yet.
var ErrNoShift = errors.New("no shift of dates is drawn yet for some person of the log")

// shifts are the days by which the dates of each person of a log of codes are
// moved; nil where the notebook does not ask for it.
func shifts(f notebook.Front, log *ingest.Log, codes *ingest.Codes) (map[string]float64, error) {
	if f.ShiftDates == 0 {
		return nil, nil
	}
	if codes == nil {
		return nil, ErrNoShift
	}
	out := map[string]float64{}
	for _, p := range Persons(log) {
		days := codes.Shift[p]
		if days == 0 || days > f.ShiftDates || -days > f.ShiftDates {
			return nil, ErrNoShift
		}
		out[p] = float64(days)
	}
	return out, nil
}

// A date within a text is written with three numbers, or with the name of a
// month and a year or a day; a year alone stays.
const months = `(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)`

var dateInText = regexp.MustCompile(`(?i)\b(?:` + strings.Join([]string{
	`\d{4}[-/.]\d{1,2}(?:[-/.]\d{1,2})?`,
	`\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})`,
	`\d{1,2}[-/.]\d{4}`,
	`\d{1,2}(?:st|nd|rd|th)?[ \-/.]*(?:of )?` + months + `\b[ ,.\-/]*(?:'?\d{2,4}\b)?`,
	months + `[ .\-/]*\d{1,2}(?:st|nd|rd|th)?\b(?:[ ,]+'?\d{4}\b)?`,
	months + `[ .,\-/]*'?\d{2,4}\b`,
	`20\d{6}`,
}, "|") + `)`)

// WithoutDates puts "(date)" in the place of every date in a text of the
// lab's own. A year alone stays.
func WithoutDates(text string) string {
	if !strings.ContainsAny(text, "0123456789") {
		return text
	}
	return strings.TrimSpace(dateInText.ReplaceAllString(text, "(date)"))
}

// undated is a log whose free texts hold no date: a date that is typed into a
// word of the lab's own would not be moved with the others.
func undated(log *ingest.Log) *ingest.Log {
	out := *log
	clean := func(texts ...*string) {
		for _, t := range texts {
			*t = WithoutDates(*t)
		}
	}
	out.Limbs = slices.Clone(log.Limbs)
	for i := range out.Limbs {
		clean(&out.Limbs[i].Programme)
	}
	out.Sockets = slices.Clone(log.Sockets)
	for i := range out.Sockets {
		s := &out.Sockets[i]
		clean(&s.CastMethod, &s.ShapeStyle, &s.Material, &s.Suspension, &s.Site)
	}
	out.Stations = slices.Clone(log.Stations)
	for i := range out.Stations {
		clean(&out.Stations[i].Landmark, &out.Stations[i].Repeat)
	}
	out.Forming = slices.Clone(log.Forming)
	for i := range out.Forming {
		clean(&out.Forming[i].SheetMaterial, &out.Forming[i].Result)
	}
	out.Own = map[string][]ingest.OwnColumn{}
	for table, columns := range log.Own {
		for _, o := range columns {
			if o.Kind == ingest.OwnNumber && DayNumbers(o) {
				o.OK = make([]bool, len(o.OK))
			}
			if o.Kind == ingest.OwnText {
				o.Text = slices.Clone(o.Text)
				for i := range o.Text {
					clean(&o.Text[i])
				}
			}
			out.Own[table] = append(out.Own[table], o)
		}
	}
	return &out
}

// DayNumbers says whether the numbers of an own column are days such as
// 20240305.
func DayNumbers(o ingest.OwnColumn) bool {
	n, days := 0, 0
	for i, v := range o.Num {
		if !o.OK[i] {
			continue
		}
		n++
		day := int(v)
		if _, ok := ingest.NewDate(day/10000, day/100%100, day%100); ok && float64(day) == v && day > 19000101 && day < 22000101 {
			days++
		}
	}
	return days > 0 && 2*days > n
}
