package answer_test

import (
	"fmt"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"plybook/ingest"
	"plybook/reports/study"
)

var dayForm = regexp.MustCompile(`\d{4}-\d{2}-\d{2}|\d{1,2} (?:January|February|March|April|May|June|July|August|September|October|November|December) \d{4}`)

// shiftedCodes gives every person of a log a code and a shift.
func shiftedCodes(log *ingest.Log) *ingest.Codes {
	codes := &ingest.Codes{Person: map[string]string{}, Staff: map[string]string{}, Shift: map[string]int{}}
	for i, p := range study.Persons(log) {
		code := fmt.Sprintf("P-%d", i)
		codes.Person[p], codes.Shift[code] = code, 7*(i%10-10)
	}
	for i, s := range study.Staff(log) {
		codes.Staff[s] = fmt.Sprintf("S-%d", i)
	}
	return codes
}

// TestShiftedAnswersAreTheSame asks the same with and without a shift of
// dates: every number, text and drawing is the same but where a day was named.
func TestShiftedAnswersAreTheSame(t *testing.T) {
	var l, s, v strings.Builder
	l.WriteString("person,limb,side,level,born,amputated,last_seen\n")
	s.WriteString("socket,limb,kind,cast_method,referred,delivered,ended,end_reason,replaces,checked\n")
	v.WriteString("socket,date,purpose,ply,comfort\n")
	for i := range 50 {
		fmt.Fprintf(&l, "P%d,P%dL,left,TT,%d,%s,%s\n", i, i, 1940+i, day(-400-i), day(480+i))
		for k := range 2 {
			ended, reason, replaces := "", "", ""
			if i%3 > 0 && k == 0 {
				ended, reason = day(60+i*4), []string{"volume loss", "pain or pressure", "moved away"}[i%3]
			}
			if k == 1 {
				replaces = fmt.Sprintf("S%d-0", i)
			}
			fmt.Fprintf(&s, "S%d-%d,P%dL,definitive,%s,%s,%s,%s,%s,%s,%s\n", i, k, i, []string{"hand", "vacuum"}[(i+k)%2], day(i-30+k*200), day(i+k*250), ended, reason, replaces, day(i+90))
			for j := range 3 {
				fmt.Fprintf(&v, "S%d-%d,%s,follow-up,%d,%d\n", i, k, day(i+k*250+20+30*j), 1+(i+j)%4+j, 9-(i*j+k)%6)
			}
		}
	}
	var m strings.Builder
	m.WriteString("limb,date,landmark,station_mm,limb_mm,measured_by\n")
	for i := range 50 {
		for k, by := range []string{"LM", "JB"} {
			fmt.Fprintf(&m, "P%dL,%s,MPT,50,%d,%s\n", i, day(i), 300+i%7*3+k*(i%3), by)
		}
	}
	log := readLog(t, sheets{"limbs": l.String(), "sockets": s.String(), "visits": v.String(), "stations": m.String()})
	asks := []string{
		"id: km\nmethod: kaplan-meier\nby: cast_method\ntimes: [90d, 1y]\nuntil: 1y\nhazard: 60d",
		"id: km-start\nmethod: kaplan-meier\nstart: referred",
		"id: km-end\nmethod: kaplan-meier\nend: checked",
		"id: km-entry\nmethod: kaplan-meier\nentry: checked",
		"id: km-landmark\nmethod: kaplan-meier\nlandmark: 30d\nby: cast_method",
		"id: cox\nmethod: cox\nadjust: [cast_method, age, turnaround_days]",
		"id: varying\nmethod: cox\nadjust: [cast_method]\nvarying: [ply]",
		"id: incidence\nmethod: cumulative-incidence\nby: cast_method\ntimes: [180d]",
		"id: mcf\nmethod: mean-cumulative\nrows: limbs\ntimes: [1y]",
		"id: weibull\nmethod: weibull\nby: cast_method",
		"id: turnbull\nmethod: turnbull\nevent: {comfort: ..5}",
		"id: mixed\nmethod: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\nadjust: [months_since_amputation]",
		"id: linear\nmethod: linear\nrows: visits\noutcome: comfort\nadjust: [ply, follow_up_days]",
		"id: summary\nmethod: summary\ncolumns: [age, born, follow_up_days, months_since_amputation, early_remake]\nby: cast_method",
		"id: bars\nmethod: pareto\nrows: sockets\nby: end_reason\nkeep: {ended: known}",
		"id: plan\nmethod: sample-size\nratios: [0.5]\nuntil: 120d",
		"id: flow\nmethod: flow\nevent: remake",
		"id: gamma\nmethod: generalised-gamma\nby: cast_method",
		"id: logistic\nmethod: logistic\nrows: visits\noutcome: {comfort: 7..}\nadjust: [ply]",
		"id: poisson\nmethod: poisson\nrows: persons\nevent: {comfort: ..5}\nadjust: [age]",
		"id: twice\nmethod: agreement\nrows: stations\noutcome: limb_mm\nways: measured_by\nsame: [limb, date, landmark, station_mm]",
	}
	codes := shiftedCodes(log)
	plain := answersOnce(t, log, codes, quality, asks...)
	moved := answersOnce(t, log, codes, quality+"\nshift_dates: 70d", asks...)
	for id, a := range plain {
		b := moved[id]
		if a.Error != nil || b.Error != nil {
			t.Errorf("%s: %v, %v", id, a.Error, b.Error)
			continue
		}
		x, y := fingerprint(a), fingerprint(b)
		// The log ends on one day, which a shifted report does not name.
		for _, d := range []string{day(530), day(529), day(501), day(470)} {
			x = strings.ReplaceAll(x, d, "the end of the log")
		}
		if x != y {
			t.Errorf("%s differs:\n%s\n%s", id, x, y)
		}
		if !reflect.DeepEqual(a.Rows, b.Rows) || a.Events != b.Events {
			t.Errorf("%s: %d rows and %d", id, a.Rows, b.Rows)
		}
		if found := dayForm.FindString(strings.Join(printed(b), "\n") + fmt.Sprint(b.Tables)); found != "" {
			t.Errorf("%s names a day: %s", id, found)
		}
	}
}

// What takes a date for a day of the calendar is refused with a sentence at
// its place; the same is answered without a shift.
func TestShiftRefusesTheCalendar(t *testing.T) {
	var l, s, v strings.Builder
	l.WriteString("person,limb,side,level\n")
	s.WriteString("socket,limb,kind,cast_method,delivered,ended,end_reason,checked\n")
	v.WriteString("socket,date,purpose,ply,comfort\n")
	for i := range 40 {
		fmt.Fprintf(&l, "P%d,P%dL,left,TT\n", i, i)
		ended, reason := "", ""
		if i%2 == 0 {
			ended, reason = day(150+i), "volume loss"
		}
		fmt.Fprintf(&s, "S%d,P%dL,definitive,%s,%s,%s,%s,%s\n", i, i, []string{"hand", "vacuum"}[i%2], day(i*3), ended, reason, day(i*3+40))
		fmt.Fprintf(&v, "S%d,%s,follow-up,%d,%d\nS%d,%s,follow-up,%d,%d\n", i, day(i*3+30), 1+i%4, 5+i%4, i, day(i*3+60), 2+i%3, 4+i%5)
	}
	log := readLog(t, sheets{"limbs": l.String(), "sockets": s.String(), "visits": v.String()})
	codes := shiftedCodes(log)
	refused := []string{
		"id: chart\nmethod: control-chart\nrows: visits\nnumerator: {comfort: ..6}\nperiod: month",
		"id: kept\nmethod: kaplan-meier\nkeep: {delivered: " + day(0) + "..}",
		"id: kept-own\nmethod: kaplan-meier\nkeep: {any: [{own.checked: " + day(0) + "..}, {cast_method: hand}]}",
		"id: described\nmethod: summary\ncolumns: [delivered]",
		"id: described-own\nmethod: summary\nrows: sockets\ncolumns: [checked]",
		"id: event\nmethod: kaplan-meier\nevent: {date: " + day(50) + "..}\nseen_as_exact: true",
	}
	plain := answersOnce(t, log, codes, quality, refused...)
	refused = append(refused, // of which so short a log tells nothing
		"id: before\nmethod: pareto\nrows: visits\nby: purpose\nchange: "+day(80),
		"id: change\nmethod: segmented\nrows: visits\noutcome: comfort\nperiod: month\nchange: "+day(80),
		"id: watched\nmethod: watch\nahead: 60d\nadjust: [cast_method]")
	moved := answersOnce(t, log, codes, quality+"\nshift_dates: 70d", refused...)
	for id := range moved {
		e := moved[id].Error
		if e == nil || e.Code != "needs-true-dates" || !strings.Contains(e.Text, "shift_dates") || e.Line == 0 {
			t.Errorf("%s: %+v", id, e)
		}
		if id != "change" && id != "watched" && id != "before" && plain[id].Error != nil {
			t.Errorf("%s cannot be asked without a shift either: %v", id, plain[id].Error)
		}
	}
}
