package batch

import "plybook/reports/notebook"

// The lists below are in our own words. Numbers and order are from memory of
// the published lists, and the report says so.

// strobe are the items for cohort studies. von Elm E, Altman DG, Egger M, et
// al. The Strengthening the Reporting of Observational Studies in Epidemiology
// (STROBE) statement. Lancet 2007; 370: 1453-1457.
func strobe() guide {
	data, defined, listed, methods := section("data-used", "data used"), section("definitions", "definitions"), section("analyses", "all analyses"), section("methods", "methods")
	imputed := askedWhere(func(a *notebook.Ask) bool { return a.Missing == "impute" })
	subgroups := askedWhere(func(a *notebook.Ask) bool { return len(a.Interact) > 0 })
	return guide{"Items of STROBE for cohort studies",
		"von Elm E, Altman DG, Egger M, et al. Lancet 2007; 370: 1453-1457.", []guideItem{
			{"1a", "the design, named in title or abstract", []evidence{titled("cohort"), written("design")}, "say it in the abstract too"},
			{"1b", "a balanced abstract", []evidence{written("abstract")}, "its balance"},
			{"2", "background and reasons", []evidence{written("background", "rationale", "why")}, "what is known already"},
			{"3", "aims and hypotheses", []evidence{written("aim", "objective", "hypothes", "registered")}, "which were stated beforehand"},
			{"4", "the design, early on", []evidence{written("design")}, ""},
			{"5", "setting, places and dates", []evidence{dated, written("setting")}, "place and kind of lab; how people come to it"},
			{"6a", "who was eligible, how chosen, how followed", []evidence{answeredBy("flow"), answeredBy("follow-up"), defined}, "why these were chosen"},
			{"6b", "matching, if any", []evidence{written("match")}, "say so if there was none"},
			{"7", "outcomes, exposures, confounders defined", []evidence{defined, written("definition", "outcome", "endpoint", "exposure")}, "why these are the confounders"},
			{"8", "sources and measurement of each variable", []evidence{data, answeredBy("agreement")}, "how and by whom it was measured"},
			{"9", "what was done about bias", []evidence{written("bias"), answeredBy("follow-up")}, "which biases are likely, which way"},
			{"10", "how the size came about", []evidence{answeredBy("sample-size"), written("study size", "sample size")}, ""},
			{"11", "how numbers were used and grouped", []evidence{methods}, "why groups were cut where they were"},
			{"12a", "methods of analysis, confounders among them", []evidence{methods}, ""},
			{"12b", "subgroups and interactions", []evidence{subgroups}, "which were planned"},
			{"12c", "missing values, how dealt with", []evidence{imputed, data}, "why values are missing"},
			{"12d", "loss to follow-up, how dealt with", []evidence{answeredBy("follow-up"), answeredBy("cumulative-incidence", "fine-gray")}, ""},
			{"12e", "sensitivity analyses", []evidence{written("sensitivity"), imputed}, "why these"},
			{"13a", "numbers at each stage", []evidence{answeredBy("flow")}, "those before the log: approached, agreed"},
			{"13b", "reasons at each stage", []evidence{answeredBy("flow")}, ""},
			{"13c", "a diagram of the flow", []evidence{answeredBy("flow")}, ""},
			{"14a", "who they were, by exposure", []evidence{answeredBy("summary")}, ""},
			{"14b", "values missing, by variable", []evidence{answeredBy("summary", "completeness")}, ""},
			{"14c", "length of follow-up", []evidence{answeredBy("follow-up", "kaplan-meier")}, ""},
			{"15", "events, or results over time", []evidence{answeredBy(lifetimes...)}, ""},
			{"16a", "crude and adjusted estimates with intervals", []evidence{askedWhere(isCrude), askedWhere(isAdjusted)}, "why these confounders"},
			{"16b", "bounds of grouped numbers", []evidence{defined}, "those cut outside the notebook"},
			{"16c", "absolute risks beside relative ones", []evidence{answeredBy("kaplan-meier", "cumulative-incidence")}, "over what period matters"},
			{"17", "other analyses", []evidence{subgroups, written("sensitivity"), listed}, ""},
			{"18", "key results against the aims", []evidence{written("key result", "summary of", "main result")}, ""},
			{"19", "limitations", []evidence{written("limit")}, "size and way of each bias"},
			{"20", "interpretation", []evidence{written("interpretation", "discussion")}, "with what others found"},
			{"21", "how far it holds elsewhere", []evidence{written("generali", "elsewhere")}, ""},
			{"22", "funding and the part of funders", []evidence{written("funding", "funded")}, ""},
		}}
}

// record are the items that routine data add. Benchimol EI, Smeeth L, Guttmann
// A, et al. The REporting of studies Conducted using Observational
// Routinely-collected health Data (RECORD) statement. PLoS Med 2015; 12:
// e1001885.
func record() guide {
	data, defined := section("data-used", "data used"), section("definitions", "definitions")
	return guide{"Items that RECORD adds for routine data",
		"Benchimol EI, Smeeth L, Guttmann A, et al. PLoS Med 2015; 12: e1001885.", []guideItem{
			{"1.1", "kind and name of the data, in title or abstract", []evidence{titled("log", "register", "registry", "records"), written("data source", "source of data")}, "its name"},
			{"1.2", "place and years, in title or abstract", []evidence{dated}, "the place; both in the abstract"},
			{"1.3", "linkage, in title or abstract", []evidence{written("linkage", "linked")}, "say so if nothing was linked"},
			{"6.1", "how people were found in the data, by which codes", []evidence{answeredBy("flow"), defined}, ""},
			{"6.2", "studies that validated the codes", []evidence{written("validat")}, "say so if there are none"},
			{"6.3", "a diagram of linkage", []evidence{written("linkage", "linked")}, "say so if nothing was linked"},
			{"7.1", "all codes for exposures, outcomes, confounders", []evidence{defined}, "codes of data from outside the log"},
			{"12.1", "how far the authors had access to the data", []evidence{written("access")}, ""},
			{"12.2", "how the data were cleaned", []evidence{data, section("set-aside", "set aside")}, "what was corrected before"},
			{"12.3", "how data were linked, and how well", []evidence{written("linkage", "linked")}, "say so if nothing was linked"},
			{"13.1", "who was chosen, by quality, availability, linkage", []evidence{answeredBy("flow")}, ""},
			{"19.1", "what follows from data not made for research", []evidence{written("limit")}, "wrong codes, missing values, rules that changed"},
			{"22.1", "where to find protocol, raw data, code", []evidence{written("protocol", "availab")}, "`plybook export` writes a data set without names"},
		}}
}

// squire are the items for reports of improvement. Ogrinc G, Davies L, Goodman
// D, et al. SQUIRE 2.0 (Standards for QUality Improvement Reporting
// Excellence). BMJ Qual Saf 2016; 25: 986-992.
func squire() guide {
	charts := answeredBy("control-chart", "cumulative-sum", "segmented")
	return guide{"Items of SQUIRE 2.0 for work on quality",
		"Ogrinc G, Davies L, Goodman D, et al. BMJ Qual Saf 2016; 25: 986-992.", []guideItem{
			{"1", "improvement, named in the title", []evidence{titled("improv", "quality")}, ""},
			{"2", "an abstract", []evidence{written("abstract")}, ""},
			{"3", "the problem and how large it is", []evidence{written("problem"), answeredBy("pareto")}, "why it matters"},
			{"4", "what is known about it", []evidence{written("known", "background")}, ""},
			{"5", "why the change was expected to work", []evidence{written("rationale", "why")}, ""},
			{"6", "aims", []evidence{written("aim")}, ""},
			{"7", "the setting that mattered", []evidence{written("context", "setting")}, ""},
			{"8", "what was changed, and by whom", []evidence{decisionsTold, written("change", "intervention")}, "enough to do it again"},
			{"9", "how one would know that the change did it", []evidence{answeredBy("segmented"), written("study of")}, "what else changed"},
			{"10", "measures, their definitions and completeness", []evidence{section("definitions", "definitions"), answeredBy("completeness"), written("measure", "definition")}, "why these; which of them balance"},
			{"11", "analysis, variation over time included", []evidence{charts, section("methods", "methods")}, ""},
			{"12", "ethics and interests", []evidence{written("ethic")}, ""},
			{"13", "results: what became of change and measures", []evidence{charts, decisionsTold}, "what was not intended; values missing"},
			{"14", "summary against the aims", []evidence{written("summary")}, ""},
			{"15", "interpretation", []evidence{written("interpretation", "discussion")}, ""},
			{"16", "limitations", []evidence{written("limit")}, ""},
			{"17", "conclusions and next steps", []evidence{written("conclusion", "next")}, "whether it will last"},
			{"18", "funding", []evidence{written("funding", "funded")}, ""},
		}}
}
