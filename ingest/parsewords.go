package ingest

import (
	"strconv"
	"strings"
)

func plainList(vs []float64) string {
	out := make([]string, len(vs))
	for i, v := range vs {
		out[i] = plain(v)
	}
	return strings.Join(out, " and ")
}

// plain writes a number as short as it can be.
func plain(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

func unitPhrase(unit string) string {
	switch unit {
	case "":
		return "plain figures"
	case "in":
		return "inches"
	case "min":
		return "minutes"
	case "h":
		return "hours"
	case "C":
		return "degrees Celsius"
	case "F":
		return "degrees Fahrenheit"
	case "m":
		return "metres"
	case "s":
		return "seconds"
	case "st":
		return "stone"
	}
	return unit
}

func approxWords(a string) string {
	switch a {
	case "a range":
		return "a range, of which the middle is used"
	case "about":
		return "not exact"
	}
	return "a bound (" + a + ")"
}

func shortList(words []string, n int) []string {
	if len(words) <= n {
		return words
	}
	return append(append([]string(nil), words[:n]...), "...")
}
