package ingest

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// headerWords are the words by which labs head the columns of each field, in
// lower case. The whole header weighs more than a part of it. This is the
// one place to add a word.
var headerWords = []struct {
	table, field string
	words        string // parted by commas
}{
	{TableLimbs, "person", "patient, patient id, patient no, patient number, patient code, pt, pt id, pt no, pt code, id, code, person, person id, client, client id, client no, user, user id, case, case no, ref, reference, study id, study no, mrn, hospital no, hospital number, nhs no, nhs number, chi, chi number, record no, record number, medical record number, chart no, chart number, no, who"},
	{TableLimbs, "limb", "limb, limb id, limb code, limb no, residual limb id"},
	{TableLimbs, "side", "side, limb side, l/r, r/l, left/right, right/left, laterality, leg, limb, amp side, amputation side"},
	{TableLimbs, "level", "level, amputation level, amp level, level of amputation, type of amputation, amputation, amputation type, amp, amp type, limb level"},
	{TableLimbs, "cause", "cause, etiology, aetiology, reason for amputation, cause of amputation, amputation cause, diagnosis, dx"},
	{TableLimbs, "amputated", "amputated, amputated on, amputation date, date of amputation, amp date, surgery date, date of surgery, doa, op date"},
	{TableLimbs, "born", "born, dob, d o b, date of birth, birth date, year of birth, yob, birth year"},
	{TableLimbs, "sex", "sex, gender, m/f"},
	{TableLimbs, "activity", "activity, k level, activity level, mobility, mobility grade, mobility level, k, mfcl"},
	{TableLimbs, "programme", "programme, program, service, funding"},
	{TableLimbs, "last_seen", "last seen, last contact, last attended"},
	{TableLimbs, "died", "died, date of death, death, deceased, rip"},

	{TableSockets, "socket", "socket, socket id, socket no, socket code, socket ref, serial, serial no, job, job no, job number, work order, wo, order no, device id, prosthesis id, prosthesis no"},
	{TableSockets, "kind", "kind, type, socket type, type of socket, socket kind, check or definitive, check/def, stage, prosthesis type"},
	{TableSockets, "number", "number, def no, definitive no, nth definitive, nth socket, socket number"},
	{TableSockets, "use", "use, used for, use of socket"},
	{TableSockets, "referred", "referred, referral, referral date, date of referral, date referred"},
	{TableSockets, "ordered", "ordered, order date, date ordered, prescription date, prescribed, rx date"},
	{TableSockets, "cast_on", "cast, cast date, date cast, date of cast, casting date, cast on, casted, casted on, scan date, date of casting, measured and cast"},
	{TableSockets, "cast_method", "cast method, casting method, casting, casting technique, cast technique, method of casting, capture, capture method, cast type"},
	{TableSockets, "cast_by", "cast by, casted by, caster, cast clinician"},
	{TableSockets, "shape_method", "shape method, rectification, rectification method, modification, modification method, shaping, shaping method, hand or cad, cad/hand"},
	{TableSockets, "shape_style", "shape style, style, design, socket design, socket style"},
	{TableSockets, "shaped_by", "shaped by, rectified by, modified by"},
	{TableSockets, "replaces", "replaces, replaced socket, previous socket, old socket"},
	{TableSockets, "material", "material, socket material, layup, lay up, lamination"},
	{TableSockets, "liner_mm", "liner thickness, liner"},
	{TableSockets, "suspension", "suspension, susp, suspension type"},
	{TableSockets, "site", "site, clinic, location, centre, center, hospital site"},
	{TableSockets, "delivered", "delivered, delivered on, delivery, delivery date, date delivered, date of delivery, fit date, fitted, fitted on, date fitted, date of fitting, fitting date, supplied, supply date, date supplied, date of supply, issued, issue date, date issued, del date, del"},
	{TableSockets, "remake_decided", "remake decided, remake decided on, remake date, date of remake"},
	{TableSockets, "ended", "ended, ended on, end, end date, date ended, finished, out of use, retired, replaced, replaced on, date replaced, discontinued, stopped, taken out of use"},
	{TableSockets, "end_reason", "end reason, reason, reason for remake, remake reason, reason ended, why ended, why remade, reason replaced, reason for replacement, reason for end, why replaced, why, remade because"},

	{TableVisits, "visit", "visit id, visit no, visit code, appointment id, encounter"},
	{TableVisits, "date", "date, visit date, date of visit, date seen, seen on, seen, appointment, appointment date, appt, appt date, review date, clinic date, visit"},
	{TableVisits, "time", "time, appt time, time of day"},
	{TableVisits, "purpose", "purpose, visit type, type of visit, reason for visit, appointment type, appt type, visit reason"},
	{TableVisits, "ply", "ply, sock ply, socks, sock, ply in, socks in, ply on arrival, socks on arrival, sock thickness, ply worn, socks worn, sock fit"},
	{TableVisits, "ply_left", "ply out, ply left, ply on leaving, socks out, socks on leaving, ply after, new ply"},
	{TableVisits, "comfort", "comfort, scs, socket comfort, socket comfort score, comfort score, comfort in, scs in, comfort on arrival, scs on arrival, comfort rating, comfort 0 10, score"},
	{TableVisits, "comfort_left", "comfort left, comfort out, scs out, scs after, comfort after, scs on leaving, comfort on leaving, scs left"},
	{TableVisits, "hours", "hours, hours worn, wear, wear time, wearing time, hrs, hrs worn, hours a day, hours per day, hours/day, hrs/day"},
	{TableVisits, "mass_kg", "mass, weight, body weight, body mass, wt"},
	{TableVisits, "accepted", "accepted, fit accepted, fit ok, passed, fitting result, result of fitting, check ok"},
	{TableVisits, "skin_checked", "skin checked, skin check, skin inspected, skin looked at"},
	{TableVisits, "action", "action, actions, action taken, what we did, what i did, adjustment, adjustments, adj, done, what was done, work done, intervention, changes, treatment, rx"},
	{TableVisits, "minutes", "minutes, duration, time spent, appt length, mins"},
	{TableVisits, "seen_by", "seen by, clinician, prosthetist, cpo, cp, practitioner, staff, by, pros"},

	{TableStations, "date", "measured, measured on, date measured, measurement date, date of measurement"},
	{TableStations, "landmark", "landmark, reference point, measured from, from landmark"},
	{TableStations, "station_mm", "station, distance, distance from landmark, position, cm below, height"},
	{TableStations, "limb_mm", "circumference, circ, girth, limb circumference, limb girth, circumf"},
	{TableStations, "over", "over, measured over, layer"},
	{TableStations, "minutes_off", "minutes off, time off, socket off for"},
	{TableStations, "repeat", "repeat, repetition, rep"},
	{TableStations, "target_mm", "target, target circ, target girth"},
	{TableStations, "model_mm", "model, model circ, model girth, cast circ, positive circ"},
	{TableStations, "measured_by", "measured by, tape by"},

	{TableFindings, "region", "region, area, body area, where, spot, place"},
	{TableFindings, "finding", "finding, skin, skin finding, skin issue, skin problem, skin condition, problem"},
	{TableFindings, "severity", "severity, grade"},
	{TableFindings, "fades_min", "fades, fades in, fades after"},
	{TableFindings, "size_mm", "size, size of spot"},

	{TableForming, "date", "formed, formed on, date formed, pulled, pulled on, pull date, draping date, draped on"},
	{TableForming, "sheet_material", "sheet, sheet material, plastic, sheet plastic"},
	{TableForming, "sheet_mm", "sheet thickness, thickness, blank thickness"},
	{TableForming, "oven_c", "oven, oven temp, oven temperature, temp, temperature"},
	{TableForming, "minutes", "oven time, heating time, minutes in oven, time in oven"},
	{TableForming, "flipped_at_min", "flipped, flipped at, turned at"},
	{TableForming, "thinnest_mm", "thinnest, thinnest point, min thickness, minimum thickness"},
	{TableForming, "result", "forming result, pull result, outcome"},
	{TableForming, "formed_by", "formed by, pulled by, draped by, technician, tech"},
}

// girthWords are the words that head a column of girths at a distance.
var girthWords = map[string]bool{"circ": true, "circs": true, "circumference": true, "circumferences": true, "circumf": true, "girth": true, "girths": true, "c": true, "tape": true}

// shortForms are parts of regions' names as they are shortened in headers.
var shortForms = map[string]string{"tib": "tibial", "tibia": "tibial", "fib": "fibular", "fibula": "fibular", "lat": "lateral", "med": "medial", "ant": "anterior", "post": "posterior", "dist": "distal", "prox": "proximal", "hd": "head", "tub": "tubercle", "pat": "patellar", "tend": "tendon", "pop": "popliteal", "isch": "ischial"}

// landmarkWords are points that girths are measured from.
var landmarkWords = []struct{ word, name string }{
	{"mid patellar tendon", "mid-patellar tendon"}, {"mid patella tendon", "mid-patellar tendon"}, {"patellar tendon", "mid-patellar tendon"}, {"patella tendon", "mid-patellar tendon"}, {"mpt", "mid-patellar tendon"},
	{"medial tibial plateau", "medial tibial plateau"}, {"mtp", "medial tibial plateau"}, {"tibial plateau", "medial tibial plateau"}, {"tibial tubercle", "tibial tubercle"}, {"tib tub", "tibial tubercle"}, {"tib tubercle", "tibial tubercle"},
	{"ischial tuberosity", "ischial tuberosity"}, {"ischium", "ischial tuberosity"}, {"ischial", "ischial tuberosity"}, {"perineum", "perineum"}, {"crotch", "perineum"}, {"groin", "perineum"}, {"greater trochanter", "greater trochanter"},
	{"distal end", "distal end"}, {"olecranon", "olecranon"}, {"axilla", "axilla"}, {"acromion", "acromion"},
}

// markWords are marks of one or two letters in columns of regions that have
// one likely meaning. Others are left as a question.
var markWords = map[string]string{"bl": "blister", "br": "bruise", "ul": "ulcer", "u": "ulcer", "cy": "cyst", "cal": "callus", "abr": "abrasion", "p": "pain", "rf": "redness fading", "rp": "redness persisting"}

// clearMarks say that a region was looked at and nothing was found.
var clearMarks = map[string]bool{"-": true, "–": true, "ok": true, "nil": true, "nad": true, "0": true, "n": true, "no": true, "none": true, "clear": true, "✓": true}

// totalWords begin rows that sum up the rows above.
var totalWords = []string{"Total", "Totals", "Grand total", "Subtotal", "Sub-total", "Sum", "Mean", "Average", "Median", "Count"}

// remarkWords head columns of free text, which may name people.
var remarkWords = map[string]bool{"notes": true, "note": true, "remarks": true, "remark": true, "comments": true, "comment": true, "memo": true}

// isRemark says whether a heading is one of free text.
func isRemark(header string) bool {
	return slices.ContainsFunc(headerTokens(header), func(w string) bool { return remarkWords[w] })
}

var unitBracket = regexp.MustCompile(`[(\[][^)\]]*[)\]]`)

// headerTokens are the words of a header in lower case, figures apart from
// letters, without what stands in brackets and without marks such as # and
// "no.".
func headerTokens(header string) []string {
	text := unitBracket.ReplaceAllStringFunc(strings.ToLower(header), func(s string) string {
		if inside := strings.Trim(s, "()[]"); inside != "" && strings.Trim(inside, "0123456789") == "" {
			return " " + inside
		}
		return " "
	})
	text = strings.ReplaceAll(text, "#", " no ")
	var out []string
	var b strings.Builder
	kind := 0
	flush := func() {
		if b.Len() > 0 {
			out = append(out, b.String())
			b.Reset()
		}
	}
	for _, r := range text {
		k := 0
		switch {
		case unicode.IsDigit(r):
			k = 1
		case unicode.IsLetter(r):
			k = 2
		case r == '/' && kind == 2:
			k = 2 // l/r, m/f
		case r == '.' && kind == 1:
			k = 1
		}
		if k != kind {
			flush()
		}
		if kind = k; k > 0 {
			b.WriteRune(r)
		}
	}
	flush()
	for i, t := range out {
		out[i] = strings.Trim(t, "/.")
	}
	return out
}

// headerIndex is headerWords taken apart.
var headerIndex = indexHeaders()

type headerEntry struct {
	table, field string
	words        []string
}

func indexHeaders() []headerEntry {
	var out []headerEntry
	for _, h := range headerWords {
		e := headerEntry{table: h.table, field: h.field}
		words := strings.Split(h.words, ", ")
		if h.field != "date" { // which stands in several tables
			words = append(words, strings.ReplaceAll(h.field, "_", " "))
		}
		for _, w := range words {
			e.words = append(e.words, strings.Join(headerTokens(w), " "))
		}
		out = append(out, e)
	}
	return out
}

// columnMatches are the fields that a column may feed by its header. Of a
// header of several rows the lowest may name the field by itself; what
// stands above it is then what else the header says.
func columnMatches(header, lowest string) []wordMatch {
	out := headerMatches(header)
	if lowest == "" || lowest == header {
		return out
	}
	upper := strings.TrimSpace(strings.TrimSuffix(strings.Join(headerTokens(header), " "), strings.Join(headerTokens(lowest), " ")))
	for _, m := range headerMatches(lowest) {
		m.score *= 0.97
		m.rest = strings.TrimSpace(upper + " " + m.rest)
		i := slices.IndexFunc(out, func(o wordMatch) bool { return o.table == m.table && o.field == m.field })
		switch {
		case i < 0:
			out = append(out, m)
		case out[i].score < m.score:
			out[i] = m
		}
	}
	return out
}

// wordMatch is how a header names a field.
type wordMatch struct {
	table, field string
	score        float64
	rest         string // words of the header beside those of the field
	slip         bool   // the header is one slip of the finger off
}

// misspelt are the fields whose words a header is one slip of the finger off:
// "Wieght", "Comfrot".
func misspelt(header string) []wordMatch {
	joined := strings.Join(headerTokens(header), " ")
	if len(joined) < 5 || len(joined) > 40 {
		return nil
	}
	var out []wordMatch
	for _, h := range headerIndex {
		if slices.ContainsFunc(h.words, func(w string) bool {
			return len(w) >= 5 && w[0] == joined[0] && max(len(w)-len(joined), len(joined)-len(w)) <= 1 && swapDistance(w, joined) == 1
		}) {
			out = append(out, wordMatch{table: h.table, field: h.field, score: 0.75, slip: true})
		}
	}
	return out
}

// headerMatches are the fields that a header may name.
func headerMatches(header string) []wordMatch {
	tokens := headerTokens(header)
	if len(tokens) == 0 || len(tokens) > 12 {
		return nil
	}
	joined := strings.Join(tokens, " ")
	var out []wordMatch
	for _, h := range headerIndex {
		best := wordMatch{table: h.table, field: h.field}
		for _, w := range h.words {
			if joined == w {
				best.score, best.rest = 1, ""
				break
			}
			if !strings.Contains(joined, w) {
				continue
			}
			n := strings.Count(w, " ") + 1
			for i := 0; i+n <= len(tokens); i++ {
				if strings.Join(tokens[i:i+n], " ") != w {
					continue
				}
				rest := strings.Join(append(append([]string(nil), tokens[:i]...), tokens[i+n:]...), " ")
				score := 0.45 + 0.4*float64(len(w))/float64(len(joined))
				if len(w) < 3 {
					score -= 0.2
				}
				if score > best.score {
					best.score, best.rest = score, rest
				}
			}
		}
		if best.score > 0 {
			out = append(out, best)
		}
	}
	return out
}

// regionOf reads a header as a region of the limb, with what else it says.
func regionOf(header string) (code, rest string) {
	tokens := headerTokens(header)
	if len(tokens) > 1 && strings.Trim(tokens[len(tokens)-1], "0123456789") == "" {
		rest = tokens[len(tokens)-1]
		tokens = tokens[:len(tokens)-1]
	}
	var drop []string
	for _, t := range tokens {
		if t != "skin" && t != "region" && t != "pressure" && t != "redness" && t != "areas" {
			drop = append(drop, t)
		}
	}
	try := func(list []string) string {
		if code, ok := regions.known(strings.Join(list, " ")); ok && len(list) > 0 && code != "none" && code != "other" {
			return code
		}
		return ""
	}
	if code = try(drop); code != "" {
		return code, rest
	}
	long := make([]string, len(drop))
	for i, t := range drop {
		if long[i] = t; shortForms[t] != "" {
			long[i] = shortForms[t]
		}
	}
	return try(long), rest
}

// landmarkCalled is the landmark that a text names and says no more than that.
func landmarkCalled(text string) string {
	t := strings.Join(headerTokens(text), " ")
	for _, l := range landmarkWords {
		if t == l.word {
			return l.name
		}
	}
	return ""
}

// landmarkIn finds the landmark that a text names.
func landmarkIn(text string) string {
	t := " " + strings.Join(headerTokens(text), " ") + " "
	for _, l := range landmarkWords {
		if strings.Contains(t, " "+l.word+" ") {
			return l.name
		}
	}
	return ""
}
