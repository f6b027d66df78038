package ingest

import "strings"

// unitNames maps what people write to the unit meant. "m" stands for metres
// or minutes; the field's own dimension decides.
var unitNames = map[string]string{
	"mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
	"cm": "cm", "cms": "cm", "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
	"m": "m", "in": "in", "ins": "in", "inch": "in", "inches": "in", `"`: "in",
	"kg": "kg", "kgs": "kg", "kilo": "kg", "kilos": "kg", "lb": "lb", "lbs": "lb", "pound": "lb", "pounds": "lb", "st": "st", "stone": "st", "g": "g",
	"c": "C", "degc": "C", "celsius": "C", "centigrade": "C", "f": "F", "degf": "F", "fahrenheit": "F",
	"min": "min", "mins": "min", "minute": "min", "minutes": "min", "'": "min",
	"h": "h", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s",
	"h/day": "h", "hrs/day": "h", "hours/day": "h", "hoursaday": "h", "hrsaday": "h", "h/d": "h",
	"d": "d", "day": "d", "days": "d",
}

var degreeMarks = strings.NewReplacer("°", "", "º", "", " ", "", "degrees", "deg", "deg.", "deg")

// unitName returns the canonical unit; ok is false for an unknown word. An
// empty text is no unit.
func unitName(text string) (unit string, ok bool) {
	if text == "" {
		return "", true
	}
	s := strings.ToLower(strings.Trim(tidyText(text), " .()[]"))
	s = degreeMarks.Replace(s)
	if s == "" {
		return "", true
	}
	unit, ok = unitNames[s]
	return unit, ok
}

// toUnit converts a value to the unit a field is stored in. ok is false
// where the two measure different things.
func toUnit(v float64, from, to string) (float64, bool) {
	if from == to || from == "" {
		return v, true
	}
	if to == "min" && from == "m" {
		return v, true
	}
	if to == "C" {
		if from == "F" {
			return (v - 32) * 5 / 9, true
		}
		return 0, false
	}
	factor := map[string]map[string]float64{
		"mm":  {"cm": 10, "m": 1000, "in": 25.4},
		"kg":  {"lb": 0.45359237, "st": 6.35029318, "g": 0.001},
		"min": {"h": 60, "s": 1.0 / 60, "d": 1440},
		"h":   {"min": 1.0 / 60, "d": 24, "s": 1.0 / 3600},
	}[to][from]
	return v * factor, factor != 0
}

// unitsOf lists the units that people use for a field stored in unit.
func unitsOf(unit string) []string {
	switch unit {
	case "mm":
		return []string{"cm", "in", "m"}
	case "kg":
		return []string{"lb", "st", "g"}
	case "C":
		return []string{"F"}
	case "min":
		return []string{"h", "s"}
	case "h":
		return []string{"min"}
	}
	return nil
}
