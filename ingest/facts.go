package ingest

import (
	"fmt"
	"slices"
	"sort"
)

// checkRows looks for what cannot be within one row.
func (r *reader) checkRows(table string) {
	for _, rec := range r.used(table) {
		switch table {
		case TableLimbs:
			r.checkLimb(rec)
		case TableSockets:
			r.checkSocket(rec)
		}
	}
}

func (r *reader) checkLimb(rec *record) {
	born := rec.get("born")
	for _, name := range []string{"amputated", "died", "last_seen"} {
		f := rec.index(name)
		v := rec.val(f)
		if !v.ok || !born.ok {
			continue
		}
		if y, _, _ := v.date().Split(); y < int(born.num) {
			r.drop(rec, f, CodeBeforeBirth, "a date after birth", fmt.Sprintf("%s is before the year of birth in %s", r.quote(rec, f), rec.cellAt(rec.index("born"), rec)))
		}
	}
	died := rec.get("died")
	for _, name := range []string{"amputated", "last_seen"} {
		f := rec.index(name)
		if v := rec.val(f); v.ok && died.ok && v.date() > died.date() {
			r.drop(rec, f, CodeAfterDeath, "a date not after death", fmt.Sprintf("%s is after the date of death in %s", r.quote(rec, f), rec.cellAt(rec.index("died"), rec)))
		}
	}
}

func (r *reader) checkSocket(rec *record) {
	delivered := rec.get("delivered")
	at := func() string { return rec.cellAt(rec.index("delivered"), rec) }
	if ended := rec.get("ended"); ended.ok && delivered.ok && ended.date() < delivered.date() {
		f := rec.index("ended")
		r.dropRow(rec, f, CodeEndedBefore, "a date not before delivery", fmt.Sprintf("the socket ended (%s) before it was delivered (%s in %s), which makes a negative life", ended.date(), delivered.date(), at()))
		return
	}
	if decided := rec.get("remake_decided"); decided.ok && delivered.ok && decided.date() < delivered.date() {
		r.drop(rec, rec.index("remake_decided"), CodeNegativeLife, "a date not before delivery", fmt.Sprintf("the remake was decided (%s) before delivery (%s in %s), which makes a negative life", decided.date(), delivered.date(), at()))
	}
	for _, name := range []string{"referred", "ordered", "cast_on"} {
		f := rec.index(name)
		if v := rec.val(f); v.ok && delivered.ok && v.date() > delivered.date() {
			r.drop(rec, f, CodeOrderOfDates, "a date not after delivery", fmt.Sprintf("%s (%s) is after delivery (%s in %s)", name, v.date(), delivered.date(), at()))
		}
	}
	referred, ordered := rec.get("referred"), rec.get("ordered")
	if referred.ok && ordered.ok && referred.date() > ordered.date() {
		r.keep(rec, rec.index("referred"), CodeOrderOfDates, "a date not after the order", fmt.Sprintf("the referral (%s) is after the order (%s in %s)", referred.date(), ordered.date(), rec.cellAt(rec.index("ordered"), rec)))
	}
	reason := rec.get("end_reason")
	if reason.ok && !rec.get("ended").ok && !rec.get("remake_decided").ok {
		r.keep(rec, rec.index("end_reason"), CodeReasonNoDate, "a date in ended", "a reason is given for the end but no date, so the socket counts as open unless another replaces it")
	}
}

// checkFacts compares rows of the same person, limb, socket and visit.
func (r *reader) checkFacts() {
	r.checkPersons()
	r.checkReplaces()
	r.checkStationSockets()
	r.checkLives()
	r.checkVisitFindings()
}

// personFacts are facts of a person that each of their limbs may state.
var personFacts = []string{"born", "sex", "died"}

// checkPersons finds limbs of one person that disagree, keeps the first
// statement, and gives each limb the facts that another states.
func (r *reader) checkPersons() {
	byPerson := map[string][]*record{}
	for _, rec := range r.used(TableLimbs) {
		p := rec.get("person").text
		byPerson[p] = append(byPerson[p], rec)
	}
	for _, rec := range r.used(TableLimbs) { // in row order
		limbs := byPerson[rec.get("person").text]
		if limbs[0] != rec {
			continue
		}
		for _, name := range personFacts {
			f := rec.index(name)
			var first *record
			for _, l := range limbs {
				switch v := l.val(f); {
				case !v.ok:
				case first == nil:
					first = l
				case v.num != first.val(f).num || v.code != first.val(f).code:
					r.drop(l, f, CodePersonFacts, "the same "+name+" for each limb of a person", fmt.Sprintf("%s differs from %s, another limb of the same person; the first is used", name, first.cellAt(f, l)))
				}
			}
			if first == nil {
				continue
			}
			for _, l := range limbs {
				if !l.val(f).ok {
					l.set(f, first.val(f))
				}
			}
		}
	}
	var sockets, visits map[string][]*record
	for _, limb := range r.used(TableLimbs) {
		if !limb.get("died").ok && !limb.get("born").ok && !limb.get("amputated").ok {
			continue // nothing that the dates could contradict
		}
		if visits == nil {
			sockets, visits = r.byText(TableSockets, "limb"), r.byText(TableVisits, "socket")
		}
		r.checkLimbDates(limb, byPerson[limb.get("person").text], sockets[limb.get("limb").text], visits)
	}
}

// byText are the records of a table in use by the text of a field.
func (r *reader) byText(table, field string) map[string][]*record {
	out := map[string][]*record{}
	f := fieldIndex(table, field)
	for _, rec := range r.used(table) {
		out[rec.storedText(f)] = append(out[rec.storedText(f)], rec)
	}
	return out
}

// checkLimbDates compares a limb's and person's dates with what was done for
// them. A person seen or supplied after the recorded death, or before birth,
// shows that the death or birth is wrong.
func (r *reader) checkLimbDates(limb *record, limbs []*record, sockets []*record, visits map[string][]*record) {
	dropAll := func(name, code, want, sentence string) {
		f := limb.index(name)
		for _, l := range limbs {
			if !l.val(f).ok {
				continue
			}
			if l.text(f) == "" { // copied from another limb
				l.set(f, value{})
				continue
			}
			r.drop(l, f, code, want, sentence)
		}
	}
	for _, s := range sockets {
		dated := []*record{s}
		dated = append(dated, visits[s.get("socket").text]...)
		for _, rec := range dated {
			name := "date"
			if rec == s {
				name = "delivered"
			}
			v := rec.get(name)
			if !v.ok {
				continue
			}
			at := func() string { return rec.cellAt(rec.index(name), limb) }
			if died := limb.get("died"); died.ok && v.date() > died.date() {
				dropAll("died", CodeAfterDeath, "a date of death not before the last visit", fmt.Sprintf("the person was seen or supplied on %s (%s), after the date of death", v.date(), at()))
			}
			if born := limb.get("born"); born.ok {
				if y, _, _ := v.date().Split(); y < int(born.num) {
					dropAll("born", CodeBeforeBirth, "a year of birth before the first visit", fmt.Sprintf("the person was seen or supplied on %s (%s), before the year of birth", v.date(), at()))
				}
			}
			if f := limb.index("amputated"); rec == s && limb.val(f).ok && limb.val(f).date() > v.date() {
				r.drop(limb, f, CodeOrderOfDates, "a date before the first delivery", fmt.Sprintf("a socket was delivered on %s (%s), before the amputation", v.date(), at()))
			}
		}
	}
}

// checkReplaces clears links that cannot be.
func (r *reader) checkReplaces() {
	f := fieldIndex(TableSockets, "replaces")
	replacing := func(s *record) bool { return s.known(f) }
	if !slices.ContainsFunc(r.used(TableSockets), replacing) {
		return
	}
	byID := map[string]*record{}
	for _, s := range r.used(TableSockets) {
		byID[s.get("socket").text] = s
	}
	for _, s := range r.used(TableSockets) {
		if !replacing(s) {
			continue
		}
		old := byID[s.val(f).text]
		switch {
		case old == s:
			r.drop(s, f, CodeReplacesOneself, "another socket", "the socket is said to replace itself")
			continue
		case old == nil:
			continue
		case old.get("limb").text != s.get("limb").text:
			r.drop(s, f, CodeReplacesOther, "a socket of the same limb", fmt.Sprintf("%s belongs to another limb (%s)", r.other(s, f, "socket"), old.where(s)))
			continue
		}
		was, now := old.get("delivered"), s.get("delivered")
		if was.ok && now.ok && now.date() < was.date() {
			r.drop(s, f, CodeNegativeLife, "an earlier socket", fmt.Sprintf("%s was delivered later (%s in %s) than this one (%s), so it cannot have been replaced by it", r.other(s, f, "socket"), was.date(), old.cellAt(old.index("delivered"), s), now.date()))
		}
	}
}

func (r *reader) checkStationSockets() {
	if len(r.recs[TableStations]) == 0 {
		return
	}
	limbOf := map[string]string{}
	for _, s := range r.used(TableSockets) {
		limbOf[s.get("socket").text] = s.get("limb").text
	}
	for _, st := range r.used(TableStations) {
		f := st.index("socket")
		if v := st.val(f); v.ok && limbOf[v.text] != st.get("limb").text {
			r.drop(st, f, CodeStationOtherLimb, "a socket of the limb measured", fmt.Sprintf("%s belongs to another limb", r.other(st, f, "socket")))
		}
	}
}

// checkLives asks about sockets whose end is not recorded.
func (r *reader) checkLives() {
	replaced := map[string]bool{}
	byLimb := map[string][]*record{}
	for _, s := range r.used(TableSockets) {
		if v := s.get("replaces"); v.ok && s.get("delivered").ok {
			replaced[v.text] = true
		}
		if s.get("delivered").ok && s.get("kind").code != "check" {
			byLimb[s.get("limb").text] = append(byLimb[s.get("limb").text], s)
		}
	}
	for _, limb := range r.used(TableLimbs) {
		sockets := byLimb[limb.get("limb").text]
		sort.SliceStable(sockets, func(i, j int) bool { return sockets[i].get("delivered").num < sockets[j].get("delivered").num })
		died := limb.get("died")
		for i, s := range sockets {
			if s.get("ended").ok || s.get("remake_decided").ok || replaced[s.get("socket").text] {
				continue
			}
			f := s.index("ended")
			if died.ok {
				r.keep(s, f, CodeOpenAtDeath, "the end of the socket", fmt.Sprintf("the person died on %s (%s) and the socket has no end; its life ends at death", died.date(), limb.cellAt(limb.index("died"), s)))
				continue
			}
			if later := nextEveryday(s, sockets[i+1:]); later != nil {
				open := !later.get("ended").ok && !replaced[later.get("socket").text]
				at := later.cellAt(later.index("delivered"), s)
				if open && s.get("use").code == "everyday" && later.get("use").code == "everyday" {
					r.keep(s, f, CodeTwoEveryday, "one everyday socket in use", fmt.Sprintf("%s (%s) is an everyday socket of the same limb and open too; are both worn?", r.other(later, later.index("socket"), "socket"), at))
				} else {
					r.keep(s, f, CodeNoEnding, "ended and end_reason, or replaces on the later socket", fmt.Sprintf("%s of the same limb was delivered later (%s) and this one has no end; is it still worn?", r.other(later, later.index("socket"), "socket"), at))
				}
			}
		}
	}
}

// nextEveryday finds the next socket that would take the place of s: one of
// the same kind or a definitive, both for everyday use.
func nextEveryday(s *record, later []*record) *record {
	everyday := func(rec *record) bool { u := rec.get("use"); return !u.ok || u.code == "everyday" }
	if !everyday(s) {
		return nil
	}
	for _, l := range later {
		if everyday(l) && (l.get("kind").code == s.get("kind").code || l.get("kind").code == "definitive") {
			return l
		}
	}
	return nil
}

// checkVisitFindings looks for visits whose findings contradict each other,
// and reads a bare "redness" with its fading time.
func (r *reader) checkVisitFindings() {
	r.checkLookAlikes()
	if len(r.recs[TableFindings]) == 0 {
		return
	}
	recs := r.used(TableVisits)
	visits := make(map[string]*record, len(recs))
	for _, v := range recs {
		visits[v.get("visit").text] = v
	}
	byVisit := map[string][]*record{}
	for _, rec := range r.used(TableFindings) {
		byVisit[rec.get("visit").text] = append(byVisit[rec.get("visit").text], rec)
	}
	for _, rec := range r.used(TableFindings) {
		id := rec.get("visit").text
		f := rec.index("finding")
		if rec.get("finding").code == "none" {
			for _, other := range byVisit[id] {
				if other.get("finding").code != "none" && (other.get("region").code == rec.get("region").code || rec.get("region").code == "none") {
					r.keep(rec, f, CodeFindingNotNone, "none, or a finding", fmt.Sprintf("the visit has the finding %q too (%s)", other.get("finding").code, other.where(rec)))
					break
				}
			}
			continue
		}
		if v := visits[id]; v != nil && v.get("skin_checked").code == "no" && byVisit[id][0] == rec {
			r.keep(rec, f, CodeSkinNotChecked, "skin_checked yes", fmt.Sprintf("a finding is recorded though skin_checked is no (%s); the skin counts as looked at", v.cellAt(v.index("skin_checked"), rec)))
		}
	}
}

// checkLookAlikes asks about visits that differ in nothing but their
// identifier: one visit entered twice under two numbers looks like that.
func (r *reader) checkLookAlikes() {
	f := fieldIndex(TableVisits, "visit")
	named := make([]*record, 0, len(r.recs[TableVisits]))
	for _, v := range r.used(TableVisits) {
		if v.text(f) != "" {
			named = append(named, v)
		}
	}
	for i, prior := range r.priors(named, f+1) { // the identifier stands first
		r.keep(named[i], f, CodeLookAlike, "each visit once", fmt.Sprintf("the visit differs from %s in nothing but its identifier; was it entered twice?", prior.where(named[i])))
	}
}
