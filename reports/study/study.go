// Package study is the one place where the log and the analysis meet: it
// turns a log into a cohort and hands over, as values, the facts that the
// analysis needs but does not know: sets of reasons, bony regions, the day
// of the data cut, and how people may be named.
package study

import (
	"fmt"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/notebook"
)

// New builds the context from which the asks of a notebook are answered.
// codes are the random codes of persons and staff, nil where none were made.
// Where there are codes, the cohort itself holds codes only.
func New(nb *notebook.Notebook, log *ingest.Log, codes *ingest.Codes) (*answer.Context, error) {
	f := nb.Front
	n := names(f, log, codes)
	if codes != nil {
		log = Recode(log, codes)
	}
	var kept []string
	if f.Audience != notebook.Quality {
		log, kept = withoutCoded(log)
	}
	shift, err := shifts(f, log, codes)
	if err != nil {
		return nil, err
	}
	if shift != nil {
		log = undated(log)
	}
	tables, err := Tables(log)
	if err != nil {
		return nil, fmt.Errorf("tables of the log: %w", err)
	}
	c, err := cohort.Build(tables, cohort.Settings{
		From: f.From, To: f.To, LogSince: f.LogSince, YearBegins: f.YearBegins, EarlyRemakeDays: f.EarlyRemakeDays,
		Remake: ingest.EndReasonSet(ingest.SetRemake), Making: ingest.EndReasonSet(ingest.SetMaking),
		LimbChange: ingest.EndReasonSet(ingest.SetLimbChange), Untraced: ingest.EndReasonSet(ingest.SetUntraced),
		BonyRegions: bony(), Shift: shift, Socks: f.SockThickness.Thickness(),
	})
	if err != nil {
		return nil, err
	}
	ctx := &answer.Context{Cohort: c, Front: f, Decision: nb.Decisions(), Names: n, Sets: map[string][]string{}, Kept: kept, Bony: bony(), Pressure: pressure()}
	for _, name := range ingest.EndReasonSets() {
		ctx.Sets[name] = ingest.EndReasonSet(name)
	}
	ctx.Sets["early-remake"] = ingest.EndReasonSet(ingest.SetRemake)
	ctx.Reasons = ingest.EndReasons().Codes()
	ctx.Today, _ = c.To()
	return ctx, nil
}

// withoutCoded is the log without the own columns that codes stand for, which
// may name whoever referred or paid; these stay in the lab. It names them.
func withoutCoded(log *ingest.Log) (out *ingest.Log, names []string) {
	copied := *log
	copied.Own = map[string][]ingest.OwnColumn{}
	for _, table := range ingest.Tables() {
		for _, o := range log.Own[table] {
			if o.Coded {
				names = append(names, o.Name)
				continue
			}
			copied.Own[table] = append(copied.Own[table], o)
		}
	}
	return &copied, names
}

func bony() map[string]bool {
	out := map[string]bool{}
	for _, code := range ingest.RegionWords().Codes() {
		if r, ok := ingest.RegionByCode(code); ok && r.Tissue != "" {
			out[code] = r.Tissue == ingest.Bony
		}
	}
	return out
}

// pressure says of regions at which levels they take pressure and at which
// they do not.
func pressure() map[string]map[string]string {
	out := map[string]map[string]string{}
	for _, code := range ingest.RegionWords().Codes() {
		r, ok := ingest.RegionByCode(code)
		if !ok {
			continue
		}
		out[code] = map[string]string{}
		for _, l := range r.Tolerant {
			out[code][l] = "tolerant"
		}
		for _, l := range r.Sensitive {
			out[code][l] = "sensitive"
		}
	}
	return out
}

// names says how limbs and staff may be called in the outputs.
func names(f notebook.Front, log *ingest.Log, codes *ingest.Codes) answer.Names {
	n := answer.Names{Public: f.HideBelow > 1}
	quality := f.Audience == notebook.Quality
	n.Staff = quality && (codes != nil || ingest.LooksLikeCode(Staff(log)))
	switch {
	case n.Public:
		n.Why = "Single limbs are not listed, since small counts are hidden in this report."
	case codes != nil, quality && ingest.LooksLikeCode(Persons(log)) && ingest.LooksLikeCode(limbNames(log)):
		n.Show = true
	default:
		n.Why = "Single limbs are not listed, since the identifiers in the log may tell who the person is. Run plybook inspect on the log once: it makes random codes, and they are used from then on."
	}
	return n
}

func limbNames(log *ingest.Log) []string {
	var out []string
	for _, l := range log.Limbs {
		out = append(out, l.Limb)
	}
	return unique(out)
}

// Recode is the log with codes in the place of persons, limbs and staff. A
// limb is called by its person's code and its side; sockets and visits, whose
// numbers may be a lab's own job numbers, by their place in the log.
func Recode(log *ingest.Log, codes *ingest.Codes) *ingest.Log {
	out := *log
	limb, socket, visit := map[string]string{}, map[string]string{}, map[string]string{}
	taken := map[string]bool{}
	person, staff := codes.Persons(), codes.StaffCodes()
	out.Limbs = append([]ingest.Limb(nil), log.Limbs...)
	for i := range out.Limbs {
		l := &out.Limbs[i]
		l.Person = person(l.Person)
		code := l.Person
		if l.Side.Code != "" {
			code += "-" + strings.ToUpper(l.Side.Code[:1])
		}
		for k := 2; taken[code]; k++ {
			code = fmt.Sprintf("%s-%d", strings.TrimSuffix(code, fmt.Sprintf("-%d", k-1)), k)
		}
		taken[code] = true
		limb[l.Limb] = code
		l.Limb = code
	}
	out.Sockets = append([]ingest.Socket(nil), log.Sockets...)
	for i := range out.Sockets {
		socket[out.Sockets[i].Socket] = fmt.Sprintf("S%d", i+1)
	}
	for i := range out.Sockets {
		s := &out.Sockets[i]
		s.Socket, s.Replaces, s.Limb = socket[s.Socket], socket[s.Replaces], limb[s.Limb]
		s.CastBy, s.ShapedBy = staff(s.CastBy), staff(s.ShapedBy)
	}
	out.Stations = append([]ingest.Station(nil), log.Stations...)
	for i := range out.Stations {
		s := &out.Stations[i]
		s.Limb, s.Socket, s.MeasuredBy = limb[s.Limb], socket[s.Socket], staff(s.MeasuredBy)
	}
	out.Visits = append([]ingest.Visit(nil), log.Visits...)
	for i := range out.Visits {
		v := &out.Visits[i]
		visit[v.Visit] = fmt.Sprintf("V%d", i+1)
		v.Visit, v.Socket, v.SeenBy = visit[v.Visit], socket[v.Socket], staff(v.SeenBy)
	}
	out.Findings = append([]ingest.Finding(nil), log.Findings...)
	for i := range out.Findings {
		out.Findings[i].Visit = visit[out.Findings[i].Visit]
	}
	out.Forming = append([]ingest.Forming(nil), log.Forming...)
	for i := range out.Forming {
		f := &out.Forming[i]
		f.Socket, f.FormedBy = socket[f.Socket], staff(f.FormedBy)
	}
	return &out
}

// Covers says whether every person and member of staff of a log has a code.
func Covers(codes *ingest.Codes, log *ingest.Log) bool {
	person, staff := codes.Persons(), codes.StaffCodes()
	for _, p := range Persons(log) {
		if person(p) == "" {
			return false
		}
	}
	for _, s := range Staff(log) {
		if staff(s) == "" {
			return false
		}
	}
	return true
}

// unique gives the distinct values of a list, sorted.
func unique(in []string) []string {
	seen := map[string]bool{}
	var out []string
	for _, s := range in {
		if s != "" && !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	sort.Strings(out)
	return out
}

// Persons are the distinct persons of the log, for whom codes are made.
func Persons(log *ingest.Log) []string {
	var out []string
	for _, l := range log.Limbs {
		out = append(out, l.Person)
	}
	return unique(out)
}

// Staff are the distinct members of staff named in the log.
func Staff(log *ingest.Log) []string {
	var out []string
	for _, s := range log.Sockets {
		out = append(out, s.CastBy, s.ShapedBy)
	}
	for _, v := range log.Visits {
		out = append(out, v.SeenBy)
	}
	for _, s := range log.Stations {
		out = append(out, s.MeasuredBy)
	}
	for _, x := range log.Forming {
		out = append(out, x.FormedBy)
	}
	return unique(out)
}
