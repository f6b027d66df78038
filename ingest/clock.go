package ingest

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strings"
)

var (
	clockText = regexp.MustCompile(`^(\d{1,2})(?:[:.h](\d{2})(?::\d{2})?)?\s*(am|pm|a\.m\.|p\.m\.|h|hrs|uhr)?$`)
	clockBare = regexp.MustCompile(`^(\d{2})(\d{2})$`)
	errClock  = errors.New("not a time of day")
)

// parseClock reads a time of day as the minute of the day: 14:30, 2.30 pm,
// 1430, or a spreadsheet's fraction of a day.
func parseClock(text string, isNumber bool) (int, error) {
	if h, m, ok := plainClock(text); ok {
		return h*60 + m, nil
	}
	s := strings.ToLower(tidyText(text))
	if isNumber {
		v, _, err := readDigits(s, false)
		if err != nil || v < 0 {
			return 0, errClock
		}
		if frac := v - math.Floor(v); frac > 0 || v == 0 {
			return int(math.Round(frac*1440)) % 1440, nil
		}
	}
	h, m, half := -1, 0, ""
	if g := clockBare.FindStringSubmatch(s); g != nil {
		h, m = num(g[1]), num(g[2])
	} else if g := clockText.FindStringSubmatch(s); g != nil && (g[2] != "" || g[3] != "") {
		h = num(g[1])
		if g[2] != "" {
			m = num(g[2])
		}
		half = strings.ReplaceAll(g[3], ".", "")
	}
	if half == "am" || half == "pm" {
		if h < 1 || h > 12 {
			return 0, errClock
		}
		h %= 12
		if half == "pm" {
			h += 12
		}
	}
	if h < 0 || h > 23 || m > 59 {
		return 0, errClock
	}
	return h*60 + m, nil
}

// plainClock reads a text of the form 14:30, which is that of most.
func plainClock(text string) (h, m int, ok bool) {
	if len(text) != 5 || text[2] != ':' {
		return 0, 0, false
	}
	for _, i := range []int{0, 1, 3, 4} {
		if text[i] < '0' || text[i] > '9' {
			return 0, 0, false
		}
	}
	h, m = int(text[0]-'0')*10+int(text[1]-'0'), int(text[3]-'0')*10+int(text[4]-'0')
	return h, m, h <= 23 && m <= 59
}

// clockOf writes a spreadsheet's time, a fraction of a day, as 14:30 or
// 14:30:05; a duration above a day as hours: 26:30. Another text stays.
func clockOf(text string) string {
	v, _, err := readDigits(text, false)
	if err != nil || v < 0 || v > 1e6 {
		return text
	}
	s := int(math.Round(v * 86400))
	out := fmt.Sprintf("%02d:%02d", s/3600, s/60%60)
	if s%60 != 0 {
		out += fmt.Sprintf(":%02d", s%60)
	}
	return out
}
