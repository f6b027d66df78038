package ingest

import (
	"fmt"
	"slices"
)

// logSpan is the time that a log covers, found from its own rows.
type logSpan struct {
	start, end Date // of the bulk of visits, measurements, formings and deliveries
	known      bool // there were enough dates to tell
	ownEnd     bool // end comes from the log, not from Today
	// followed is the last day to which sockets and persons were followed:
	// end, or later in a log that goes on to say what became of sockets after
	// the last of its own visits and deliveries.
	followed Date
}

// decades is how far a date must lie from everything else to be a slip.
const decades = 20 * 365

// fewAnchors is below how many anchor dates a log's other dates help to find
// its span.
const fewAnchors = 5

// findSpan finds the span from the anchor dates. Dates further than 20 years
// from the bulk are left out. Without today, the last few (one, or one in
// 200) are left out too where more than a year parts them from all others.
// Of a log with hardly an anchor the bulk is that of all its dates, others
// being those that are no anchors; where no bulk has most of them, today
// tells which is the log's own.
func findSpan(anchors, others []Date, today Opt[Date]) logSpan {
	few := len(anchors) < fewAnchors
	if few {
		anchors = slices.Concat(anchors, others)
	}
	slices.Sort(anchors)
	var s logSpan
	if bulk := bulkOf(anchors, few, today); len(bulk) > 0 {
		n := len(bulk)
		s = logSpan{start: bulk[0], end: bulk[n-1], known: true}
		if !today.OK && !few && n >= 10 {
			for k := 1; k <= max(1, n/200); k++ {
				if bulk[n-k]-bulk[n-k-1] > 366 {
					s.end = bulk[n-k-1]
				}
			}
		}
	}
	if today.OK {
		if !s.known {
			s.start = today.Value
		}
		s.end = today.Value
	} else if s.known {
		s.ownEnd = true
	}
	return s
}

// bulkOf is the stretch of sorted dates without a gap of 20 years that has
// more than half of them; of few dates, without one, the last that begins no
// later than a year after today. It is empty where neither is there.
func bulkOf(dates []Date, few bool, today Opt[Date]) []Date {
	var last []Date
	for from, i := 0, 1; i <= len(dates); i++ {
		if i < len(dates) && dates[i]-dates[i-1] <= decades {
			continue
		}
		stretch := dates[from:i]
		if 2*len(stretch) > len(dates) {
			return stretch
		}
		if few && today.OK && stretch[0] <= today.Value+366 {
			last = stretch
		}
		from = i
	}
	return last
}

// anchorFields are the dates that say when a log was kept.
var anchorFields = map[string]string{TableSockets: "delivered", TableStations: "date", TableVisits: "date", TableForming: "date"}

// followFields are the dates that say what became of a socket or person.
var followFields = map[string][]string{TableSockets: {"remake_decided", "ended"}, TableLimbs: {"last_seen", "died"}}

// findFollowed tells follow-up that goes on for years, as in a log without
// visits, from slips in the year: slips are few. At least three and one in
// 50 of the dates of ends must lie more than a year after the log's end.
func findFollowed(s logSpan, anchors, ends []Date) Date {
	late := 0
	for _, d := range ends {
		if d > s.end+366 && d <= s.end+decades {
			late++
		}
	}
	if !s.ownEnd || late < max(3, len(ends)/50) {
		return s.end
	}
	return max(s.end, findSpan(slices.Concat(anchors, ends), nil, Opt[Date]{}).end)
}

// checkSpan sets aside dates that lie decades from the log or after its end.
func (r *reader) checkSpan() {
	n := 0
	for table := range anchorFields {
		n += len(r.recs[table])
	}
	anchors := make([]Date, 0, n)
	for _, table := range Tables() {
		if anchorFields[table] == "" {
			continue
		}
		f := fieldIndex(table, anchorFields[table])
		for _, rec := range r.used(table) {
			if rec.known(f) {
				anchors = append(anchors, Date(rec.storedNum(f)))
			}
		}
	}
	var others []Date
	if len(anchors) < fewAnchors {
		others = r.otherDates()
	}
	r.span = findSpan(anchors, others, r.opts.Today)
	var ends []Date
	for _, table := range Tables() {
		for _, name := range followFields[table] {
			f := fieldIndex(table, name)
			for _, rec := range r.used(table) {
				if rec.known(f) {
					ends = append(ends, Date(rec.storedNum(f)))
				}
			}
		}
	}
	r.span.followed = findFollowed(r.span, anchors, ends)
	for _, table := range Tables() {
		for f, field := range schema[table] {
			if field.Kind != KindDate && field.Kind != KindYear {
				continue
			}
			recs := r.used(table)
			if field.Kind == KindDate && r.allNear(recs, f) {
				continue
			}
			for _, rec := range recs {
				if rec.known(f) {
					r.checkDate(rec, f, field.Name == anchorFields[table])
				}
			}
		}
	}
}

// otherDates are the dates of the log that are no anchors. An amputation may
// lie a lifetime back and tells nothing of when the log was kept.
func (r *reader) otherDates() []Date {
	var out []Date
	for _, table := range Tables() {
		for f, field := range schema[table] {
			if field.Kind != KindDate || field.Name == "amputated" || field.Name == anchorFields[table] {
				continue
			}
			for _, rec := range r.used(table) {
				if rec.known(f) {
					out = append(out, Date(rec.storedNum(f)))
				}
			}
		}
	}
	return out
}

// allNear says that all dates of a column lie within the span, of which
// checkDate says nothing.
func (r *reader) allNear(recs []*record, f int) bool {
	s := r.span
	if y, _, _ := s.end.Split(); !s.known || s.start < 0 || y > 2200 { // odd years are looked at one by one
		return false
	}
	to := min(s.end, s.followed)
	far := make([]bool, parts(len(recs)))
	inParts(len(recs), func(part, from, upTo int) {
		for _, rec := range recs[from:upTo] {
			if d := Date(rec.storedNum(f)); rec.known(f) && (d < s.start || d > to) {
				far[part] = true
				return
			}
		}
	})
	return !slices.Contains(far, true)
}

func (r *reader) checkDate(rec *record, f int, anchor bool) {
	field := &rec.sheet.fields[f]
	s := r.span
	if field.Kind == KindYear {
		r.checkBirthYear(rec, f)
		return
	}
	d := rec.val(f).date()
	y, _, _ := d.Split()
	back := Date(decades)
	if field.Name == "amputated" {
		back = 100 * 365
	}
	early := y < 1900 || s.known && d < s.start-back
	late := y > 2200 || s.known && !s.ownEnd && d > s.end+decades || s.ownEnd && d > s.end+decades
	if early || late {
		want := "a date of the log's own time"
		if s.known {
			want = fmt.Sprintf("a date near the log's own time, %s to %s", s.start, s.end)
		}
		r.drop(rec, f, CodeDecadesOutside, want, fmt.Sprintf("%s (%s) lies decades outside the log", r.quote(rec, f), d))
		return
	}
	end := s.followed
	if !anchor {
		end += 366
	}
	switch {
	case r.opts.Today.OK && d > r.opts.Today.Value:
		r.drop(rec, f, CodeAfterEnd, "a date not after "+r.opts.Today.Value.String(), fmt.Sprintf("%s (%s) lies in the future", r.quote(rec, f), d))
	case s.ownEnd && d > end:
		r.drop(rec, f, CodeAfterEnd, "a date not after the log's own end, "+s.end.String(), fmt.Sprintf("%s (%s) is more than a year after everything else in the log", r.quote(rec, f), d))
	}
}

func (r *reader) checkBirthYear(rec *record, f int) {
	year := int(rec.storedNum(f))
	s := r.span
	last := 2200
	if s.known || r.opts.Today.OK {
		last, _, _ = s.end.Split()
	}
	first := 1850
	if s.known {
		y, _, _ := s.start.Split()
		first = y - 115
	}
	switch {
	case year > last:
		r.drop(rec, f, CodeAfterEnd, "a year of birth", "the year of birth lies after the log's end")
	case year < first:
		r.drop(rec, f, CodeDecadesOutside, "a year of birth", "the year of birth is more than 115 years before the log begins")
	}
}

// noteDates widens the log's first and last date by those of the rows of a
// table that are in use.
func (r *reader) noteDates(table string) {
	for f, field := range schema[table] {
		if field.Kind != KindDate || field.Name == "amputated" {
			continue
		}
		recs := r.recs[table]
		first, last := make([]Opt[Date], parts(len(recs))), make([]Opt[Date], parts(len(recs)))
		inParts(len(recs), func(part, from, to int) {
			for _, rec := range recs[from:to] {
				if !rec.aside && rec.known(f) {
					d := Date(rec.storedNum(f))
					first[part], last[part] = earlier(first[part], Some(d)), later(last[part], Some(d))
				}
			}
		})
		for part := range first {
			r.log.First, r.log.Last = earlier(r.log.First, first[part]), later(r.log.Last, last[part])
		}
	}
}

// earlier and later pick one of two dates that may be missing.
func earlier(a, b Opt[Date]) Opt[Date] {
	if !a.OK || b.OK && b.Value < a.Value {
		return b
	}
	return a
}

func later(a, b Opt[Date]) Opt[Date] {
	if !a.OK || b.OK && b.Value > a.Value {
		return b
	}
	return a
}
