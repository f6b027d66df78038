package answer_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
)

// outlier is 40 sockets with a number of their own, which tells nothing but
// for one socket that may have it far higher than the others, and is the first
// to be remade.
func outlier(far int) sheets {
	return wornOn(40, func(i int) string { return fmt.Sprintf("a x %d r", 30+6*i) }).lines("sockets", func(i int, l string) string {
		switch {
		case i < 0:
			return l + ",thing"
		case i == 0:
			return l + fmt.Sprintf(",%d", far)
		}
		return l + fmt.Sprintf(",%d", 7*i%5)
	})
}

// rooms adds a number and one of two rooms to each socket.
func rooms() sheets {
	return outlier(4).lines("sockets", func(i int, l string) string {
		if i < 0 {
			return l + ",worn,room"
		}
		return l + fmt.Sprintf(",%d,r%d", 20+i*i%37, i%2)
	})
}

// crossed are two groups, the one remade early, the other late.
func crossed() sheets {
	var lives []life
	for k := range 60 {
		l := life{k + 1, 0, 20 + 3*k, "remake: growth", "early"}
		if k%2 == 1 {
			l = life{k + 1, 0, 150 + k/4, "remake: growth", "late"}
		}
		lives = append(lives, l)
	}
	return lifeLog(lives)
}

func coxCautions() []raised {
	const cox = "method: cox\n"
	by := cox + "by: cast_method\n"
	calm := askOf(calmLives(), by)
	dia := by + "diagnostics: yes\ntimes: [60d]"
	oneDay := wornOn(60, func(i int) string {
		return fmt.Sprintf("%s x %d %s", []string{"a", "b"}[i%2], 50+50*(i%3/2), []string{"r", "r", "o"}[i%3])
	})
	visits := varyingPly
	still := wornLog(60, func(i, _ int) [][3]string {
		return [][3]string{{"0", fmt.Sprint(3 + i%5), "8"}, {"40", fmt.Sprint(3 + i%5), "8"}}
	})
	latePly := wornLog(60, func(i, _ int) [][3]string {
		if i < 10 {
			return [][3]string{{"30", fmt.Sprint(3 + i%5), "8"}}
		}
		return usual(i, 0)
	})
	repeats := "method: cox\nevent: {purpose: walk-in}\nadjust: [level, cause]\nrepeats: total-time\n"
	log := repeatLog(60)
	twiceADay := log.with("visits", log["visits"]+fmt.Sprintf("E1,S3,%s,walk-in,3\nE2,S3,%s,walk-in,4\n", day(388), day(388)))
	broken := log.with("visits", strings.Replace(log["visits"], "purpose,ply", "purpose,ply", 1)).with("findings", "visit,region,finding\nV1-0,fibular head,ulcer\nV2-0,fibular head,ulcer\nV5-0,fibular head,ulcer\nV6-1,fibular head,ulcer\nV9-0,fibular head,ulcer\n")
	separated := lifeLog(separatedLives())
	idle, telling := idleAndTelling()
	alike := proneLives(30, 0, three)
	for i := range alike {
		alike[i].days, alike[i].group = []int{100, 200, 300}[i%3]+i/3, []string{"hand", "vacuum"}[i/2%2]
	}
	frail := askOf(lifeLog(proneLives(42, 1.2, three)), frailAsk+"gamma")
	ridge := by + "penalty: ridge\npenalty_size: 2\n"
	twins := twice(30)
	return []raised{
		{"cox", "few-events", askOf(wornOn(12, func(i int) string {
			return fmt.Sprintf("%s x %d %s", []string{"a", "b"}[i%2], 40+i*i%17, []string{"r", "r", "o"}[i%3])
		}), by), calm},
		{"cox", "not-clustered", askOf(twins, by+"ties: discrete"), askOf(twins, by)},
		{"cox", "proportionality", askOf(separated, by), calm},
		{"cox", "non-proportional", askOf(crossed(), by), calm},
		{"cox", "beyond-follow-up", askOf(calmLives(), by+"times: [9000d]\nprofiles: [{cast_method: a}]"), askOf(calmLives(), by+"times: [60d]\nprofiles: [{cast_method: a}]")},
		{"cox", "separation", askOf(separated, by), calm},
		{"cox", "nothing-missing", askOf(calmLives(), by+"adjust: [site]\nmissing: impute\nimputations: 5"), askOf(calmLives().lines("sockets", func(i int, l string) string {
			if i%10 == 3 {
				return strings.TrimRight(l, "xy")
			}
			return l
		}), by+"adjust: [site]\nmissing: impute\nimputations: 5")},
		{"cox", "few-in-part", askOf(calmLives(), by+"split: {cast_method: 70d}"), askOf(calmLives(), by+"split: {cast_method: 180d}")},
		{"cox", "parts-hidden", askPublic(calmLives(), by+"split: {cast_method: 70d}"), askOf(calmLives(), by+"split: {cast_method: 70d}")},
		{"cox", "parts-not-tested", askOf(separated, by+"split: {cast_method: 120d}"), askOf(calmLives(), by+"split: {cast_method: 180d}")},
		{"cox", "ridge", askOf(calmLives(), ridge), calm},
		{"cox", "missing", askOf(latePly, visits), askOf(wornLog(60, usual), visits)},
		{"cox", "no-changes", askOf(still, visits), askOf(wornLog(60, usual), visits)},
		{"cox", "carried-forward", askOf(wornLog(60, usual), visits), calm},
		{"cox", "internal", askOf(wornLog(60, usual), visits), calm},
		{"cox", "numbers-hidden", askPublic(twiceADay, repeats), askOf(log, repeats)},
		{"cox", "few-repeats", askOf(twiceADay, repeats+"strata: [event_number]"), askOf(log, repeats+"strata: [event_number]")},
		{"cox", "same-day", askOf(twiceADay, repeats), askOf(log, repeats)},
		{"cox", "late-numbers", askIn(log, "log_since: "+day(30), repeats), askOf(log, repeats)},
		{"cox", "outside", askIn(log, "log_since: "+day(90), repeats), askOf(log, repeats)},
		{"cox", "skin", askOf(broken, "method: cox\nevent: {finding: ulcer}\nadjust: [level]\nrepeats: total-time"), askOf(log, repeats)},
		{"cox", "effect-over-time", askOf(oneDay, dia), askOf(calmLives(), dia)},
		{"cox", "influence", askOf(outlier(15), cox+"adjust: [thing]\ndiagnostics: yes\ntimes: [60d]"), askOf(outlier(4), cox+"adjust: [thing]\ndiagnostics: yes\ntimes: [60d]")},
		{"cox", "sockets-hidden", askPublic(calmLives(), dia), askOf(calmLives(), dia)},
		{"cox", "accuracy", askIn(crossed(), "log_since: "+day(10), dia), askOf(crossed(), dia)},
		{"cox", "no-better", askOf(lifeLog(idle), by+"diagnostics: yes\ntimes: [60d, 150d, 300d]"), askOf(lifeLog(telling), by+"diagnostics: yes\ntimes: [60d, 150d, 300d]")},
		{"cox", "few-groups", askOf(lifeLog(proneLives(6, 1.5, three)), frailAsk+"gamma"), frail},
		{"cox", "few-shared", askOf(lifeLog(proneLives(60, 1.2, func(k int) int { return 1 + min(k/50, 1) })), frailAsk+"gamma"), frail},
		{"cox", "no-frailty", askOf(lifeLog(alike), frailAsk+"gamma"), frail},
		{"cox", "laplace", askOf(lifeLog(proneLives(42, 1.2, func(int) int { return 2 })), frailAsk+"log-normal"), askOf(lifeLog(proneLives(42, 1.2, three)), frailAsk+"log-normal")},
		{"cox", "late-frailty", askIn(lifeLog(proneLives(42, 1.2, three)), "log_since: 2023-02-01", frailAsk+"gamma"), frail},
		{"cox", "groups-hidden", askPublic(lifeLog(proneLives(42, 1.2, three)), frailAsk+"gamma"), frail},
		{"cox", "uneven-groups", askOf(lifeLog(proneLives(42, 1.2, func(k int) int { return 1 + k%7/2 })), frailAsk+"gamma"), frail},
		// Two rooms, two columns: no joint test can allow for them.
		{"mathematics", "few-clusters", askOf(rooms(), cox+"adjust: [thing, worn]\ncluster: room"), askOf(rooms(), cox+"adjust: [thing, worn]")},
	}
}

// idleAndTelling are lives in groups that say nothing of them, and much.
func idleAndTelling() (idle, telling []life) {
	for k := 1; k <= 80; k++ {
		days := 20 + 7*(k*37%80)
		idle = append(idle, life{k, 0, days, "remake: growth", []string{"hand", "vacuum"}[(k*37%80+1)/2%2]})
		group := "hand"
		if days > 300 != (k%9 == 0) {
			group = "vacuum"
		}
		telling = append(telling, life{k, 0, days, "remake: growth", group})
	}
	return idle, telling
}

func modelCautionPairs() []raised {
	const fg = "method: fine-gray\nby: g\n"
	rich := endings(120, lifeDays, remakesAndDeaths, half)
	calm := askOf(rich, fg)
	never := func(i int) string { return []string{"remake: volume loss", ""}[i%2] }
	dies := func(i int) bool { return half(i) == "b" && i%4 != 0 }
	reason := func(i int) string {
		switch {
		case dies(i):
			return "died"
		case half(i) == "a" && i%4 == 0:
			return ""
		}
		return "remake: volume loss"
	}
	early := func(i int) int {
		switch {
		case dies(i):
			return 1 + i%20
		case half(i) == "b":
			return lifeDays(i) * 3 / 4
		}
		return lifeDays(i)
	}
	// Of group b all die early but one, which is remade when nobody of group a is
	// left in use: those who died stay in the comparison of shares alone.
	lone := endings(80, func(i int) int {
		switch {
		case i == 6:
			return 400
		case half(i) == "b":
			return 5 + i%10
		case i%4 == 0:
			return 50
		}
		return 100 + i
	}, func(i int) string {
		if i == 6 || half(i) == "a" && i%4 != 0 {
			return "remake: volume loss"
		}
		return "died"
	}, half)
	// Few are followed to the end, so that how many would have been is known
	// only roughly.
	r := rand.New(rand.NewPCG(203, 3))
	r.IntN(40)
	r.IntN(6)
	days, ends := make([]int, 56), make([]string, 56)
	for i := range days {
		days[i] = 5 + r.IntN(300)
		if r.IntN(8) >= 4 {
			ends[i] = []string{"died", "remake: volume loss"}[r.IntN(2)]
		}
	}
	unsure := endings(56, func(i int) int { return days[i] }, func(i int) string { return ends[i] }, func(i int) string { return []string{"a", "b"}[i%2] })
	weibull := "method: weibull\nby: cast_method\n"
	parametric := askOf(livesLog(spread(80)), "method: log-normal\nby: cast_method\ntimes: [90d]")
	compared := askOf(livesLog(weibullLives(200, 300, 2, 0)), "method: weibull\ncompare: all\ntimes: [300d]")
	var alike, mixed []lifeRow
	for i := range 60 {
		alike = append(alike, lifeRow{300 + i, true, "hand"})
	}
	for i := range 80 {
		mixed = append(mixed, lifeRow{20 + i%5, true, "hand"}, lifeRow{900 + i%50, true, "hand"})
	}
	small := spread(80)
	for i := range small {
		if small[i].method == "vacuum" && i > 6 {
			small[i].method = "hand"
		}
	}
	parting := livesLog(weibullLives(200, 1200, 1.3, 240))
	wall := livesLog([]lifeRow{{1, true, "hand"}, {600, true, "hand"}, {990, true, "hand"}, {995, true, "hand"}, {1000, true, "hand"}})
	several := lab(labOptions{persons: 60})
	cox := "method: cox\nby: cast_method\n"
	bare := lifeLog([]life{{1, 0, 30, "remake: growth", "hand"}, {2, 0, 40, "remake: growth", ""}, {3, 0, 50, "remake: growth", "scan"}, {4, 0, 60, "", "hand"}, {5, 0, 20, "remake: growth", "scan"}})
	calmCox := askOf(calmLives(), cox)
	return []raised{
		{"fine-gray", "few-events", askOf(endings(30, lifeDays, remakesAndDeaths, half), fg+"event: [breakage or wear]"), calm},
		{"fine-gray", "beyond-follow-up", askOf(rich, fg+"profiles: [{g: a}]\ntimes: [9000d]"), askOf(rich, fg+"profiles: [{g: a}]\ntimes: [60d]")},
		{"fine-gray", "no-competing", askOf(endings(80, lifeDays, never, half), fg), calm},
		{"fine-gray", "late-entry", askIn(rich, "log_since: 2023-03-01", fg), calm},
		{"fine-gray", "no-cause-specific", askOf(lone, fg), calm},
		{"fine-gray", "weights-uncertain", askOf(unsure, fg), calm},
		{"fine-gray", "directions-differ", askOf(endings(240, early, reason, half), fg), calm},

		{"parametric", "few-events", askOf(livesLog(spread(12)), weibull), parametric},
		{"parametric", "extrapolated", askOf(livesLog(spread(80)), "method: weibull\ntimes: [90d, 20y]"), parametric},
		{"parametric", "poor-fit", askOf(livesLog(alike), "method: exponential"), parametric},
		{"parametric", "misfit", askOf(livesLog(alike), "method: exponential"), parametric},
		{"parametric", "one-cluster", askOf(lab(labOptions{persons: 30, onePer: true}), "method: weibull"), parametric},
		{"parametric", "aic-not-clustered", askOf(several, weibull), parametric},
		{"parametric", "small-group", askOf(livesLog(small), weibull), parametric},
		{"parametric", "skin", askOf(ulcers("ulcer"), "method: exponential\nevent: {finding: ulcer}"), askOf(ulcers("rash"), "method: exponential\nevent: {finding: rash}")},
		{"parametric", "compared-beyond", askOf(parting, "method: weibull\ncompare: [log-normal, log-logistic]\ntimes: [200d]"), compared},
		{"parametric", "curves-disagree", askOf(parting, "method: weibull\ncompare: [log-normal, log-logistic]\ntimes: [200d]"), compared},
		{"parametric", "none-fits", askOf(livesLog(mixed), "method: weibull\ncompare: [log-normal, log-logistic]\ntimes: [200d]"), compared},
		{"parametric", "not-fitted", askOf(wall, "method: weibull\ncompare: all"), compared},

		{"models", "missing", askOf(bare, cox), calmCox},
		{"models", "interaction", askOf(several, "method: cox\nby: level\nadjust: [age]\ninteract: [[level, age]]"), calmCox},
		{"models", "many-comparisons", askOf(several, "method: cox\nadjust: [age, level, cause, sex, number, reduction_pct]"), calmCox},
		{"models", "repeatability", askOf(several, "method: cox\nadjust: [volume_change_pct]\nlandmark: 60d"), calmCox},
		{"models", "extrapolation", askOf(outlier(4), "method: cox\nadjust: [thing]\ncontrasts: [{thing: [40, 1]}]"),
			askOf(outlier(4), "method: cox\nadjust: [thing]\ncontrasts: [{thing: [3, 1]}]")},
		{"models", "small-group", askOf(bare, cox+"adjusted: true"), askOf(calmLives(), cox+"adjusted: true")},
		{"models", "beyond-follow-up", askOf(calmLives(), cox+"adjusted: true\ntimes: [9000d]"), askOf(calmLives(), cox+"adjusted: true\ntimes: [60d]")},
		// Two rooms cannot carry a joint test of three columns.
		{"models", "curve-not-tested", askOf(rooms(), "method: cox\nadjust: [worn]\nspline: {worn: 4}\ncluster: room"), askOf(rooms(), "method: cox\nadjust: [worn]\nspline: {worn: 4}")},
	}
}

// pairedNumbers is outlier with a second number: twice the first, or, but for the
// first socket, something else.
func pairedNumbers(far int, exact bool) sheets {
	return outlier(far).lines("sockets", func(i int, l string) string {
		fields := strings.Split(l, ",")
		var thing int
		fmt.Sscan(fields[len(fields)-1], &thing)
		switch {
		case i < 0:
			return l + ",other"
		case exact:
			return l + fmt.Sprintf(",%d", 2*thing+1)
		case i == 0:
			return l + fmt.Sprintf(",%d", 8*far)
		}
		return l + fmt.Sprintf(",%d", 20+i*i%37)
	})
}

// loneThing is a lab in which one person alone has a thing of its kind, so
// that samples of persons often lack it.
func loneThing() sheets {
	found := false
	return watchLog(watchOptions{persons: 260}).lines("sockets", func(i int, l string) string {
		if i > 20 && !found && strings.Contains(l, "remake") {
			found = true
			l = l[:strings.LastIndex(l, ",")] + ",c"
		}
		return l
	})
}

func planCautionPairs() []raised {
	plan := "method: sample-size\nratios: [0.2]\npower: 0.8\nuntil: 150d"
	both := append(twenty(), "1 90+", "2 95+")
	age := "method: sample-size\nplan: cox\nby: age\nratios: 1.05\npower: 0.8\nuntil: 150d"
	unborn := worn(twenty()...)
	unborn = unborn.with("limbs", strings.Replace(unborn["limbs"], "transtibial,1953", "transtibial,", 1))
	calm := askOf(watchLog(watchOptions{persons: 260}), watchAsk)
	weak := askOf(watchLog(watchOptions{persons: 260, weak: true}), watchAsk)
	const linear = "method: linear\nrows: sockets\noutcome: other\nadjust: [thing]\ndiagnostics: yes"
	calmLine := askOf(pairedNumbers(4, false), linear)
	return []raised{
		{"linear", "exact-fit", askOf(pairedNumbers(4, true), linear), calmLine},
		{"linear", "influence", askOf(pairedNumbers(60, false), linear), calmLine},
		{"linear", "rows-hidden", askPublic(pairedNumbers(4, false), linear), calmLine},

		{"sample-size", "missing", askOf(unborn, age), askOf(worn(twenty()...), age)},
		{"sample-size", "few-events", askOf(worn(twenty()[8:]...), planOne+"until: 200d"), askOf(worn(twenty()...), plan)},
		{"sample-size", "not-clustered", askOf(worn(both...), planOne+"until: 150d"), askOf(worn(both...), planOne+"until: 150d\nwithin_person: 0.1")},
		{"sample-size", "few-planned", askOf(worn(twenty()...), plan), askOf(worn(twenty()...), planOne+"until: 150d")},
		{"sample-size", "long", askIn(worn(twenty()...), "to: 2024-12-31", planOne+"until: 150d"), askOf(worn(twenty()...), plan)},

		{"watch", "watch-list", calm, askOf(calmLives(), "method: kaplan-meier")},
		{"watch", "missing", askOf(watchLog(watchOptions{persons: 260, unseen: 3, noValue: 4}), watchAsk), calm},
		{"watch", "sockets-hidden", askPublic(watchLog(watchOptions{persons: 400}), watchAsk), calm},
		{"watch", "few-events", askOf(watchLog(watchOptions{persons: 90}), watchAsk), calm},
		{"watch", "overfitted", weak, calm},
		{"watch", "no-better", weak, calm},
		{"watch", "none-ranked", askOf(watchLog(watchOptions{persons: 260, noValue: 1000}), watchAsk), calm},
		{"watch", "samples-failed", askOf(loneThing(), watchAsk+"\nadjust: [thing]"), calm},
		{"watch", "no-curve", askOf(watchLog(watchOptions{persons: 260, weak: true}), "method: watch\nahead: 180d\nevery: 1000d\nresamples: 100\nadjust: [thing]"), calm},
		{"watch", "old-values", askOf(watchLog(watchOptions{persons: 260, stale: true}), watchAsk), calm},
		{"watch", "skin-now", askOf(watchLog(watchOptions{persons: 260, blister: 1}), watchAsk), askOf(watchLog(watchOptions{persons: 260, blister: 2}), watchAsk)},
	}
}
