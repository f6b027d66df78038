package ingest

import (
	"errors"
	"regexp"
	"strings"
)

var outOfTen = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)\s*(?:/|of|out of|von)\s*10$`)

// scoreAndWords is a score out of 10 with words behind it: 7/10 better.
var scoreAndWords = regexp.MustCompile(`^(\d+(?:[.,]\d+)?\s*(?:/|of|out of|von)\s*10)\s*[,;:.(\-]*\s*(\pL[^\d]*)$`)

var errScore = errors.New("outside 0 to 10")

// parseScore reads a comfort score: 7, 7/10, 7 out of 10. approx is as in
// number.
func parseScore(text string, comma bool) (v float64, approx string, err error) {
	s := tidyText(text)
	if m := outOfTen.FindStringSubmatch(s); m != nil {
		s = m[1]
	} else if strings.Contains(s, "/") {
		return 0, "", errNotNumber
	}
	n, err := parseNumber(s, comma)
	switch {
	case err != nil:
		return 0, "", err
	case n.unit != "":
		return 0, "", errNotNumber
	case n.value < 0 || n.value > 10:
		return 0, "", errScore
	}
	return n.value, n.approx, nil
}

// cutWords parts words from behind a score out of 10; they are left out, and
// words is whether there were any.
func cutWords(text string) (score string, words bool) {
	if m := scoreAndWords.FindStringSubmatch(tidyText(text)); m != nil {
		return m[1], true
	}
	return text, false
}

// scoreFromDate undoes a spreadsheet's reading of 7/10 as a day of October or
// the 10th of a month.
func scoreFromDate(d Date) (float64, bool) {
	_, m, day := d.Split()
	switch {
	case m == 10 && day <= 10:
		return float64(day), true
	case day == 10 && m <= 10:
		return float64(m), true
	}
	return 0, false
}
