package answer_test

import (
	"fmt"
	"strings"
)

// wornOn are lives of one group each, on one day's delivery.
func wornOn(n int, of func(i int) string) sheets {
	var lives []string
	for i := range n {
		lives = append(lives, of(i))
	}
	return kept(lives...)
}

// calmLives are 60 sockets in two groups, all remade or still worn, at times
// that differ.
func calmLives() sheets {
	return wornOn(60, func(i int) string {
		return fmt.Sprintf("%s %s %d %s", []string{"a", "b"}[i%2], []string{"x", "y"}[i/2%2], 30+5*i, []string{"r", "r", "o"}[i%3])
	})
}

// twice are persons with two sockets each.
func twice(persons int) sheets {
	var lives []life
	for k := range 2 * persons {
		lives = append(lives, life{k/2 + 1, 30 * (k % 2), 20 + 7*k%190, "remake: growth", []string{"hand", "vacuum"}[k%2]})
	}
	return lifeLog(lives)
}

// someEnded are 20 sockets of which the first few ended for another reason.
func someEnded(n int, reason string) sheets {
	var lives []life
	for k := 1; k <= 20; k++ {
		l := life{k, 0, 10 * k, "remake: growth", ""}
		if k <= n {
			l.reason = reason
		}
		lives = append(lives, l)
	}
	return lifeLog(lives)
}

// unseenLives are ten sockets, two of them not seen for long.
func unseenLives() sheets {
	lives := []life{{1, 0, 50, "", ""}, {2, 0, 50, "", ""}, {3, 0, 990, "", ""}, {4, 0, 990, "", ""}}
	for k := 1; k <= 6; k++ {
		lives = append(lives, life{4 + k, 0, 100 * k, "remake: growth", ""})
	}
	return lifeLog(lives)
}

func weighedBy(of func(i int) string) sheets {
	return calmLives().lines("sockets", func(i int, l string) string {
		if i < 0 {
			return l + ",stands"
		}
		return l + "," + of(i)
	})
}

// onePerson is a log of one person's sockets in two groups.
func onePerson() sheets {
	var lives []life
	for k := range 8 {
		lives = append(lives, life{1, 100 * k, 40 + 5*k, "remake: growth", []string{"hand", "vacuum"}[k%2]})
	}
	return lifeLog(lives)
}

func curveCautions() []raised {
	const km, ci = "method: kaplan-meier\n", "method: cumulative-incidence\n"
	by := "by: cast_method\n"
	open := wornOn(20, func(i int) string { return fmt.Sprintf("a x %d o", 100+i) })
	few := wornOn(20, func(i int) string { return fmt.Sprintf("a x %d %s", 100+i, []string{"r", "o", "o"}[i%3]) })
	calm := askOf(calmLives(), km+by)
	ciCalm := askOf(calmLives(), ci)
	ciBy := askOf(calmLives(), ci+by)
	early := lifeLog([]life{{1, 0, 50, "remake: growth", ""}, {2, 0, 100, "remake: growth", ""}, {3, 0, 300, "", ""}})
	within := kept("a x 30 r", "a - 80 r", "a x 150 o", "b x 60 r", "b z 140 r", "b z 220 o", "a x 200 o")
	unequal := kept("a x 100 r", "a x 200 o", "a x 360 o", "b x 90 o", "b x 60 r", "b x 120 d")
	equal := kept("a x 100 r", "a x 360 o", "b x 355 o", "b x 60 r")
	unknown := someEnded(3, "unknown")
	lateLives := func(lives ...life) sheets { return lifeLog(lives) }
	cut := "to: " + day(1000)
	return []raised{
		{"kaplan-meier", "no-events", askOf(open, km), calm},
		{"kaplan-meier", "few-events", askOf(few, km), calm},
		{"kaplan-meier", "tail", calm, askOf(kept("a x 30 r", "a x 80 r", "a x 90 o"), km)},
		{"kaplan-meier", "ended-otherwise", askOf(someEnded(2, "stopped wearing"), km), calm},
		{"kaplan-meier", "competing", askOf(someEnded(3, "stopped wearing"), km), askOf(someEnded(2, "stopped wearing"), km)},
		{"kaplan-meier", "ended-later", askIn(early, "early_remake: 60d", km+"event: early-remake"), askIn(early, "early_remake: 60d", km)},
		{"kaplan-meier", "lost", askOf(someEnded(1, "lost to follow-up"), km), calm},
		{"kaplan-meier", "reason-unknown", askOf(unknown, km), calm},
		{"kaplan-meier", "not-seen-twice", askIn(unseenLives(), cut, km+"times: [250d]"), askIn(unseenLives(), "to: "+day(300), km+"times: [250d]")},
		{"kaplan-meier", "no-comparison", askOf(kept("a x 30 r", "a x 80 r"), km+by+"tests: [log-rank]"), calm},
		{"kaplan-meier", "several-tests", askOf(calmLives(), km+by+"tests: [log-rank, peto-peto]"), askOf(calmLives(), km+by+"tests: [peto-peto]")},
		{"kaplan-meier", "many-comparisons", askOf(plainLives(), km+by), calm},
		{"kaplan-meier", "no-clustered-test", askOf(onePerson(), km+by), askOf(twice(30), km+by)},
		{"kaplan-meier", "test-not-clustered", askOf(twice(30), km+by), calm},
		{"kaplan-meier", "missing-strata", askOf(within, km+by+"strata: [site]"), askOf(calmLives(), km+by+"strata: [site]")},
		{"kaplan-meier", "lone-strata", askOf(within, km+by+"strata: [site]"), askOf(calmLives(), km+by+"strata: [site]")},
		{"kaplan-meier", "beyond-follow-up", askOf(calmLives(), km+"times: [9000d]"), askOf(calmLives(), km+"times: [60d]")},
		{"kaplan-meier", "times-hidden", askPublic(calmLives(), km+"times: [40d]"), askOf(calmLives(), km+"times: [40d]")},
		{"kaplan-meier", "followed-unequally", askIn(unequal, "to: 2024-12-26", km+by), askIn(equal, "to: 2024-12-26", km+by)},
		{"kaplan-meier", "few-events-rate", askOf(few, km+"hazard: 20d"), askOf(calmLives(), km+"hazard: 60d")},
		{"kaplan-meier", "no-rate", askPublic(calmLives(), km+"hazard: 10d"), askOf(calmLives(), km+"hazard: 60d")},
		{"kaplan-meier", "no-weight", askOf(weighedBy(func(i int) string { return []string{"2", "", "1", "0"}[i%4] }), km+"weights: stands"),
			askOf(weighedBy(func(int) string { return "2" }), km+"weights: stands")},
		// The first under observation has the event before the others enter.
		{"mathematics", "early-zero", askIn(lateLives(life{1, 90, 40, "remake: growth", ""}, life{2, 0, 300, "remake: growth", ""}, life{3, 10, 250, "", ""}), "log_since: "+day(100), km), calm},
		{"mathematics", "nobody-at-start", askIn(lateLives(life{1, 0, 140, "remake: growth", ""}, life{2, 0, 300, "remake: growth", ""}), "log_since: "+day(100), km), calm},

		{"cumulative-incidence", "no-events", askOf(open, ci), ciCalm},
		{"cumulative-incidence", "few-events", askOf(few, ci), ciCalm},
		{"cumulative-incidence", "tail", ciCalm, askOf(kept("a x 30 r", "a x 80 r", "a x 90 o"), ci)},
		{"cumulative-incidence", "reason-unknown", askOf(unknown, ci), ciCalm},
		{"cumulative-incidence", "not-seen-twice", askIn(unseenLives(), cut, ci+"times: [250d]"), askIn(unseenLives(), "to: "+day(300), ci+"times: [250d]")},
		{"cumulative-incidence", "beyond-follow-up", askOf(calmLives(), ci+"times: [9000d]"), askOf(calmLives(), ci+"times: [60d]")},
		{"cumulative-incidence", "times-hidden", askPublic(calmLives(), ci+"times: [40d]"), askOf(calmLives(), ci+"times: [40d]")},
		{"cumulative-incidence", "many-comparisons", askOf(plainLives(), ci+by), ciBy},
		{"cumulative-incidence", "no-comparison", askOf(endings(40, lifeDays, func(int) string { return "" }, half), ci+"by: g"), ciBy},
		{"cumulative-incidence", "test-not-clustered", askOf(twice(30), ci+by), ciBy},
		{"cumulative-incidence", "no-clustered-test", askOf(lab(labOptions{persons: 30, onePer: true}), ci+by), askOf(twice(30), ci+by)},
	}
}

// ulcers is a log of visits at which an ulcer was found, or was not.
func ulcers(found string) sheets {
	s := visited("hand 30:4 60:4", "hand 30:5 90:5", "hand 20:3")
	s = s.lines("visits", func(i int, l string) string {
		if i < 0 {
			return "visit,skin_checked," + l
		}
		return fmt.Sprintf("V%d,yes,%s", i+1, l)
	})
	return s.with("findings", "visit,region,finding\nV4,fibular head,"+found+"\nV1,fibular head,none\n")
}

// lateLooks are sockets watched from some days on, the third with an event
// between days 30 and 40: what lies between days 50 and 70 hangs on the rows
// that the stretch before leaves, and they leave it open.
func lateLooks() sheets {
	return visited("hand 20:4 50:4 70:12", "hand 30:4 60:4 70:12", "hand 30:4 40:12", "hand 20:4 60:12").lines("sockets", func(i int, l string) string {
		return l + []string{",watched after", ",20", ",30", ",30", ",0"}[i+1]
	})
}

// rareLevel is manyCallers with three limbs of another level.
func rareLevel() sheets {
	var limbs []string
	for i := range 24 {
		limbs = append(limbs, fmt.Sprintf("transtibial %d %d %d", 200+i, 40+i, 90+2*i), fmt.Sprintf("transfemoral %d %d", 190+i, 60+3*i))
	}
	return callers(append(limbs, "transradial 200 60", "transradial 210 70", "transradial 220")...)
}

func lookedCautions() []raised {
	by := loose + "by: cast_method\n"
	calm := askOf(groupsSeen(31), by)
	found := "event: {finding: ulcer}"
	gone := visited("hand 0:12", "hand 30:4 60:4", "hand 30:- 60:-", "digital 30:5 40:10")
	callersCalm := askOf(manyCallers(), walkIns+"by: level\n")
	twoLimbs := sheets{
		"limbs":   "person,side,level,cause,last_seen\nP1,left,transtibial,trauma,2024-12-01\nP1,right,transtibial,trauma,2024-12-01\nP2,left,transtibial,,2024-12-01\n",
		"sockets": "socket,limb,kind,delivered,ended,end_reason\nA,P1-L,definitive,2024-01-01,2024-03-01,remake: volume loss\nB,P1-L,definitive,2024-03-01,2024-06-01,remake: breakage or wear\nC,P1-R,definitive,2024-01-01,2024-02-01,remake: suspension\nD,P2-L,definitive,2024-01-01,,\n",
		"visits":  "visit,socket,date,purpose,skin_checked\nV1,A,2024-02-01,follow-up,yes\n", "findings": "visit,region,finding\nV1,fibular head,ulcer\n",
	}
	const mcf = "method: mean-cumulative\n"
	threeLevels := callers("transtibial 40 10 30", "transtibial 50 10", "transtibial 45", "transfemoral 40 12", "transfemoral 60", "transfemoral 55 20", "transradial 40 30", "transradial 44")
	none := callers("transtibial 40", "transfemoral 50")
	// Two limbs watched early, both die; two more are watched from later on.
	emptied := callers("transtibial 40+ 10", "transtibial 50+ 10", "transtibial 300 280", "transtibial 320 290")
	emptied = emptied.lines("sockets", func(i int, l string) string {
		if i >= 2 {
			return strings.Replace(l, "2024-01-01", "2023-06-01", 1)
		}
		return l
	})
	return []raised{
		{"turnbull", "no-events", askOf(visited("hand 30:4 60:4", "hand 30:5 90:5"), loose), calm},
		{"turnbull", "few-events", askOf(visited("hand 30:5 60:12", "hand 20:4 60:11", "hand 90:5 180:12", "hand 60:3 200:4"), loose), calm},
		{"turnbull", "tail", calm, askOf(visited("hand 30:5 60:12", "hand 20:4 60:11", "hand 90:5 180:12", "hand 60:3 200:4"), loose)},
		{"turnbull", "skin", askOf(ulcers("ulcer"), "method: turnbull\n"+found), calm},
		{"turnbull", "zero-days", askOf(gone, loose), calm},
		{"turnbull", "not-looked-at", askOf(gone, loose), calm},
		{"turnbull", "beyond-follow-up", askOf(groupsSeen(31), loose+"times: [3000d]"), askOf(groupsSeen(31), loose+"times: [60d]")},
		{"turnbull", "times-hidden", askPublic(groupsSeen(31), loose+"times: [40d]"), askOf(groupsSeen(31), loose+"times: [40d]")},
		{"turnbull", "visit-gaps", askOf(groupsSeen(60), by), calm},
		// Two sockets watched from late on, and seen in stretches that meet.
		{"mathematics", "not-unique", askOf(lateLooks(), loose+"entry: watched after"), askOf(lateLooks(), loose)},

		{"mean-cumulative", "missing", askOf(twoLimbs, mcf+"by: cause"), callersCalm},
		{"mean-cumulative", "small-group", askOf(threeLevels, walkIns+"by: level"), callersCalm},
		{"mean-cumulative", "groups-hidden", askPublic(rareLevel(), walkIns+"by: level"), callersCalm},
		{"mean-cumulative", "beyond-follow-up", askOf(manyCallers(), walkIns+"times: [9000d]"), askOf(manyCallers(), walkIns+"times: [150d]")},
		{"mean-cumulative", "times-hidden", askPublic(manyCallers(), walkIns+"times: [45d]"), askOf(manyCallers(), walkIns+"times: [45d]")},
		{"mean-cumulative", "no-comparison", askOf(none, walkIns+"by: level"), callersCalm},
		{"mean-cumulative", "many-comparisons", askOf(threeLevels, walkIns+"by: level"), callersCalm},
		{"mean-cumulative", "no-events", askOf(none, walkIns), callersCalm},
		{"mean-cumulative", "few-events", askOf(threeLevels, walkIns), callersCalm},
		{"mean-cumulative", "tail", callersCalm, askOf(threeLevels, walkIns)},
		{"mean-cumulative", "outside", askIn(twoLimbs, "from: 2024-02-15", mcf), askOf(twoLimbs, mcf)},
		{"mean-cumulative", "skin", askOf(twoLimbs, mcf+"rows: sockets\n"+found), askOf(twoLimbs, mcf)},
		{"mean-cumulative", "not-clustered", askOf(twoLimbs, mcf+"cluster: none"), askOf(twoLimbs, mcf)},
		{"mathematics", "risk-set-emptied", askIn(emptied, "log_since: 2024-01-01", walkIns), callersCalm},
	}
}

func lifeCautionPairs() []raised {
	const km = "method: kaplan-meier\n"
	calm := askOf(calmLives(), km+"by: cast_method")
	zero := wornOn(12, func(i int) string { return fmt.Sprintf("a x %d r", 10*i) })
	seen := "method: kaplan-meier\nseen_as_exact: true\nevent: "
	bare := lifeLog([]life{{1, 0, 30, "remake: growth", "hand"}, {2, 0, 40, "remake: growth", ""}, {3, 0, 50, "remake: growth", "scan"}, {4, 0, 60, "", "hand"}})
	checks := lab(labOptions{persons: 30, checks: true})
	return []raised{
		{"lives", "zero-days", askOf(zero, km), calm},
		{"lives", "not-seen", askIn(unseenLives(), "to: "+day(1000), km), calm},
		{"lives", "few-clusters", askOf(twice(12), km), askOf(twice(45), km)},
		{"lives", "one-cluster", askOf(onePerson(), km), askOf(twice(12), km)},
		{"lives", "no-errors", askOf(lab(labOptions{persons: 30, allEnd: true, sameDay: true}), "method: cox\nby: cast_method"), askOf(twice(45), "method: cox\nby: cast_method")},
		{"lives", "not-clustered", askOf(twice(45), km+"cluster: none"), askOf(twice(45), km)},
		{"lives", "missing", askOf(bare, km+"by: cast_method"), calm},
		{"lives", "small-group", askOf(bare, km+"by: cast_method"), calm},
		{"lives", "groups-hidden", askPublic(wornOn(60, func(i int) string {
			return fmt.Sprintf("%s x %d r", []string{"a", "b"}[min(1, i/8)], 30+4*i)
		}), km+"by: cast_method"), calm},
		{"lives", "seen-as-exact", askOf(visited("hand 30:4 60:12", "hand 30:5 90:5"), seen+"{ply: 10..}"), calm},
		{"lives", "skin", askOf(ulcers("ulcer"), seen+"{finding: ulcer}"), askOf(ulcers("rash"), seen+"{finding: rash}")},
		{"lives", "not-looked-at", askOf(visited("hand 0:12", "hand 30:4 60:4", "hand 30:- 60:-"), seen+"{ply: 10..}"), askOf(visited("hand 30:4 60:12", "hand 30:5 90:5"), seen+"{ply: 10..}")},
		{"lives", "unseen-value", askOf(lab(labOptions{persons: 30}), km+"keep: {cast_method: [hand, vacum]}"), askOf(lab(labOptions{persons: 30}), km+"keep: {cast_method: [hand, vacuum]}")},
		{"safety", "check-socket", askOf(checks, km+"keep: {kind: check}"), calm},
		{"safety", "skin", askOf(ulcers("ulcer"), "method: summary\nrows: findings\ncolumns: [finding]"), askOf(ulcers("rash"), "method: summary\nrows: findings\ncolumns: [finding]")},
	}
}
