package ingest

import "strings"

// missingWords are texts that stand for "no value".
var missingWords = map[string]bool{
	"": true, "-": true, "--": true, "---": true, "–": true, "—": true, ".": true, "..": true, "/": true, "?": true, "??": true, "???": true,
	"n/a": true, "na": true, "n.a.": true, "n/r": true, "nr": true, "n/k": true, "nk": true, "not known": true, "unknown": true, "unk": true,
	"not recorded": true, "missing": true, "null": true, "tbc": true, "tbd": true, "blank": true, "not measured": true, "nm": true, "not done": true,
}

// isMissing reports whether a text stands for no value.
func isMissing(text string) bool {
	if strings.ContainsAny(text, "0123456789") { // which none of the words has
		return false
	}
	return missingWords[strings.ToLower(tidyText(text))]
}
