package manual

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"plybook/analysis/cohort"
	"plybook/analysis/table"
	"plybook/ingest"
)

// width is how many characters a line of a page has at most.
const width = 118

// fill puts what the code knows in the place of the marks that stand alone on
// a line of a page.
func fill(page string) string {
	for mark, text := range map[string]func() string{
		"<!-- fields -->":  fields,
		"<!-- columns -->": columns,
		"<!-- words -->":   vocabularies,
		"<!-- sets -->":    sets,
	} {
		if strings.Contains(page, mark+"\n") {
			page = strings.ReplaceAll(page, mark+"\n", text())
		}
	}
	return page
}

// tableIntro says what a row of each table is.
var tableIntro = map[string]string{
	ingest.TableLimbs:    "one row for each residual limb; somebody with two has two rows",
	ingest.TableSockets:  "one row for each socket, check sockets too",
	ingest.TableStations: "one row for each circumference",
	ingest.TableVisits:   "one row for each socket at each visit",
	ingest.TableFindings: "one row for each finding on the skin at a visit",
	ingest.TableForming:  "one row for each sheet pulled",
}

// fields lists the columns of the six tables.
func fields() string {
	var b strings.Builder
	for _, t := range ingest.Tables() {
		fmt.Fprintf(&b, "### %s: %s\n\n", t, tableIntro[t])
		for _, f := range ingest.Fields(t) {
			name := "`" + f.Name + "`"
			if f.Required {
				name += "*"
			}
			b.WriteString(item(name + ": " + fieldWords(f)))
		}
		b.WriteString("\n")
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// fieldWords says what may stand in a column and what it means.
func fieldWords(f ingest.Field) string {
	kind := fieldKind(f)
	switch f.Kind {
	case ingest.KindNumber, ingest.KindWhole, ingest.KindWord, ingest.KindWords:
		if f.Note != "" {
			return kind + "; " + f.Note
		}
		return kind
	}
	if f.Note != "" {
		return f.Note // it says the kind
	}
	return kind
}

// shortList is how many words of a list are spelled out beside a column.
const shortList = 6

func fieldKind(f ingest.Field) string {
	switch f.Kind {
	case ingest.KindID:
		return "a code"
	case ingest.KindDate:
		return "date"
	case ingest.KindYear:
		return "year"
	case ingest.KindTime:
		return "time of day"
	case ingest.KindScore:
		return "0 to 10"
	case ingest.KindPly:
		return "sock ply"
	case ingest.KindNumber, ingest.KindWhole:
		return strings.TrimSpace(plain(f.Low) + " to " + plain(f.High) + " " + unitWords(f.Unit))
	case ingest.KindWord, ingest.KindWords:
		several := ""
		if f.Kind == ingest.KindWords {
			several = ", or several with commas"
		}
		if codes := f.Words.Codes(); len(codes) <= shortList {
			return strings.Join(codes, ", ") + several
		}
		return "a word" + several + " (see `words`)"
	}
	if f.Staff {
		return "a code of a member of staff"
	}
	return "text"
}

func plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func unitWords(unit string) string {
	switch unit {
	case "min":
		return "minutes"
	case "h":
		return "hours"
	case "C":
		return "degrees Celsius"
	}
	return unit
}

// columns lists the derived columns.
func columns() string {
	known := map[table.Known]string{table.AtStart: "known at delivery", table.Later: "known later", table.Always: "known always"}
	var b strings.Builder
	for _, d := range cohort.Derived() {
		unit := d.Unit
		if unit == "" {
			unit = map[table.Kind]string{table.Number: "a number", table.Text: "yes or no", table.Date: "a date"}[d.Kind]
		}
		b.WriteString(item(fmt.Sprintf("`%s` (%s; on %s; %s): %s", d.Name, unit, strings.Join(d.Rows, ", "), known[d.Known], d.Definition)))
	}
	return b.String()
}

// vocabularies lists the words of the log with the spellings read as each.
func vocabularies() string {
	var b strings.Builder
	for _, v := range []struct {
		column string
		words  ingest.Vocabulary
	}{
		{"level", ingest.Levels()}, {"cause", ingest.Causes()}, {"side", ingest.Sides()}, {"sex", ingest.Sexes()}, {"activity", ingest.Activities()},
		{"kind", ingest.Kinds()}, {"use", ingest.Uses()}, {"shape_method", ingest.ShapeMethods()}, {"end_reason", ingest.EndReasons()},
		{"over", ingest.Overs()}, {"purpose", ingest.Purposes()}, {"accepted", ingest.AcceptedWords()}, {"skin_checked", ingest.YesNo()},
		{"action", ingest.Actions()}, {"finding", ingest.FindingWords()}, {"region", ingest.RegionWords()},
	} {
		fmt.Fprintf(&b, "## %s\n\n", v.column)
		for _, e := range v.words.Entries() {
			line := "`" + e.Code + "`"
			if r, ok := ingest.RegionByCode(e.Code); ok && v.column == "region" && r.Tissue != "" {
				line += " (" + map[string]string{ingest.Bony: "over bone", ingest.Soft: "over soft tissue"}[r.Tissue] + bears("takes pressure", r.Tolerant) + bears("takes little", r.Sensitive) + ")"
			}
			if also := append(append([]string(nil), e.Abbreviations...), e.Synonyms...); len(also) > 0 {
				line += ": " + strings.Join(also, ", ")
			}
			if e.Released {
				line += ": made coarser in a data set that was given out"
			}
			if len(e.Doubtful) > 0 {
				line += "; with a question: " + strings.Join(e.Doubtful, ", ")
			}
			b.WriteString(item(line))
		}
		b.WriteString("\n")
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// bears says at which levels a region bears how much.
func bears(how string, levels []string) string {
	if len(levels) == 0 {
		return ""
	}
	return "; " + how + ": " + strings.Join(levels, ", ")
}

// sets lists the named sets of end reasons.
func sets() string {
	var b strings.Builder
	for _, s := range ingest.EndReasonSets() {
		b.WriteString(item("`" + s + "`: " + strings.Join(ingest.EndReasonSet(s), ", ")))
	}
	b.WriteString(item("`early-remake`: the reasons of `remake`, within so many days of delivery (`early_remake` of the front matter; 90)"))
	return b.String()
}

// item is a line of a list, broken at words.
func item(text string) string {
	var b strings.Builder
	line := "-"
	for _, w := range strings.Fields(text) {
		if utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > width {
			b.WriteString(line + "\n")
			line = " "
		}
		line += " " + w
	}
	return b.String() + line + "\n"
}
