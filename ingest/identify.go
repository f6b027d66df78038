package ingest

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// identifyingHeaders are words of a header that promise names, numbers or
// addresses. Whole words are compared.
var identifyingHeaders = map[string]string{
	"name": "holds names", "surname": "holds names", "forename": "holds names", "firstname": "holds names", "lastname": "holds names", "initials": "holds initials",
	"mrn": "holds record numbers", "chi": "holds record numbers", "nhs": "holds record numbers", "ssn": "holds record numbers", "hospital": "holds record numbers", "insurance": "holds insurance numbers", "passport": "holds record numbers",
	"phone": "holds phone numbers", "telephone": "holds phone numbers", "tel": "holds phone numbers", "mobile": "holds phone numbers", "cell": "holds phone numbers", "fax": "holds phone numbers",
	"email": "holds addresses", "mail": "holds addresses", "address": "holds addresses", "street": "holds addresses", "zip": "holds addresses", "postcode": "holds addresses", "postal": "holds addresses",
	"dob": "holds birth dates", "birthdate": "holds birth dates", "birthday": "holds birth dates", "dateofbirth": "holds birth dates", "kin": "holds names", "contact": "holds names or numbers", "patient": "holds names or numbers", "photo": "holds pictures",
}

var identifyingPairs = []struct {
	words []string
	why   string
}{
	{[]string{"record", "no"}, "holds record numbers"}, {[]string{"record", "number"}, "holds record numbers"}, {[]string{"file", "number"}, "holds record numbers"}, {[]string{"chart", "number"}, "holds record numbers"},
	{[]string{"unit", "number"}, "holds record numbers"}, {[]string{"birth", "date"}, "holds birth dates"}, {[]string{"date", "birth"}, "holds birth dates"}, {[]string{"social", "security"}, "holds record numbers"},
	{[]string{"case", "number"}, "holds record numbers"}, {[]string{"serial", "number"}, "holds serial numbers"},
}

// notPersonNames are words that make "name" harmless: liner name.
var notPersonNames = []string{"liner", "product", "material", "foot", "knee", "component", "file", "sheet", "device", "model", "maker", "brand", "site", "clinic", "sleeve"}

var (
	emailText = regexp.MustCompile(`^[^@\s]+@[^@\s]+\.[^@\s]{2,}$`)
	phoneText = regexp.MustCompile(`^(\+\d[\d\s().\-/]{7,}|\(?0\d{1,4}\)?[\s.\-/]?\d[\d\s.\-/]{5,})$`)
	wordSplit = regexp.MustCompile(`[^\pL\pN]+`)
)

// identifyingWhy says why an own column could identify a person, or nothing.
func identifyingWhy(header string, texts []string, allDates bool, dates []float64, isDate []bool, span logSpan) string {
	words := wordSplit.Split(strings.ToLower(splitCamel(header)), -1)
	for _, pair := range identifyingPairs {
		if slices.Contains(words, pair.words[0]) && slices.Contains(words, pair.words[1]) {
			return pair.why
		}
	}
	for _, w := range words {
		why := identifyingHeaders[w]
		if why == "" || w == "name" && slices.ContainsFunc(words, func(o string) bool { return slices.Contains(notPersonNames, o) }) {
			continue
		}
		return why
	}
	if len(texts) == 0 {
		return ""
	}
	count := func(f func(string) bool) float64 {
		n := 0
		for _, t := range texts {
			if f(t) {
				n++
			}
		}
		return float64(n) / float64(len(texts))
	}
	switch {
	case slices.ContainsFunc(texts, emailText.MatchString):
		return "holds e-mail addresses"
	case count(phoneText.MatchString) > 0.5:
		return "looks like phone numbers"
	case count(looksLikeName) > 0.5:
		return "looks like names"
	case longNumbers(texts):
		return "looks like record numbers"
	case allDates && birthDates(dates, isDate, span):
		return "looks like birth dates"
	}
	return ""
}

func splitCamel(s string) string {
	var b strings.Builder
	prev := ' '
	for _, r := range s {
		if unicode.IsUpper(r) && unicode.IsLower(prev) {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
		prev = r
	}
	return b.String()
}

// nameText is two or three capitalised words, or "Berg, Anna".
var nameText = regexp.MustCompile(`^(?:(?:Mr|Mrs|Ms|Miss|Dr)\.? )?\p{Lu}[\p{Ll}'\-]+(?:\p{Lu}\p{Ll}+)?,? (?:\p{Lu}\.? )?(?:(?:van|von|de|der|den|la) ){0,2}\p{Lu}[\p{L}'\-]+$`)

// labWords are capitalised words of the trade that no person is called.
var labWords = map[string]bool{"socket": true, "liner": true, "sock": true, "suction": true, "vacuum": true, "pin": true, "lock": true, "foot": true, "knee": true, "carbon": true, "gel": true,
	"total": true, "surface": true, "bearing": true, "contact": true, "hand": true, "cast": true, "north": true, "south": true, "east": true, "west": true, "clinic": true, "hospital": true, "site": true, "new": true, "old": true,
	"high": true, "low": true, "left": true, "right": true, "active": true, "good": true, "no": true, "yes": true, "room": true, "team": true, "unit": true, "centre": true, "center": true, "the": true, "street": true, "house": true,
	"sleeve": true, "valve": true, "strap": true, "resin": true, "acrylic": true, "lamination": true, "plaster": true, "scan": true, "digital": true}

func looksLikeName(s string) bool {
	if strings.ContainsAny(s, "0123456789") { // which nameText has nowhere
		return false
	}
	s = strings.Join(strings.Fields(s), " ")
	if !nameText.MatchString(s) {
		return false
	}
	for _, w := range wordSplit.Split(strings.ToLower(s), -1) {
		if labWords[w] {
			return false
		}
	}
	return true
}

// longNumbers reports numbers of seven digits or more that hardly repeat.
func longNumbers(texts []string) bool {
	seen := map[string]bool{}
	for _, t := range texts {
		digits := 0
		for _, r := range t {
			switch {
			case unicode.IsDigit(r):
				digits++
			case r == '-' || r == ' ' || r == '/':
			default:
				return false
			}
		}
		if digits < 7 {
			return false
		}
		seen[t] = true
	}
	if _, err := readDate(texts[0]); err == nil && len(texts[0]) >= 8 && strings.ContainsAny(texts[0], "-/ ") {
		return false
	}
	return len(texts) >= 3 && 2*len(seen) > len(texts)
}

// birthDates reports dates of which half lie more than 15 years before the
// log begins and no two tend to agree, as amputations do not.
func birthDates(dates []float64, isDate []bool, span logSpan) bool {
	if !span.known {
		return false
	}
	early, total := 0, 0
	for i, d := range dates {
		if isDate[i] {
			total++
			if Date(int(d)) < span.start-15*365 {
				early++
			}
		}
	}
	return total >= 3 && 2*early > total
}

// findIdentifying flags the log's own fields whose values are not codes: of
// such a column only cell references are shown.
func (r *reader) findIdentifying() {
	var persons idTexts
	other := map[string]idTexts{}
	for _, s := range r.sheets {
		for f, field := range schema[s.table] {
			if s.cols[f] < 0 || s.coded[f] != nil {
				continue
			}
			switch {
			case field.Name == "born":
				r.noteBirthDates(s, f)
			case field.Person:
				values := readIDs(s, f)
				persons = persons.and(values)
				if values.odd && field.Name == "person" {
					r.onSheet(s, s.cols[f], s.raw.rows[s.header].n, CodeIdentifying, s.headers[s.cols[f]], "", "short codes that name nobody", Kept,
						fmt.Sprintf("the column %q holds names or record numbers rather than codes; reports show a random code instead", s.headers[s.cols[f]]))
				}
			case field.Kind == KindID || field.Staff:
				key := s.table + "." + field.Name
				other[key] = other[key].and(readIDs(s, f))
			}
		}
	}
	personCodes := !persons.odd
	for _, table := range Tables() {
		for _, field := range schema[table] {
			key := table + "." + field.Name
			switch {
			case field.Name == "born":
				r.identifying[key] = true
			case field.Person:
				r.identifying[key] = !personCodes
			case field.Staff:
				r.identifying[key] = other[key].odd
			case field.Kind == KindID:
				// A lab that calls people by their names may call sockets so too.
				r.identifying[key] = other[key].named || !personCodes && other[key].odd
			}
		}
	}
	if !personCodes && slices.ContainsFunc(r.sheets, makesSockets) {
		r.identifying[TableSockets+".socket"] = true
	}
	if r.identifying[TableSockets+".socket"] || r.identifying[TableVisits+".visit"] {
		for _, key := range []string{"sockets.socket", "sockets.replaces", "stations.socket", "visits.visit", "visits.socket", "findings.visit", "forming.socket"} {
			r.identifying[key] = true
		}
	}
}

// makesSockets says whether sockets of a sheet are called after their limb, and
// so after the person.
func makesSockets(s *sheetData) bool {
	f := fieldIndex(TableSockets, "socket")
	return s.table == TableSockets && s.block != nil && s.cols[f] < 0 && s.coded[f] == nil && s.fixed[f] == ""
}

// idTexts is what the identifiers of a column look like.
type idTexts struct {
	odd   bool // not all are codes
	named bool // one holds a name or a long number
}

func (a idTexts) and(b idTexts) idTexts { return idTexts{a.odd || b.odd, a.named || b.named} }

func readIDs(s *sheetData, f int) idTexts {
	rows := s.below()
	out := make([]idTexts, parts(len(rows)))
	inParts(len(rows), func(part, from, to int) {
		var read idTexts
		last := ""
		for i := from; i < to; i++ {
			text := rows[i].cell(s.cols[f]).text
			if text == "" || text == last {
				continue
			}
			last = text
			if digits := codeDigits(text); digits > 0 {
				read = read.and(idTexts{odd: digits > 6, named: digits >= 9})
				continue
			}
			if text = strings.Join(strings.Fields(text), " "); !isMissing(text) {
				read = read.and(idTexts{odd: !isCode(text), named: nameOrNumber(text)})
			}
		}
		out[part] = read
	})
	all := idTexts{}
	for _, read := range out {
		all = all.and(read)
	}
	return all
}

// nameOrNumber reports an identifier of a socket or visit that holds a name
// or a long number.
func nameOrNumber(s string) bool {
	return looksLikeName(s) || strings.Contains(s, "@") && emailText.MatchString(s) || longest(s, unicode.IsDigit) >= 9
}

func (r *reader) noteBirthDates(s *sheetData, f int) {
	for row := range s.rowsBelow() {
		c := row.cell(s.cols[f])
		full := c.kind == cellDate
		if c.kind == cellText {
			read, err := readDate(c.text)
			full = err == nil && (read.form == dateExact || read.form == dateOrdered)
		}
		if full {
			r.onSheet(s, s.cols[f], s.raw.rows[s.header].n, CodeBirthDateShown, s.headers[s.cols[f]], "", "the year of birth", Kept,
				fmt.Sprintf("the column %q holds full birth dates; only the year is kept, and the year would be enough in the log", s.headers[s.cols[f]]))
			return
		}
	}
}
